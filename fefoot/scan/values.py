"""What a case says about a scan, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ..device.facets import Facets
from ..device.grid import HeightGrid

KINDS = ("foot", "cast", "device")
UNITS = ("guess", "mm", "cm", "m", "inch")
ALIGNMENTS = ("automatic", "landmarks", "as_made")
PLACES = ("heel", "first_head", "fifth_head")
"""The three landmarks: under the heel's centre, the first and the fifth metatarsal head."""


@dataclass(frozen=True)
class ScanChoice:
    """A scan as the case names it.

    Attributes
    ----------
    file : str
        Its path from the case file's folder; takes no part in comparison.
    kind : {"foot", "cast", "device"}
        A cast is a positive one: the shape of the foot.
    unit : {"guess", "mm", "cm", "m", "inch"}
    align : {"automatic", "landmarks", "as_made"}
        ``as_made``: the file has the axes that `fefoot make` writes.
    landmarks : tuple of three triples of floats, or None
        `PLACES` in the file's own axes and unit.
    """

    file: str = field(compare=False)
    kind: str
    unit: str = "guess"
    align: str = "automatic"
    landmarks: tuple | None = None


@dataclass(frozen=True)
class Scan:
    """A scan in place: a right foot's axes, mm.

    Attributes
    ----------
    choice : ScanChoice
    facets : Facets
        The surface as it lies in the axes of the model.
    grid : HeightGrid
        The surface that a device starts from.
    measured : dict of str to float
        Dimensions of the person that the scan gives, by the names of ``[person]``.
    facts : tuple of str
        What was found, guessed and left out, one sentence each.
    landmarks_mm : (3, 3) array or None
        The landmarks in place.
    used : tuple of str
        Dimensions that the person has from the scan.
    """

    choice: ScanChoice
    facets: Facets = field(compare=False)
    grid: HeightGrid
    measured: dict[str, float] = field(compare=False)
    facts: tuple[str, ...] = field(compare=False)
    landmarks_mm: np.ndarray | None = field(default=None, compare=False)
    used: tuple[str, ...] = field(default=(), compare=False)
