"""What leaves the program for the workshop: the device as STL, and its build sheet."""

from .folder import make

__all__ = ["make"]
