"""A case as values: what the user wrote, checked, with every default filled in."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ..device.device import Device
from ..load.activity import Activity, Instant
from ..material import Material, materials
from ..scan.values import Scan
from .studies import NONE, Studies

if TYPE_CHECKING:
    from ..foot.morph import Dimensions
    from .pressure import MeasuredPressure


ORIGINS = ("given", "from the scan", "default, not measured")
"""Where a dimension of the foot can come from."""


@dataclass(frozen=True)
class Person:
    """The person: body mass, side, the six dimensions of the foot, and what cannot be measured.

    ``fascia_stiffness_factor`` multiplies the reference stiffness of the plantar fascia;
    ``subtalar_axis_shift_mm`` moves the subtalar axis, medial negative and lateral positive;
    inclination and deviation turn it in the whole foot.
    """

    body_mass_kg: float
    side: str
    length_mm: float
    heel_width_mm: float
    forefoot_width_mm: float
    heel_pad_mm: float
    metatarsal_pad_mm: float
    navicular_height_mm: float
    plantar_tissue: str
    subtalar_axis_shift_mm: float
    subtalar_axis_inclination_degrees: float
    subtalar_axis_deviation_degrees: float
    fascia_stiffness_factor: float

    def dimensions(self) -> Dimensions:
        """Return the six dimensions of the foot."""
        from ..foot.morph import Dimensions

        return Dimensions(self.length_mm, self.heel_width_mm, self.forefoot_width_mm,
                          self.heel_pad_mm, self.metatarsal_pad_mm, self.navicular_height_mm)


@dataclass(frozen=True)
class ActivityChoice:
    """An activity and which of its instants to solve: "peak", "all", or a percent of stance.

    ``file`` is the force-plate file it was read from, as the case names it.
    """

    activity: Activity
    at: str | float
    own: bool = False
    file: str = field(default="", compare=False)

    def instants(self) -> tuple[Instant, ...]:
        """Return the instants to solve, in order of stance."""
        if self.at == "all":
            return self.activity.instants
        return (self.activity.peak() if self.at == "peak" else self.activity.at(self.at),)


@dataclass(frozen=True)
class Solver:
    """Settings of the solve; units and ranges stand in ``fefoot.case.schema.SOLVER``."""

    mesh_size_mm: float
    contact: str
    fascia: str
    friction: float
    penalty_factor: float
    tolerance: float


@dataclass(frozen=True)
class Case:
    """A checked case. ``file`` says where it was read and takes no part in comparison.

    ``devices`` may be empty: then only the bare foot is solved. ``own_materials`` are the ones the
    case file defines. ``scan`` is what devices with ``base = "scan"`` start from. ``studies`` are
    sweep, certainty and search. ``measured_pressure`` is a map that the model is compared with.
    ``assumed`` names the dimensions of the foot that nobody measured; see `origin`.
    """

    title: str
    expect: str
    model: str
    target: str
    person: Person
    activity: ActivityChoice
    devices: tuple[Device, ...]
    own_materials: dict[str, Material]
    solver: Solver
    scan: Scan | None = None
    studies: Studies = NONE
    measured_pressure: MeasuredPressure | None = None
    assumed: tuple[str, ...] = ()
    file: str = field(default="", compare=False)

    def material(self, name: str) -> Material:
        """Return a material by name, the case's own or a shipped one."""
        return self.own_materials[name] if name in self.own_materials else materials()[name]

    def origin(self, name: str) -> str:
        """Return where a dimension of the foot, such as "length_mm", comes from: one of `ORIGINS`."""
        if self.scan is not None and name in self.scan.used:
            return ORIGINS[1]
        return ORIGINS[2 if name in self.assumed else 0]

    def material_names(self) -> tuple[str, ...]:
        """Return the materials the solve needs: plantar tissue first, then the devices'."""
        layers = (layer.material for device in self.devices for layer in device.layers)
        return tuple(dict.fromkeys((self.person.plantar_tissue, *layers)))
