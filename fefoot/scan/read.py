"""Read the triangles of a scan file, or say in one message why it cannot be used."""

from __future__ import annotations

import io
import logging
import warnings
from pathlib import Path

import numpy as np

from ..device.facets import Facets
from ..errors import InputError

FORMATS = ("stl", "ply", "obj")
LARGEST_BYTES = 300_000_000
MOST_TRIANGLES = 1_000_000
FEWEST_TRIANGLES = 200
SAME_POINT = 1e-6
"""Share of the scan's extent below which two points are one: below a thousandth of a millimetre."""
_STL_HEAD, _STL_RECORD = 84, 50


def read_facets(path: Path) -> Facets:
    """Return the triangles of an STL, PLY or OBJ file, equal points joined, in the file's unit.

    Raises
    ------
    InputError
        For a file that is missing, too large, cut off, no mesh, or holds points that are no numbers.
    """
    file, kind = str(path), path.suffix.lower().lstrip(".")
    if kind not in FORMATS:
        raise InputError("this is no scan file", file=file, key="scan.file", value=path.suffix,
                         allowed=".stl, .ply or .obj", hint="export the scan in one of these formats")
    data = _bytes(path, file)
    if kind == "stl":
        _refuse_short_stl(data, file)
    points, triangles = _loaded(data, kind, file)
    if len(triangles) > MOST_TRIANGLES:
        raise InputError("the scan has too many triangles", file=file, key="scan.file",
                         value=len(triangles), allowed=f"up to {MOST_TRIANGLES}",
                         hint="decimate it; half a million triangles resolve a foot to 0.5 mm")
    used = points[triangles]
    bad = int((~np.isfinite(used).all(axis=(1, 2))).sum())
    if bad:
        raise InputError(f"{bad} triangles of the scan have points that are no numbers", file=file,
                         key="scan.file", allowed="finite coordinates",
                         hint="repair the mesh and export it again")
    unique, number = _joined(used.reshape(-1, 3))
    number = number.reshape(-1, 3)
    distinct = (number[:, 0] != number[:, 1]) & (number[:, 1] != number[:, 2]) & (
        number[:, 2] != number[:, 0])
    number = number[distinct]
    if len(number) < FEWEST_TRIANGLES:
        raise InputError("the scan is empty or hardly a surface", file=file, key="scan.file",
                         value=len(number), allowed=f"at least {FEWEST_TRIANGLES} triangles",
                         hint="export the scan as triangles, not as points alone")
    return Facets(unique, number)


def _joined(points) -> tuple[np.ndarray, np.ndarray]:
    """Join points (n, 3) that are equal to `SAME_POINT` of their extent; which is which (n,)."""
    if not len(points):
        return points, np.zeros(0, int)
    low = points.min(axis=0)
    step = SAME_POINT * max(float(np.ptp(points, axis=0).max()), 1e-300)
    cell = np.rint((points - low) / step).astype(np.int64)
    key = (cell[:, 0] << 42) | (cell[:, 1] << 21) | cell[:, 2]
    _, first, number = np.unique(key, return_index=True, return_inverse=True)
    return points[first], number


def _bytes(path: Path, file: str) -> bytes:
    """Return what a file holds, after checking that it can be read and is not too large."""
    try:
        if path.is_dir() or (path.exists() and not path.is_file()):
            raise InputError("this is not a plain file", file=file, key="scan.file",
                             hint="give the path of the scan")
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise InputError("the scan file is too large", file=file, key="scan.file",
                             value=f"{size / 1e6:.0f} MB",
                             allowed=f"up to {LARGEST_BYTES / 1e6:.0f} MB",
                             hint="decimate the scan, or export it as binary STL or PLY")
        if size == 0:
            raise InputError("the scan file is empty", file=file, key="scan.file",
                             hint="export the scan again")
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError("there is no such scan file", file=file, key="scan.file",
                         hint="check the path; it starts from the folder of the case file") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"the scan file cannot be read ({reason})", file=file,
                         key="scan.file") from None


def _refuse_short_stl(data: bytes, file: str) -> None:
    """Refuse a binary STL file whose length does not fit the number of triangles in its head."""
    if data[:5].lower() == b"solid" and b"facet" in data[:1000].lower():
        if b"endsolid" not in data[-1000:].lower():
            raise _cut_off(file, "its last line, endsolid, is missing")
        return
    count = int.from_bytes(data[80:84], "little") if len(data) >= _STL_HEAD else 0
    held = (len(data) - _STL_HEAD) // _STL_RECORD
    if len(data) < _STL_HEAD or count > held:
        raise _cut_off(file, f"{max(held, 0)} triangles of the {count} it announces"
                       if count else "not even its head is complete")


def _cut_off(file: str, what: str) -> InputError:
    return InputError(f"the scan file is cut off, or it is no STL file: {what}", file=file,
                      key="scan.file", allowed="a complete STL, PLY or OBJ file",
                      hint="copy or export the scan again")


def _loaded(data: bytes, kind: str, file: str) -> tuple[np.ndarray, np.ndarray]:
    import trimesh

    logging.getLogger("trimesh").setLevel(logging.CRITICAL)
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            mesh = trimesh.load(io.BytesIO(data), file_type=kind, force="mesh", process=False)
            points = np.asarray(mesh.vertices, float).reshape(-1, 3)
            triangles = np.asarray(mesh.faces, np.int64).reshape(-1, 3)
            if len(triangles) and not 0 <= triangles.min() <= triangles.max() < len(points):
                raise ValueError("a triangle names a point that is not there")
    except MemoryError:
        raise InputError("the scan does not fit into memory", file=file, key="scan.file",
                         hint="decimate the scan") from None
    except Exception as error:
        reason = " ".join(str(error).split())[:120]
        raise InputError(f"this is no {kind.upper()} mesh, or it is damaged or cut off ({reason})",
                         file=file, key="scan.file", allowed="a complete STL, PLY or OBJ file",
                         hint="export the scan again") from None
    return points, triangles
