"""The scene of a solved whole foot; see :class:`~fefoot.outcome.scene.Scene`."""

from __future__ import annotations

import numpy as np

from ..foot.bone_surface import bone_surfaces
from ..foot.morph import morph
from ..mechanics.mesh import boundary_facets
from .scene import Scene, flat_triangles, renumbered
from .sole3d import Sole3d


def scene3d(solved, under: Sole3d) -> Scene:
    """Return the surfaces and cables of a solved model in their loaded place."""
    model, solution = solved.model, solved.solution
    x, state = solution.state.x, solution.state
    bodies = {name: (state.centre[n], state.turn[n], model.system.coordinates.centres[n])
              for name, n in model.bodies.items()}
    given = solution.load.tensions()
    cables = {c.name: (x[list(c.nodes)], float(c.tension(x) + given.get(c.name, 0.0)))
              for c in model.system.cables}
    vertices = next(c.vertices for c in model.system.contacts if c.name.startswith("foot"))
    pressure = np.zeros(len(x))
    pressure[vertices] = under.patch_pressure_kPa()
    return scene(model.mesh, x, model.system.coordinates.points, pressure, model.structure.bodies,
                 bodies, cables, model.question.dimensions, float(state.centre[model.ground, 1]))


def scene(mesh, x, rest, pressure_kPa, parts, places, cables, dimensions, ground_y_mm) -> Scene:
    """Put a scene together.

    Parameters
    ----------
    mesh : Mesh
        Foot, then device; facets ``skin`` and ``plantar``.
    x, rest : (n, 3) arrays
        Loaded and unloaded place of the nodes, mm.
    pressure_kPa : (n,) array
    parts : sequence of Body
    places : dict of body name -> (centre (3,), turn (3, 3), unloaded centre (3,))
    cables : dict of cable name -> ((p, 3) array, tension in N)
    dimensions : Dimensions
    ground_y_mm : float
    """
    sole = mesh.facets["plantar"]
    upper = mesh.facets["skin"][~_among(mesh.facets["skin"], sole)]
    skin, (sole, upper) = renumbered(flat_triangles(sole), flat_triangles(upper))
    device = np.array([name.startswith("device:") for name in mesh.region_names])[mesh.region]
    if device.any():
        pad, (pad_triangles,) = renumbered(flat_triangles(boundary_facets(mesh.cells[device])[0]))
    else:
        pad, pad_triangles = np.zeros(0, int), np.zeros((0, 3), np.int32)
    bones, bone_triangles = _bones(parts, places, dimensions)
    return Scene(
        _single(x[skin]), sole, upper, _single(pressure_kPa[skin]), _single(rest[skin][:, [0, 2]]),
        bones, bone_triangles, _single(x[pad]), pad_triangles,
        {name: (_single(path), tension) for name, (path, tension) in cables.items()}, ground_y_mm)


def _among(facets: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Return which facets (k,) have the corners of one of the others."""
    known = {tuple(row) for row in np.sort(others[:, :3]).tolist()}
    return np.array([tuple(row) in known for row in np.sort(facets[:, :3]).tolist()], bool)


def _bones(parts, places, dimensions) -> tuple[np.ndarray, np.ndarray]:
    points, triangles, first = [], [], 0
    for body in parts:
        centre, turn, was = places[body.name]
        for bone in body.bones:
            own, cells = bone_surfaces()[bone]
            points.append(centre + (morph(own, dimensions) - was) @ turn.T)
            triangles.append(cells + first)
            first += len(own)
    return _single(np.concatenate(points)), np.concatenate(triangles).astype(np.int32)


def _single(values) -> np.ndarray:
    return np.ascontiguousarray(values, np.float32)
