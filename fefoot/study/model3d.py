"""One person's whole foot, a device and the ground as one mechanical system."""

from __future__ import annotations

import math

import numpy as np

from ..device.device import Device, FootLandmarks
from ..device.features import grown
from ..device.mesh3d import device_mesh, top_above_mm
from ..foot.landmarks import landmarks
from ..foot.mesh3d import morphed3d, reference_mesh
from ..foot.structure3d import structure3d
from ..mechanics.contact import Contact
from ..mechanics.joint import Joint, Spring, Stiffness
from ..mechanics.mesh import Mesh, joined
from ..mechanics.solid import Solid
from ..mechanics.state import Coordinates
from ..mechanics.system import System
from .model import (
    CLEARANCE_MM,
    SOFT_START,
    BARRIER_N_per_mm,
    HOLD_N_per_mm,
    Model,
    Question,
    SKIN_PENALTY_MPa_per_mm,
    SOLE_PENALTY_MPa_per_mm,
    UPRIGHT_N_per_mm,
    _cables,
    _Points,
)

COARSE_FROM_MM = 6.0
"""Question.mesh_size_mm from which the coarse mesh of the foot is taken."""
MIDDLE_FROM_MM = 5.0
"""... and from which that of middle size."""
COARSER = 1.5
"""Element size of the device over that of the foot, whose sole is the finer side of the contact."""
PLATE_MARGIN_MM = 60.0
HELD_TO_MM = 60.0
_PLATE = np.array([[0, 3, 1, 7, 8, 4], [2, 1, 3, 5, 8, 6]])
"""Two upward quadratic triangles over the corners 0-3 (x then z), the middles 4-7, the centre 8."""


def size_name(size_mm: float) -> str:
    """Return the reference mesh that a size, mm, stands for."""
    if size_mm >= COARSE_FROM_MM:
        return "coarse"
    return "middle" if size_mm >= MIDDLE_FROM_MM else "default"


def build3d(question: Question) -> Model:
    """Assemble the system of a question whose model is ``foot3d``.

    Raises
    ------
    MeshError, InputError
        From meshing.
    """
    q = question
    foot = morphed3d(reference_mesh(size_name(q.mesh_size_mm)), q.dimensions)
    inclination, deviation = q.axis_degrees or (None, None)
    frame = structure3d(
        q.dimensions, inclination_degrees=inclination, deviation_degrees=deviation,
        axis_shift_mm=q.axis_shift_mm, shank_angle_degrees=q.shank_angle_degrees,
        stiffness=dict(q.stiffness), factors=None if q.factors is None else dict(q.factors))
    marks = landmarks(q.dimensions)
    skin = foot.facets["plantar"]
    device, like = (q.device, None) if q.growth == 1.0 else (grown(q.device, q.growth), q.device)
    lowered = _overlap(foot.points[np.unique(skin)], device, marks)
    parts = [foot]
    if device is not None:
        pad = device_mesh(device, marks, COARSER * q.mesh_size_mm, like)
        parts.append(pad.moved(pad.points - [0.0, lowered, 0.0]))
    mesh, _ = joined(*parts)
    bodies = {b.name: i for i, b in enumerate(frame.bodies)} | {"ground": len(frame.bodies)}
    body_of = np.full(len(mesh.points), -1)
    for body in frame.bodies:
        for bone in () if body.loose else body.bones:
            body_of[mesh.nodes[f"bone:{bone}"]] = bodies[body.name]
    extra = _Points(len(mesh.points))
    cables = _cables(frame, bodies, extra, skip=False)
    joints, springs, links = _joints(frame, bodies, extra)
    corners = _plate_nodes(foot.points, -lowered)
    plate = np.array([extra.add(p, bodies["ground"]) for p in corners])
    scale = tuple(extra.add((x, 0.0, z), bodies[body]) for x, z, body in (
        (marks.heel_centre_x_mm, 0.0, "calcaneus"),
        (marks.metatarsal_head_x_mm[1], marks.metatarsal_head_z_mm[1], "metatarsal_2")))
    if q.device is not None:
        springs += _holds(mesh, bodies, extra)
    points = np.vstack([mesh.points, np.array(extra.points)])
    coordinates = Coordinates(
        points, np.concatenate([body_of, extra.body]),
        np.array([*(b.centre_mm for b in frame.bodies), corners[-1]]))
    system = System(
        coordinates, solids=_solids(q, mesh, points), cables=cables, joints=joints,
        springs=springs, contacts=_contacts(q, mesh, points, skin, plate[_PLATE]))
    return Model(
        q, system, mesh, frame, bodies, links, mesh.region_names, len(foot.points),
        len(mesh.points) - len(foot.points), scale, int(plate[-1]), marks, None, lowered)


def _overlap(sole: np.ndarray, device: Device | None, marks: FootLandmarks) -> float:
    """How far device (or ground) must be lowered to clear the sole's nodes (n, 3)."""
    depth = -sole[:, 1]
    if device is not None:
        depth = depth + top_above_mm(device, marks, sole[:, 0], sole[:, 2])
    return float(depth.max() + CLEARANCE_MM)


def _joints(frame, bodies, extra):
    joints, springs, links = [], [], {}
    for link in frame.links:
        a, b = (bodies[name] for name in link.bodies)
        links[link.name] = len(springs), len(joints)
        springs.append(Spring(
            link.name, extra.add(link.point_mm, a), extra.add(link.point_mm, b),
            (link.translation_N_per_mm,) * 3, (0.0,) * 3))
        laws = tuple(
            Stiffness(1e3 * k, *map(math.radians, span))
            for k, span in zip(link.stiffness_Nm_per_rad, link.range_degrees, strict=True))
        joints.append(Joint(link.name, a, b, laws, np.array(link.axes)))
    return joints, springs, links


def _plate_nodes(foot: np.ndarray, y: float) -> np.ndarray:
    """Return the nine nodes (9, 3) of the ground: corners, middles of its edges, centre."""
    (x0, _, z0), (x1, _, z1) = foot.min(axis=0) - PLATE_MARGIN_MM, foot.max(axis=0) + PLATE_MARGIN_MM
    corners = np.array([(x0, y, z0), (x1, y, z0), (x1, y, z1), (x0, y, z1)])
    return np.vstack([corners, 0.5 * (corners + np.roll(corners, -1, axis=0)),
                      corners.mean(axis=0)])


def _holds(mesh, bodies, extra) -> list[Spring]:
    """Springs under its heel that keep the device from sliding."""
    bottom = np.unique(mesh.facets["device_bottom"][:, :3])
    bottom = bottom[mesh.points[bottom, 0] < HELD_TO_MM]
    side, up = HOLD_N_per_mm / len(bottom), UPRIGHT_N_per_mm / len(bottom)
    return [Spring(f"hold {n}", int(n), extra.add(mesh.points[n], bodies["ground"]),
                   (side, up, side), (0.0,) * 3) for n in bottom]


def _solids(q, mesh: Mesh, points) -> list[Solid]:
    return [Solid(points, mesh.cells[mesh.cells_of(region)], (
        q.tissue if region == "tissue" else q.materials[region.removeprefix("device:")]).response)
        for region in mesh.region_names]


def _contacts(q, mesh, points, skin, plate) -> list[Contact]:
    gripping = q.grip_mm > 0.0
    shared = dict(friction=q.friction, grip_mm=q.grip_mm, soft_start=SOFT_START if gripping else 1.0,
                  barrier_N_per_mm=BARRIER_N_per_mm if gripping else BARRIER_N_per_mm[1:] * 2)
    soft = SKIN_PENALTY_MPa_per_mm * q.penalty_factor
    sole = SOLE_PENALTY_MPa_per_mm * q.penalty_factor * (5.0 if gripping else 1.0)
    out = [Contact("foot on ground", points, skin, plate, penalty_MPa_per_mm=soft, **shared)]
    if "device_top" in mesh.facets:
        out.append(Contact("foot on device", points, skin, mesh.facets["device_top"],
                           penalty_MPa_per_mm=soft, **shared))
        out.append(Contact("device on ground", points, mesh.facets["device_bottom"], plate,
                           penalty_MPa_per_mm=sole, **shared))
    return out
