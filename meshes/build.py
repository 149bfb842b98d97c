"""Build the reference meshes of the foot from its signed distances.

    python -m meshes.build [coarse] [middle] [default]

Run it after any change of ``fefoot/foot/anatomy.toml``. It takes a few minutes per size and needs one
build-time tool that the package itself does not: ``pip install mmgpy`` (surface remeshing).

Steps: isosurfaces of skin and hole; surface remeshing with a size field; projection back onto the
surfaces; a flat cap on the shank; tetrahedra between the surfaces; smoothing by the mean ratio, with
the surface nodes sliding; mid-side nodes, put on the surfaces where the element stays sound.
"""

# ruff: noqa: T201
from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from fefoot.errors import MeshError
from fefoot.foot.mesh3d import SIZES, hole_distance, tagged, tetra_quality

from .smooth import curved, smoothed
from .surface import capped, edge_length_mm, isosurface, onto, outward, remesh, skin_field, to_next_bone

SIZE_MM = {"coarse": 10.8, "middle": 7.4, "default": 5.2}
PLANTAR = {"coarse": 0.66, "middle": 0.72, "default": 0.78}
DEEP, DORSAL = 0.95, 1.35
"""Edge length at the sole, at the bones away from it and at the dorsal skin, in parts of the size."""
LARGEST_SAG_MM = {"coarse": 2.0, "middle": 1.6, "default": 1.2}
LOWEST_QUALITY, USUAL_QUALITY = 0.15, 0.5
FINER = 1.0, 0.98, 0.96, 0.94
"""Factors on the size, tried until a mesh has that quality."""


def tetrahedra(skin, hole, gmsh) -> tuple[np.ndarray, np.ndarray]:
    """Fill the space between two closed surfaces (points, triangles)."""
    gmsh.model.add("foot")
    first, loops = 1, []
    for tag, (points, triangles) in enumerate((skin, hole), start=1):
        gmsh.model.addDiscreteEntity(2, tag)
        ids = np.arange(first, first + len(points))
        gmsh.model.mesh.addNodes(2, tag, ids, points.ravel())
        gmsh.model.mesh.addElementsByType(tag, 2, [], (triangles + first).ravel())
        loops.append(gmsh.model.geo.addSurfaceLoop([tag]))
        first += len(points)
    gmsh.model.geo.addVolume(loops, 1)
    gmsh.model.geo.synchronize()
    gmsh.model.mesh.generate(3)
    gmsh.model.mesh.optimize("", niter=3)
    node, xyz, _ = gmsh.model.mesh.getNodes()
    cells = gmsh.model.mesh.getElementsByType(4)[1].reshape(-1, 4).astype(int)
    gmsh.model.remove()
    row = np.empty(int(node.max()) + 1, int)
    row[node.astype(int)] = np.arange(len(node))
    used, inverse = np.unique(row[cells], return_inverse=True)
    return xyz.reshape(-1, 3)[used], inverse.reshape(-1, 4)


def build(size: str, finer: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Return points (n, 3) and cells (m, 10) of a reference mesh, its elements smaller by a factor."""
    import gmsh

    size_mm = SIZE_MM[size] * finer
    gmsh.initialize(interruptible=False, readConfigFiles=False)
    try:
        for option, value in (("General.Terminal", 0), ("General.NumThreads", 1),
                              ("Mesh.Algorithm3D", 1), ("Mesh.RandomSeed", 1),
                              ("Mesh.MeshSizeExtendFromBoundary", 1), ("Mesh.Optimize", 1)):
            gmsh.option.setNumber(option, value)
        surfaces = []
        for field, other, far in ((skin_field, hole_distance, DORSAL),
                                  (hole_distance, to_next_bone, DEEP)):
            points, triangles = isosurface(field)
            wanted = edge_length_mm(points, other, size_mm, PLANTAR[size], far)
            points, triangles = remesh(points, triangles, wanted, LARGEST_SAG_MM[size])
            triangles = outward(field, points, triangles)
            points = onto(field, points, triangles)
            surfaces.append((points, triangles))
            print(f"  surface: {len(points)} points, {len(triangles)} triangles", flush=True)
        surfaces[0] = capped(*surfaces[0], gmsh)
        points, cells = tetrahedra(*surfaces, gmsh)
    finally:
        gmsh.finalize()
    print(f"  {len(cells)} tetrahedra; smoothing", flush=True)
    legs = points[cells[:, 1:]] - points[cells[:, :1]]
    flip = np.linalg.det(legs) < 0
    cells[flip] = cells[flip][:, [0, 2, 1, 3]]
    return curved(smoothed(points, cells), cells)


def main(sizes: list[str]) -> None:
    """Build the named sizes (all without names) and write them beside this script.

    Where the elements do not come out well, somewhat smaller ones are tried.
    """
    for size in sizes or SIZES:
        for finer in FINER:
            start = time.perf_counter()
            print(f"{size}, elements times {finer:g}", flush=True)
            points, cells = build(size, finer)
            quality = tetra_quality(points, cells)
            mesh = tagged(points, cells)
            print(f"  {len(cells)} cells, {len(points)} nodes, "
                  f"{len(mesh.facets['plantar'])} plantar facets, "
                  f"scaled Jacobian min {quality.min():.3f} median {np.median(quality):.3f}, "
                  f"{time.perf_counter() - start:.0f} s", flush=True)
            if quality.min() >= LOWEST_QUALITY and np.median(quality) >= USUAL_QUALITY:
                break
        else:
            raise MeshError(f"no {size} mesh is good enough: change SIZE_MM a little")
        path = Path(__file__).parent / f"foot3d_{size}.npz"
        np.savez_compressed(path, points=points, cells=cells.astype(np.int32))
        print(f"  wrote {path.name}, {path.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main(sys.argv[1:])
