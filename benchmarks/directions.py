"""What devices do to the whole foot, and whether each change has the sign that is expected of it.

Shipped cases on the coarse mesh; for two of them the section answers the same question. Each row
compares two conditions of one person at one instant. Signs are common practice without a source unless
one is named.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from .kept import rows_of

CASES = Path(__file__).resolve().parent.parent / "cases"
COARSE_MM, BARE = 6.0, "barefoot"
TENDON, WEDGES = "whole_foot_tibialis_posterior", "whole_foot_fascia_wedges"
HEAD, FASCIA, HEEL = "whole_foot_second_head", "sore_fascia_walking", "sore_heel_standing"
KOGLER = "Kogler et al. 1999, J Bone Joint Surg Am 81:1403-1413 (read)"
HEAD_LINES = (
    "| what | case | from | to | measure | values | change | expected | holds |\n"
    "|---|---|---|---|---|---|---|---|---|")


@dataclass(frozen=True)
class Condition:
    """A shipped case with one of its devices or none; perhaps another model, or another axis shift."""

    case: str
    device: str = BARE
    model: str = "foot3d"
    axis_shift_mm: float | None = None

    def run(self):
        """Return the run of this condition."""
        from fefoot.case.reader import read_case
        from fefoot.study.run import Run

        case = read_case(CASES / f"{self.case}.toml")
        if case.model != self.model:
            size = COARSE_MM if self.model == "foot3d" else case.solver.mesh_size_mm
            case = replace(case, model=self.model, solver=replace(case.solver, mesh_size_mm=size))
        if self.axis_shift_mm is not None:
            person = replace(case.person, subtalar_axis_shift_mm=self.axis_shift_mm)
            case = replace(case, person=person)
        device = next((d for d in case.devices if d.name == self.device), None)
        return Run.of(case, device, case.activity.instants()[0])


@dataclass(frozen=True)
class Direction:
    """From one condition to another a measure falls (-1) or rises (1)."""

    what: str
    start: Condition
    end: Condition
    measure: tuple[str, str]
    sign: int
    source: str = ""


def _directions() -> Iterator[Direction]:
    fascia, tendon = ("plantar_fascia", "tension_N"), ("tibialis_posterior", "tension_N")
    moment, centre = ("subtalar_joint", "moment_Nm"), ("whole_foot", "pressure_centre_mm")
    heads, heel = ("metatarsal_pad", "load_share_percent"), ("heel_pad", "peak_pressure_kPa")
    second = ("metatarsal_pad_2", "peak_pressure_kPa")
    plain = Condition(TENDON, "plain")
    for device in ("medial_post", "medial_skive"):
        words = device.replace("_", " ")
        for does, measure in (("lowers the pronating moment", moment), ("relieves the tendon", tendon),
                              ("moves the force medially", centre)):
            yield Direction(f"{words} {does}", plain, Condition(TENDON, device), measure, -1)
    yield Direction("a medial shift of the subtalar axis raises the pronating moment",
                    Condition(TENDON, axis_shift_mm=0.0), Condition(TENDON), moment, 1)
    for side, sign in (("lateral", -1), ("medial", 1)):
        yield Direction(f"{side} forefoot wedge {'raises' if sign > 0 else 'lowers'} fascia tension",
                        Condition(WEDGES, "plain"), Condition(WEDGES, f"{side}_wedge"), fascia, sign,
                        KOGLER)
    yield Direction("a pad behind the heads takes load off them", Condition(HEAD, "plain"),
                    Condition(HEAD, "pad"), heads, -1)
    yield Direction("a relief takes pressure off the head above it", Condition(HEAD, "plain"),
                    Condition(HEAD, "relief"), second, -1)
    for case, measure, devices in ((FASCIA, fascia, ("arch_shell",)),
                                   (HEEL, heel, ("flat_6", "moulded_6"))):
        for device in devices:
            for model in ("sagittal", "foot3d"):
                yield Direction(f"{device} against no device, {model}", Condition(case, model=model),
                                Condition(case, device, model), measure, -1)


DIRECTIONS = tuple(_directions())


def known_rows(compute: bool) -> dict:
    """Return what is known of every condition; None where it was not computed."""
    wanted = dict.fromkeys(c for d in DIRECTIONS for c in (d.start, d.end))
    return rows_of({condition: condition.run() for condition in wanted}, compute)


def direction_line(direction: Direction, start, end) -> tuple[str, bool | None]:
    """Return the line of the table, and whether the sign holds; None where that is not known."""
    d = direction
    words = (f"| {d.what} | {d.start.case} | {_named(d.start)} | {_named(d.end)} "
             f"| {d.measure[0]}, {d.measure[1]} ")
    expected = ("falls" if d.sign < 0 else "rises") + (f"; {d.source}" if d.source else "")
    if start is None or end is None:
        return f"{words}| | | {expected} | not computed |", None
    if start.failure or end.failure:
        return f"{words}| | | {expected} | no equilibrium: {start.failure or end.failure} |", None
    a, b = start.values[d.measure], end.values[d.measure]
    share = "" if d.measure[1] == "pressure_centre_mm" else f" ({100 * (b / a - 1):+.1f} %)"
    holds = d.sign * (b - a) > 0
    return (f"{words}| {a:.4g} to {b:.4g} | {b - a:+.3g}{share} | {expected} "
            f"| {'yes' if holds else '**no**'} |"), holds


def _named(condition: Condition) -> str:
    shift = "" if condition.axis_shift_mm is None else f", axis shift {condition.axis_shift_mm:g} mm"
    return condition.device + shift


def direction_lines(compute: bool = True) -> Iterator[str]:
    """Yield a row per direction."""
    yield f"\n{' '.join(__doc__.split())}\n\n{HEAD_LINES}"
    known, found = known_rows(compute), []
    for direction in DIRECTIONS:
        line, holds = direction_line(direction, known[direction.start], known[direction.end])
        found.append(holds)
        yield line
    yield (f"\n{found.count(True)} hold, {found.count(False)} do not, {found.count(None)} without an "
           "answer.")
