"""The values a solve leaves behind. Everything after the solver works on these alone."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .scene import Scene


@dataclass(frozen=True)
class Measure:
    """One number about one tissue.

    Attributes
    ----------
    tissue, quantity : str
        Keys of ``fefoot.case.tissues.TISSUES`` and ``fefoot.outcome.measures.QUANTITIES``.
    value : float
        In the unit that ends the quantity's name.
    strength : float or None
        Published strength in the same unit.
    strength_source : str
    """

    tissue: str
    quantity: str
    value: float
    strength: float | None = None
    strength_source: str = ""

    @property
    def key(self) -> tuple[str, str]:
        """(tissue, quantity)."""
        return self.tissue, self.quantity

    @property
    def share_percent(self) -> float | None:
        """Value as a share of the published strength, percent."""
        return None if self.strength is None else 100.0 * abs(self.value) / self.strength


@dataclass(frozen=True)
class Check:
    """One test that a solve has to pass: value against limit, and what it means."""

    name: str
    value: float
    limit: float
    unit: str
    passed: bool
    doc: str


@dataclass(frozen=True)
class Picture:
    """What a picture of the deformed section needs; lengths mm, pressures kPa.

    Attributes
    ----------
    points : (n, 2) array
        Current positions of foot and device nodes.
    cells : (m, 6) int array
        Quadratic triangles (corners, then middles of 01, 12, 20).
    is_device : (m,) bool array
    stress_kPa : (n,) array
        Equivalent (von Mises) stress at the nodes, averaged within foot and device.
    bones : dict of bone name -> (k, 2) array
        Closed outlines in their current place.
    cables : dict of tissue name -> ((k, 2) array, float)
        Path and tension in N.
    contacts : dict of "foot" / "ground" -> ((k, 2) array, (k,) array)
        Points of the loaded surface in order, and contact pressure kPa there: "foot" is the sole
        against whatever it stands on, averaged over a patch, "ground" the device against the ground.
    ground_y_mm : float
    centre_of_pressure_mm : float
        Position along the section; nan when there is none.
    view : {"section", "print"}
        A deformed section; or the sole of the whole foot in plan, points (x, z), with contact
        pressure in place of stress.
    scene : Scene or None
        The whole foot in space.
    rest : (n, 2) array or None
        Positions of the nodes before the load.
    """

    points: np.ndarray
    cells: np.ndarray
    is_device: np.ndarray
    stress_kPa: np.ndarray
    bones: dict[str, np.ndarray]
    cables: dict[str, tuple[np.ndarray, float]]
    contacts: dict[str, tuple[np.ndarray, np.ndarray]]
    ground_y_mm: float
    centre_of_pressure_mm: float
    view: str = "section"
    scene: Scene | None = None
    rest: np.ndarray | None = None


@dataclass(frozen=True)
class Outcome:
    """One condition (no device, or one device) at one instant.

    Attributes
    ----------
    name, title : str
        ``"barefoot"`` or the device's.
    stance_percent : float
    failure : str or None
        Why there are no numbers; then ``measures`` is empty.
    checks : tuple of Check
    cost : dict
        seconds, factorisations, newton_iterations, solvers.
    history : tuple of dict
    picture : Picture or None
    """

    name: str
    title: str
    stance_percent: float
    failure: str | None
    measures: tuple[Measure, ...] = ()
    checks: tuple[Check, ...] = ()
    cost: dict = field(default_factory=dict)
    history: tuple[dict, ...] = ()
    picture: Picture | None = None

    def value(self, tissue: str, quantity: str) -> float | None:
        """Return one measure's value, or None."""
        return next((m.value for m in self.measures if m.key == (tissue, quantity)), None)


@dataclass(frozen=True)
class Row:
    """One measure across all conditions of an instant.

    ``values`` and ``changes_percent`` (against the first condition) have one entry per condition,
    None where it failed.
    """

    tissue: str
    quantity: str
    values: tuple[float | None, ...]
    changes_percent: tuple[float | None, ...]
    strength: float | None
    strength_source: str


@dataclass(frozen=True)
class Comparison:
    """All conditions of one instant, in the case's order; the first is without a device.

    Attributes
    ----------
    rows : tuple of Row
        The target tissue's rows first, then the others.
    ranking : tuple of str
        Tissues by the share of their published strength in the first condition, highest first.
    best : str or None
        Condition that lowers the target's leading measure most, or None when none does.
    worse : tuple of (condition, tissue, quantity, percent)
        What rose by more than 5 % with a device, largest first, per device.
    """

    stance_percent: float
    outcomes: tuple[Outcome, ...]
    rows: tuple[Row, ...]
    ranking: tuple[str, ...]
    best: str | None
    worse: tuple[tuple[str, str, str, float], ...]
