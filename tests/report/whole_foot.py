"""An invented outcome of the whole foot on the committed coarse mesh: nothing is solved."""

from __future__ import annotations

import functools

import numpy as np
from report_cases import a_case, several, some_checks, some_measures

from fefoot.device.mesh3d import device_mesh, top_above_mm
from fefoot.foot.landmarks import landmarks
from fefoot.foot.mesh3d import morphed3d, reference_mesh
from fefoot.foot.structure3d import structure3d
from fefoot.mechanics.mesh import joined
from fefoot.outcome.comparison import compare_outcomes
from fefoot.outcome.picture3d import largest_across
from fefoot.outcome.scene3d import scene
from fefoot.outcome.values import Outcome, Picture

PRESSED_MM, kPa_PER_MM = 4.0, 60.0


@functools.cache
def whole_foot(devices=2, title="Sore second metatarsal head", **top):
    """The case and comparison of the bare foot and some devices."""
    case = a_case("foot3d", "plantar_fascia", several(devices), title=title, **top)
    names = [("barefoot", "no device"), *((d.name, d.title) for d in case.devices)]
    outcomes = tuple(
        Outcome(name, title, 77.0, None, some_measures(case, (1.0, 0.93, 0.81, 1.04)[i % 4]),
                some_checks(), {"seconds": 100.0}, (), a_print(case, i))
        for i, (name, title) in enumerate(names))
    return case, compare_outcomes(outcomes, case.target)


def a_print(case, number):
    """The foot pressed flat on the ground or a device, pressures by how far it was pressed."""
    dimensions, marks = case.person.dimensions(), landmarks(case.person.dimensions())
    foot = morphed3d(reference_mesh("coarse"), dimensions)
    parts, top = [foot], np.zeros(len(foot.points))
    if number:
        device = case.devices[number - 1]
        parts.append(device_mesh(device, marks, 9.0))
        top = np.asarray(top_above_mm(device, marks, foot.points[:, 0], foot.points[:, 2]))
    mesh, _ = joined(*parts)
    x, count = mesh.points.copy(), len(foot.points)
    sole = np.unique(foot.facets["plantar"])
    up = float((top - foot.points[:, 1])[sole].max()) - PRESSED_MM
    x[:count, 1] += up
    depth = np.zeros(len(x))
    depth[sole] = np.maximum(top[sole] - x[sole, 1], 0.0)
    x[sole, 1] += depth[sole]
    frame = structure3d(dimensions)
    rise = np.array([0.0, up, 0.0])
    places = {b.name: (np.array(b.centre_mm) + rise, np.eye(3), np.array(b.centre_mm))
              for b in frame.bodies}
    cables = {c.name: (np.array([p for _, p in c.path]) + rise, 90.0 * (i % 5))
              for i, c in enumerate(frame.cords)}
    pressure = kPa_PER_MM * depth
    at = scene(mesh, x, mesh.points, pressure, frame.bodies, places, cables, dimensions, 0.0)
    plan, facets = np.unique(foot.facets["plantar"], return_inverse=True)
    line = largest_across(x[plan, 0], pressure[plan])
    return Picture(x[plan][:, [0, 2]], facets.reshape(-1, 6), np.zeros(len(facets), bool),
                   pressure[plan], {},
                   {"spring_ligament": (np.array([[60., -20.], [110., -25.]]), 90.)},
                   {"foot": line}, 0.0, 120.0, "print", at)
