"""Section meshes of the reference foot, built once per process and size."""

from __future__ import annotations

import functools

from ..mechanics.mesh import Mesh
from .mesh2d import section_mesh


@functools.cache
def reference_mesh(section: str, size_mm: float, fascia: bool) -> Mesh:
    """Return the reference section mesh; persons share its numbering through the morph."""
    return section_mesh(section, size_mm, fascia)
