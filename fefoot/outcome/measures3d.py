"""Measures of every tissue of the whole foot; each is defined in ``quantities.py``."""

from __future__ import annotations

import math

import numpy as np

from ..foot.structure3d import STRANDS, strands
from ..load.stance3d import pressure_centre3d_mm
from . import pads
from .arch import navicular_drop_mm
from .forces import sole_forces_N
from .regions import HEADS, RAYS, TISSUE_OF, masks3d
from .shafts3d import shafts3d
from .sole3d import Sole3d, sole3d
from .values import Measure

NAVICULAR_TENDON = "tibialis_posterior"
PULL_APART = ("deep_transverse_ligament",)
"""Structures whose strands lie side by side in a row of joints: the most loaded one is reported."""
PADS = {"heel": ("heel_pad", "calcaneus", "heel_pad_mm"),
        "forefoot": ("metatarsal_pad", "metatarsal_2", "metatarsal_pad_mm"),
        **{region: (tissue, f"metatarsal_{ray}", "metatarsal_pad_mm")
           for ray, (region, tissue) in zip(RAYS, HEADS.items(), strict=True)}}
REACH_MM = 8.0


def measures3d(solved) -> tuple[Measure, ...]:
    """Return every measure of a solved model of the whole foot."""
    under = sole_of3d(solved)
    return (*_cables(solved), *_sole_pressures(solved, under), *_pads(solved, under),
            *_joints(solved), *shafts3d(solved), *_whole(solved, under))


def sole_of3d(solved) -> Sole3d:
    """Return the pressure over the sole."""
    from .measures import foot_contacts

    return sole3d(*foot_contacts(solved), solved.solution.state.x)


def _cables(solved):
    x, given = solved.solution.state.x, solved.solution.load.tensions()
    frame = solved.model.structure
    force, stretch = {}, {}
    for cable in solved.model.system.cables:
        force[cable.name] = float(cable.tension(x) + given.get(cable.name, 0.0))
        if cable.stiffness_N_per_mm:
            stretch[cable.name] = 100.0 * (cable.length_mm(x) / cable.slack_length_mm - 1.0)
    for name in (*force, *STRANDS):
        parts = [part for part in strands(frame, name) if part in force]
        if not parts or (name not in STRANDS and not _reported_alone(name)):
            continue
        several = [force[part] for part in parts]
        strength = [frame.cord(part).strength_N for part in parts]
        whole = None if None in strength or name in PULL_APART else sum(strength)
        yield Measure(name, "tension_N", max(several) if name in PULL_APART else sum(several),
                      whole, frame.cord(parts[0]).source if whole else "")
        if parts[0] in stretch:
            yield Measure(name, "stretch_percent", max(stretch[part] for part in parts))


def _reported_alone(name: str) -> bool:
    whole = name.rpartition("_")[0]
    return whole not in STRANDS or whole == "plantar_fascia"


def _sole_pressures(solved, under: Sole3d):
    model, total = solved.model, max(under.force_N.sum(), 1e-12)
    patch = under.patch_pressure_kPa()
    for region, inside in masks3d(under.rest, model.landmarks).items():
        tissue, loaded = (TISSUE_OF | HEADS)[region], inside & (under.force_N > 0)
        area = under.area_mm2[loaded].sum()
        yield Measure(tissue, "peak_pressure_kPa", float(patch[inside].max(initial=0.0)))
        yield Measure(tissue, "mean_pressure_kPa",
                      float(1e3 * under.force_N[loaded].sum() / area) if area else 0.0)
        yield Measure(tissue, "load_share_percent",
                      float(100.0 * under.force_N[inside].sum() / total))


def _pads(solved, under: Sole3d):
    model, x = solved.model, solved.solution.state.x
    solid = model.system.solids[model.solid_names.index("tissue")]
    place, dims = solid.where.reshape(-1, 3), model.question.dimensions
    regions = masks3d(place, model.landmarks)
    for region, (tissue, bone, depth) in PADS.items():
        pad = regions[region] & (place[:, 1] < getattr(dims, depth) + pads.REACH_MM)
        yield pads.energy_density(solid, x, pad, tissue)
        nodes = model.mesh.nodes[f"bone:{bone}"]
        rest = model.system.coordinates.points
        lowest = int(nodes[np.argmin(rest[nodes, 1])])
        depths = [point[1] - _height(point, at) for point, at in (
            (x[lowest], under.place), (rest[lowest], under.rest))]
        yield Measure(tissue, "compression_percent", 100.0 * (1.0 - depths[0] / depths[1]))


def _height(point, sole) -> float:
    """Return the height of the sole (v, 3) under a point: mean by nearness within `REACH_MM`."""
    apart = np.linalg.norm((sole - point)[:, [0, 2]], axis=1)
    weight = np.maximum(1.0 - apart / REACH_MM, 0.0) * (sole[:, 1] < point[1])
    return float(weight @ sole[:, 1] / weight.sum())


def _joints(solved):
    model, state = solved.model, solved.solution.state
    forces = sole_forces_N(solved)
    for link in model.structure.links:
        spring, joint = (terms[i] for terms, i in zip(
            (model.system.springs, model.system.joints), model.links[link.name], strict=True))
        # inversion is positive at the subtalar joint of the structure, eversion in the report
        sign = -1.0 if link.name == "subtalar_joint" else 1.0
        if link.name in ("ankle_joint", "subtalar_joint"):
            axis = state.turn[joint.body_a] @ np.asarray(link.axes[0])
            turned = np.cross(state.x - state.x[spring.node_a], forces).sum(axis=0)
            yield Measure(link.name, "moment_Nm", sign * 1e-3 * float(axis @ turned))
        yield Measure(link.name, "force_N", float(np.linalg.norm(spring.force_N(state.x))))
        yield Measure(link.name, "rotation_degrees",
                      sign * math.degrees(float(joint.relative_rad(state)[0])))


def _whole(solved, under: Sole3d):
    model, state = solved.model, solved.solution.state
    at, _ = pressure_centre3d_mm(
        model.system, solved.solution.evaluation, model.ground_y_mm(solved))
    yield Measure("whole_foot", "pressure_centre_percent",
                  100.0 * float(at[0]) / model.question.dimensions.length_mm)
    yield Measure("whole_foot", "pressure_centre_mm", float(at[1]))
    rest, body = model.system.coordinates.centres, model.bodies["medial_midfoot"]
    tip = np.asarray(model.structure.cord(NAVICULAR_TENDON).path[-1][1])
    now = state.centre[body] + state.turn[body] @ (tip - rest[body])
    inside = masks3d(under.rest, model.landmarks)
    yield Measure("whole_foot", "navicular_drop_mm", navicular_drop_mm(
        under.rest, under.place, [inside[name] for name in ("heel", "head_1", "head_5")], tip, now))
