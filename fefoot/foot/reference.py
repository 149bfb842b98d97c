"""Section meshes of the reference foot: read from ``meshes/``, or built once per process and size."""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np

from ..mechanics.mesh import Mesh
from .mesh2d import section_mesh

PACKAGE = Path(__file__).parents[1]
COMMITTED_MM = 4.0
"""Element size of the committed meshes, the default of a case."""


@functools.cache
def reference_mesh(section: str, size_mm: float, fascia: bool) -> Mesh:
    """Return the reference section mesh; persons share its numbering through the morph.

    Parameters
    ----------
    section : {"sagittal", "rearfoot"}
    size_mm, fascia
        See `fefoot.foot.mesh2d.section_mesh`. The size `COMMITTED_MM` without fascia is read, which
        spares a second and a half; the file holds what the mesher gives, to the last bit.

    Raises
    ------
    MeshError
        From meshing.
    """
    file = section_file(section)
    if fascia or size_mm != COMMITTED_MM or not file.is_file():
        return section_mesh(section, size_mm, fascia)
    return read_section(file)


def mesh_folder() -> Path:
    """Return where committed meshes lie: inside an installed package, or beside it in a checkout."""
    inside = PACKAGE / "meshes"
    return inside if inside.is_dir() else PACKAGE.parent / "meshes"


def section_file(section: str) -> Path:
    """Return the file of a committed section mesh."""
    return mesh_folder() / f"{section}_{COMMITTED_MM:g}.npz"


def write_section(file: Path, mesh: Mesh, gmsh_version: str) -> None:
    """Write a section mesh, and which mesher made it."""
    sets = {f"{kind}/{name}": ids.astype(np.int32) for kind in ("facets", "nodes")
            for name, ids in getattr(mesh, kind).items()}
    np.savez_compressed(
        file, points=mesh.points, cells=mesh.cells.astype(np.int32), gmsh=gmsh_version,
        region=mesh.region.astype(np.int32), names=np.array(mesh.region_names), **sets)


def read_section(file: Path) -> Mesh:
    """Return the section mesh in a file."""
    with np.load(file, allow_pickle=False) as kept:
        sets = {kind: {key.split("/", 1)[1]: kept[key].astype(int) for key in kept.files
                       if key.startswith(f"{kind}/")} for kind in ("facets", "nodes")}
        return Mesh(kept["points"], kept["cells"].astype(int), kept["region"].astype(int),
                    tuple(map(str, kept["names"])), **sets)
