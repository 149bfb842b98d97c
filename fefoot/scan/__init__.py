"""A scan of a foot, a cast or a device: read, checked, put in place, measured, made a surface."""

from .values import ALIGNMENTS, KINDS, UNITS, Scan, ScanChoice

__all__ = ["ALIGNMENTS", "KINDS", "UNITS", "Scan", "ScanChoice"]
