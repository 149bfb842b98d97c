"""The report: pictures, one printable page, and the answer for the terminal."""

from .answer import Answer, answer
from .page import page
from .terminal import table

__all__ = ["Answer", "answer", "page", "table"]
