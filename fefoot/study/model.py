"""One person's section, a device and the ground as one mechanical system."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..device.device import Device, FootLandmarks
from ..device.mesh import section_mesh as device_mesh
from ..device.section import Section, rearfoot_plane, sagittal_plane, section
from ..foot.landmarks import landmarks, slice_x_mm, slice_z_of_x
from ..foot.mesh2d import morphed
from ..foot.morph import Dimensions
from ..foot.reference import reference_mesh
from ..foot.section import thickness_mm
from ..foot.structure import SHANK_LINE, Structure, structure
from ..material.table import Material
from ..mechanics.cable import Cable
from ..mechanics.contact import Contact
from ..mechanics.joint import Joint, Spring, Stiffness
from ..mechanics.mesh import Mesh, joined
from ..mechanics.solid import Solid
from ..mechanics.state import Coordinates
from ..mechanics.system import System

# Penalties start the augmented Lagrangian; the answer does not depend on them.
SKIN_PENALTY_MPa_per_mm = 1.0
SOLE_PENALTY_MPa_per_mm = 10.0
GRIP_MM = 1.0
"""Slip over which the friction of skin or sock builds up (assumed)."""
SOFT_START, BARRIER_N_per_mm = 0.1, (1e-4, 1e-5)
# The device is kept from sliding on the ground, like an insole by the shoe.
HOLD_N_per_mm = 50.0
UPRIGHT_N_per_mm = 1e-4
CLEARANCE_MM = 0.02
SKIN_TOP_MM = 45.0


@dataclass(frozen=True)
class Question:
    """What decides a model: the person's foot, the section, the device, the settings.

    Attributes
    ----------
    model : {"sagittal", "rearfoot", "foot3d"}
    dimensions : Dimensions
    tissue : Material
    materials : dict of str to Material
        Of the device's layers.
    device : Device or None
    axis_degrees : (float, float) or None
        Inclination and deviation of the subtalar axis of the whole foot; None: the structure's own.
    stiffness : dict of cable name -> float
        Factors on cables (0 removes one).
    factors : dict or None
        Calibration factors other than the committed ones.
    friction : float
        Coulomb coefficient; infinite for a rough contact, whose loaded points do not slip.
    grip_mm : float
        Slip over which friction builds up; zero for friction that follows the load step by step.
    growth : float
        Share, 0 to 1, to which the device's features have grown; only in the whole foot.
    """

    model: str
    dimensions: Dimensions
    tissue: Material
    materials: dict[str, Material]
    device: Device | None = None
    axis_shift_mm: float = 0.0
    axis_degrees: tuple[float, float] | None = None
    shank_angle_degrees: float = 0.0
    stiffness: tuple[tuple[str, float], ...] = ()
    factors: tuple[tuple[str, float], ...] | None = None
    mesh_size_mm: float = 4.0
    fascia: str = "cable"
    friction: float = math.inf
    grip_mm: float = 0.0
    penalty_factor: float = 1.0
    growth: float = 1.0


@dataclass(frozen=True)
class Model:
    """The assembled system and where its parts are.

    Attributes
    ----------
    question : Question
    system : System
    mesh : Mesh
        Foot, then device.
    structure : Structure
    bodies : dict of body name -> number
    links : dict of joint name -> (spring number, joint number)
    foot_nodes, device_nodes : int
        The foot's nodes come first, then the device's.
    scale_nodes : (int, int)
        Nodes below the heel's centre and the second metatarsal head, riding on those bones.
    ground_node : int
        Node at the centre of the ground.
    profile : Section or None
        The device's section before it was lowered.
    lowered_mm : float
        How far device and ground start below the foot's own ground plane.
    """

    question: Question
    system: System
    mesh: Mesh
    structure: Structure
    bodies: dict[str, int]
    links: dict[str, tuple[int, int]]
    solid_names: tuple[str, ...]
    foot_nodes: int
    device_nodes: int
    scale_nodes: tuple[int, int]
    ground_node: int
    landmarks: FootLandmarks
    profile: Section | None
    lowered_mm: float

    def depth_mm(self, points: np.ndarray) -> np.ndarray:
        """Return the thickness (mm) of the section at points (..., 2)."""
        q = self.question
        return thickness_mm(q.model, points[..., 0], q.dimensions)

    def ground_y_mm(self, solved) -> float:
        """Return the height of the ground in a solved model."""
        return float(solved.solution.state.centre[self.ground, 1])

    @property
    def ground(self) -> int:
        """Body number of the ground."""
        return self.bodies["ground"]


class _Points:
    """Extra nodes that ride on bodies: cable and joint points, the ground."""

    def __init__(self, first: int):
        self.first, self.points, self.body = first, [], []

    def add(self, point, body: int) -> int:
        self.points.append(tuple(map(float, point)))
        self.body.append(body)
        return self.first + len(self.points) - 1


def device_section(device: Device, model: str, dimensions: Dimensions) -> Section:
    """Cut a device where the model's section lies."""
    plane = (sagittal_plane(slice_z_of_x(dimensions)) if model == "sagittal"
             else rearfoot_plane(slice_x_mm(dimensions)))
    return section(device, landmarks(dimensions), plane)


def build(question: Question) -> Model:
    """Assemble the system of a question.

    Raises
    ------
    MeshError, InputError
        From meshing and from sections that miss the device.
    """
    if question.model == "foot3d":
        from .model3d import build3d

        return build3d(question)
    q = question
    foot = morphed(reference_mesh(q.model, q.mesh_size_mm, q.fascia == "meshed"), q.model,
                   q.dimensions)
    stiffness = dict(q.stiffness)
    frame = structure(
        q.model, q.dimensions, axis_shift_mm=q.axis_shift_mm,
        shank_angle_degrees=q.shank_angle_degrees, stiffness=stiffness,
        factors=None if q.factors is None else dict(q.factors))
    profile = None if q.device is None else device_section(q.device, q.model, q.dimensions)
    skin = _sole(foot)
    lowered = _overlap(foot.points[np.unique(skin)], profile)
    parts = [foot]
    if profile is not None:
        pad = device_mesh(profile, min(2.5, 0.625 * q.mesh_size_mm))
        parts.append(pad.moved(pad.points - [0.0, lowered]))
    mesh, _ = joined(*parts)
    bodies = {b.name: i for i, b in enumerate(frame.bodies)} | {"ground": len(frame.bodies)}
    body_of = np.full(len(mesh.points), -1)
    for body in frame.bodies:
        for bone in () if body.loose else body.bones:
            body_of[mesh.nodes.get(f"bone:{bone}", np.zeros(0, int))] = bodies[body.name]
    extra = _Points(len(mesh.points))
    cables = _cables(frame, bodies, extra, skip=q.fascia == "meshed")
    joints, links_springs, links = _joints(frame, bodies, extra)
    span = (foot.points[:, 0].min() - 60, foot.points[:, 0].max() + 60)
    plate = [extra.add((s, -lowered), bodies["ground"]) for s in (span[1], span[0], sum(span) / 2)]
    marks = landmarks(q.dimensions)
    scale = tuple(extra.add((x, 0.0), bodies[body]) for x, body in (
        (marks.heel_centre_x_mm, "calcaneus"),
        (marks.metatarsal_head_x_mm[1], "metatarsals"))) if q.model == "sagittal" else (0, 0)
    springs = list(links_springs)
    if profile is not None:
        springs += _holds(q, mesh, bodies, extra)
    points = np.vstack([mesh.points, np.array(extra.points)])
    centres = np.array([b.centre_mm for b in frame.bodies] + [(sum(span) / 2, -lowered)])
    coordinates = Coordinates(points, np.concatenate([body_of, extra.body]), centres)
    solids, names = _solids(q, mesh, points, next(
        (c.stiffness_N_per_mm for c in frame.cords if c.name == "plantar_fascia"), 0.0))
    system = System(
        coordinates, solids=solids, cables=cables, joints=joints, springs=springs,
        contacts=_contacts(q, mesh, points, skin, np.array([plate])))
    return Model(
        q, system, mesh, frame, bodies, links, names, len(foot.points),
        len(mesh.points) - len(foot.points), scale, plate[2], marks, profile, lowered)


def _sole(foot: Mesh) -> np.ndarray:
    """Skin facets that can touch a device: low ones that do not look up."""
    skin = foot.facets["skin"]
    a, b = foot.points[skin[:, 0]], foot.points[skin[:, 1]]
    up = -(b - a)[:, 0] / np.linalg.norm(b - a, axis=1)
    return skin[(up < 0.3) & (a[:, 1] < SKIN_TOP_MM)]


def _overlap(sole: np.ndarray, profile: Section | None) -> float:
    """How far a device (or the ground) must be lowered to clear the sole."""
    depth = -sole[:, 1]
    if profile is not None:
        inside = (sole[:, 0] > profile.s_mm[0]) & (sole[:, 0] < profile.s_mm[-1])
        top = np.where(inside, profile.interfaces_at(sole[:, 0])[0], 0.0)
        depth = depth + top
    return float(depth.max() + CLEARANCE_MM)


def _cables(frame, bodies, extra, skip) -> list[Cable]:
    out = []
    for cord in frame.cords:
        if cord.name == "plantar_fascia" and skip:
            continue
        at = np.array([p for _, p in cord.path])
        nodes = tuple(extra.add(p, bodies["shank" if b == SHANK_LINE else b])
                      for b, p in cord.path)
        length = float(np.linalg.norm(np.diff(at, axis=0), axis=1).sum())
        stretch = 0.0
        if cord.resting_N:
            stretch = cord.resting_N / cord.stiffness_N_per_mm + cord.toe_mm / 2
        out.append(Cable(cord.name, nodes, cord.stiffness_N_per_mm, length - stretch,
                         cord.toe_mm))
    return out


def _joints(frame, bodies, extra):
    joints, springs, links = [], [], {}
    for link in frame.links:
        a, b = (bodies[name] for name in link.bodies)
        nodes = extra.add(link.point_mm, a), extra.add(link.point_mm, b)
        plus, minus = (math.radians(v) for v in link.range_degrees)
        links[link.name] = len(springs), len(joints)
        k = link.translation_N_per_mm
        springs.append(Spring(link.name, *nodes, (k, k), (0.0, 0.0)))
        joints.append(Joint(link.name, a, b, (
            Stiffness(1e3 * link.stiffness_Nm_per_rad, plus, minus),)))
    return joints, springs, links


def _holds(q, mesh, bodies, extra) -> list[Spring]:
    """Springs that keep the device from sliding: under its heel, or under all of a rear slice."""
    bottom = np.unique(mesh.facets["device_bottom"][:, :2])
    s = mesh.points[bottom, 0]
    if q.model == "sagittal":
        bottom = bottom[s < s.min() + 40.0]
    k = HOLD_N_per_mm / len(bottom), UPRIGHT_N_per_mm / len(bottom)
    return [Spring(f"hold {n}", int(n), extra.add(mesh.points[n], bodies["ground"]), k, (0.0, 0.0))
            for n in bottom]


def _solids(q, mesh, points, fascia_N_per_mm):
    solids, names = [], []
    for region in mesh.region_names:
        cells = mesh.cells[mesh.cells_of(region)]
        fibre = None
        if region == "tissue":
            material = q.tissue
        elif region == "fascia":
            from ..foot.fascia import person_fascia

            material, fibre = person_fascia(q.dimensions, fascia_N_per_mm)
        else:
            material = q.materials[region.removeprefix("device:")]
        solids.append(Solid(
            points, cells, material.response, fibre=fibre,
            thickness_mm=lambda p: thickness_mm(q.model, p[..., 0], q.dimensions)))
        names.append(region)
    return solids, tuple(names)


def _contacts(q, mesh, points, skin, plate) -> list[Contact]:
    def depth(p):
        return thickness_mm(q.model, p[:, 0], q.dimensions)

    gripping = q.grip_mm > 0.0
    shared = dict(friction=q.friction, thickness_mm=depth, grip_mm=q.grip_mm,
                  soft_start=SOFT_START if gripping else 1.0,
                  barrier_N_per_mm=BARRIER_N_per_mm if gripping else BARRIER_N_per_mm[1:] * 2)
    soft = SKIN_PENALTY_MPa_per_mm * q.penalty_factor
    sole = SOLE_PENALTY_MPa_per_mm * q.penalty_factor * (5.0 if gripping else 1.0)
    out = [Contact("foot on ground", points, skin, plate, penalty_MPa_per_mm=soft, **shared)]
    if "device_top" in mesh.facets:
        out.append(Contact("foot on device", points, skin, mesh.facets["device_top"],
                           penalty_MPa_per_mm=soft, **shared))
        out.append(Contact(
            "device on ground", points, mesh.facets["device_bottom"], plate,
            penalty_MPa_per_mm=sole, **shared))
    return out
