"""Measures of every tissue from one solved model; each is defined in ``quantities.py``."""

from __future__ import annotations

import math

import numpy as np

from ..load.stance import pressure_centre_mm
from . import pads
from .arch import navicular_drop_mm
from .forces import moment_Nm, shaft_moment_Nm, sole_forces_N
from .regions import TISSUE_OF, masks
from .sole import Sole, sole
from .values import Measure

SHAFT_RADII_MM = (6.3, 4.3, 4.1, 4.1, 4.5)
HOLLOW = 0.6
"""Marrow radius over shaft radius (assumed)."""
BONE_STRENGTH_MPa = 133.0
BONE_SOURCE = "Reilly & Burstein 1975, J Biomech 8:393-405 (recalled): cortical bone in tension"
PAD_DEPTH_SHARE = 0.5


def measures(solved) -> tuple[Measure, ...]:
    """Return every measure of a solved model."""
    if solved.model.question.model == "foot3d":
        from .measures3d import measures3d

        return measures3d(solved)
    out = [*_cables(solved), *_sole_pressures(solved), *_pads(solved), *_joints(solved)]
    if solved.model.question.model == "sagittal":
        out.append(_shaft(solved))
    return (*out, *_whole(solved))


def sole_of(solved) -> Sole:
    """Return the pressure along the sole."""
    return sole(*foot_contacts(solved), solved.solution.state.x)


def foot_contacts(solved):
    """Return the contacts of the foot and their statuses."""
    pairs = [(c, s) for c, s in zip(
        solved.model.system.contacts, solved.solution.evaluation.status, strict=True)
        if c.name.startswith("foot")]
    return tuple(zip(*pairs, strict=True))


def _cables(solved):
    x, given = solved.solution.state.x, solved.solution.load.tensions()
    structure = solved.model.structure
    for cable in solved.model.system.cables:
        cord = structure.cord(cable.name)
        tension = cable.tension(x) + given.get(cable.name, 0.0)
        yield Measure(cable.name, "tension_N", float(tension), cord.strength_N,
                      cord.source if cord.strength_N else "")
        if cable.stiffness_N_per_mm:
            stretch = cable.length_mm(x) / cable.slack_length_mm - 1.0
            yield Measure(cable.name, "stretch_percent", 100.0 * stretch)
    if "fascia" in solved.model.solid_names:
        cord = structure.cord("plantar_fascia")
        yield Measure("plantar_fascia", "tension_N", fascia_tension_N(solved), cord.strength_N,
                      cord.source)


def fascia_tension_N(solved) -> float:
    """Return the tension of a meshed fascia: fibre force averaged over its middle half."""
    from ..foot.fascia import fascia_centre

    model = solved.model
    solid = model.system.solids[model.solid_names.index("fascia")]
    F = solid.deformation(solved.solution.state.x)
    fibre = solid.fibre[..., :2]
    stress, J, _ = solid.stress(solved.solution.state.x)
    inverse = np.linalg.inv(F)
    nominal = J[..., None, None] * np.einsum("mqij,mqjk->mqik", inverse, stress[..., :2, :2])
    along = np.einsum("mqij,mqj->mqi", F, fibre)
    along /= np.linalg.norm(along, axis=-1, keepdims=True)
    force = np.einsum("mqi,mqij,mqj->mq", fibre, nominal, along)
    line, _ = fascia_centre(model.question.dimensions)
    arc = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    low, high = np.interp([0.25 * arc[-1], 0.75 * arc[-1]], arc, line[:, 0])
    middle = (solid.where[..., 0] > low) & (solid.where[..., 0] < high)
    return float((force * solid.volume)[middle].sum() / (0.5 * arc[-1]))


def _sole_pressures(solved):
    model, line = solved.model, sole_of(solved)
    total = max(line.force_N.sum(), 1e-12)
    patch = line.patch_pressure_kPa()
    for region, inside in masks(
            model.question.model, line.rest, model.question.dimensions.length_mm).items():
        tissue, loaded = TISSUE_OF[region], inside & (line.force_N > 0)
        area = line.area_mm2[loaded].sum()
        yield Measure(tissue, "peak_pressure_kPa", float(patch[inside].max()))
        yield Measure(tissue, "mean_pressure_kPa",
                      float(1e3 * line.force_N[loaded].sum() / area) if area else 0.0)
        if model.question.model == "sagittal":
            yield Measure(tissue, "load_share_percent",
                          float(100.0 * line.force_N[inside].sum() / total))


def _pads(solved):
    model, x = solved.model, solved.solution.state.x
    solid = model.system.solids[model.solid_names.index("tissue")]
    place = solid.where.reshape(-1, 2)
    marks, dims = model.landmarks, model.question.dimensions
    under = {"heel": ("heel_pad", "calcaneus", dims.heel_pad_mm)}
    if model.question.model == "sagittal":
        under["forefoot"] = ("metatarsal_pad", "metatarsal_2", dims.metatarsal_pad_mm)
    regions = masks(model.question.model, place, marks.length_mm)
    for region, (tissue, bone, depth) in under.items():
        pad = regions[region] & (place[:, 1] < depth + pads.REACH_MM)
        yield pads.energy_density(solid, x, pad, tissue)
        nodes = model.mesh.nodes[f"bone:{bone}"]
        lowest = nodes[np.argmin(model.system.coordinates.points[nodes, 1])]
        yield Measure(tissue, "compression_percent", _compression(solved, int(lowest)))


def _compression(solved, node) -> float:
    """Loss of vertical distance between a bone node and the sole, percent."""
    line = sole_of(solved)
    rest, now = solved.model.system.coordinates.points[node], solved.solution.state.x[node]

    def depth(point, curve):
        under = curve[curve[:, 1] < point[1]]
        order = np.argsort(under[:, 0])
        return point[1] - np.interp(point[0], under[order, 0], under[order, 1])

    return float(100.0 * (1.0 - depth(now, line.place) / depth(rest, line.rest)))


def _joints(solved):
    model, state = solved.model, solved.solution.state
    forces = sole_forces_N(solved)
    rest, sagittal = model.system.coordinates.points, model.question.model == "sagittal"
    for link in model.structure.links:
        spring, joint = (terms[i] for terms, i in zip(
            (model.system.springs, model.system.joints), model.links[link.name], strict=True))
        centre = state.x[spring.node_a]
        far = np.ones(len(rest), bool)
        if sagittal and link.name not in ("ankle_joint", "subtalar_joint"):
            far = rest[:, 0] > link.point_mm[0]
        yield Measure(link.name, "moment_Nm", moment_Nm(state.x[far], forces[far], centre))
        yield Measure(link.name, "force_N", float(np.linalg.norm(spring.force_N(state.x))))
        yield Measure(link.name, "rotation_degrees",
                      math.degrees(float(joint.relative_rad(state)[0])))


def _shaft(solved) -> Measure:
    model = solved.model
    body = next(b for b in model.structure.bodies if b.name == "metatarsals")
    moment = shaft_moment_Nm(solved, "metatarsals", "metatarsophalangeal_joint", body.centre_mm)
    width = model.question.dimensions.forefoot_width_mm / 98.0
    radii = np.array(SHAFT_RADII_MM) * width
    inertia = float((math.pi / 4 * radii**4 * (1 - HOLLOW**4)).sum())
    return Measure("metatarsal_shaft", "bending_stress_MPa",
                   abs(1e3 * moment) * radii[1] / inertia, BONE_STRENGTH_MPa, BONE_SOURCE)


def _whole(solved):
    model, state = solved.model, solved.solution.state
    at, _ = pressure_centre_mm(model.system, solved.solution.evaluation, model.ground_y_mm(solved))
    if model.question.model == "rearfoot":
        yield Measure("whole_foot", "pressure_centre_mm", at)
        return
    yield Measure("whole_foot", "pressure_centre_percent",
                  100.0 * at / model.question.dimensions.length_mm)
    body, line = model.bodies["midfoot"], sole_of(solved)
    inside = masks(model.question.model, line.rest, model.question.dimensions.length_mm)
    yield Measure("whole_foot", "navicular_drop_mm", navicular_drop_mm(
        line.rest, line.place, [inside["heel"], inside["forefoot"]],
        model.system.coordinates.centres[body], state.centre[body]))
