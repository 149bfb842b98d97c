"""The report: pictures, one printable page, and the answer for the terminal."""

from .answer import Answer, answer
from .page import page
from .terminal import answer_text, table

__all__ = ["Answer", "answer", "answer_text", "page", "table"]
