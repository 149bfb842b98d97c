"""Write a solid as binary STL in the axes of the bench, and read it back to check it.

A device lies on the bench: X heel to toe, Y from right to left (medial on a right foot, lateral on a
left one), Z up; mm, origin under the back of the heel on the middle line. In the axes of the model
that is (x, -z, y) for either foot.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..errors import MeshError
from .facets import Facets, faults, merged

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
HEAD_BYTES = 80


def to_bench(points_mm: np.ndarray) -> np.ndarray:
    """Return points (n, 3) of the model (x heel to toe, y up, z lateral) in bench axes, mm."""
    x, y, z = np.asarray(points_mm, float).T
    return np.column_stack([x, -z, y])


def from_bench(points_mm: np.ndarray) -> np.ndarray:
    """Return points (n, 3) in bench axes as points of the model, mm."""
    x, y, z = np.asarray(points_mm, float).T
    return np.column_stack([x, z, -y])


def write_stl(path: Path, facets: Facets, words: str) -> None:
    """Write a solid, and check the file as it stands: single precision can merge points.

    Parameters
    ----------
    path : Path
    facets : Facets
        In the axes of the model.
    words : str
        What it is, for the head of the file; cut to 80 bytes, plain letters.

    Raises
    ------
    MeshError
        When the solid in the file is not watertight.
    """
    corners = to_bench(facets.points_mm)[facets.triangles].astype("<f4")
    records = np.zeros(len(corners), _RECORD)
    records["corners"] = corners
    a, b, c = (corners[:, k].astype(float) for k in range(3))
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1, keepdims=True)
    records["normal"] = normal / np.where(size > 0.0, size, 1.0)
    head = words.encode("ascii", "replace")[:HEAD_BYTES].ljust(HEAD_BYTES)
    path.write_bytes(head + np.uint32(len(records)).tobytes() + records.tobytes())
    wrong = faults(written(path))
    if wrong:
        raise MeshError(f"{path.name} is not watertight: {', '.join(wrong)}")


def written(path: Path) -> Facets:
    """Return the solid in a binary STL file of `write_stl`, in bench axes, mm."""
    data = path.read_bytes()
    records = np.frombuffer(data, _RECORD, offset=HEAD_BYTES + 4)
    return merged(records["corners"].astype(float))
