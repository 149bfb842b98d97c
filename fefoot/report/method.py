"""How the numbers were computed: the model, the person, the load, materials, devices, versions."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from ..case.agree import AXIS_ANGLES
from ..case.schema import DIMENSIONS, PERSON
from ..case.values import ORIGINS, Case
from ..outcome.values import Comparison
from .wording import DASH, labels, one_line, plain

STANDARD_GRAVITY = 9.80665

_SECTION = {
    "sagittal": "The foot is a slice along the second ray. It is computed as plane strain with an "
                "effective width at each place, so the slice carries the load of the whole foot. "
                "What happens between the inner and outer side of the foot is not in it.",
    "rearfoot": "The foot is a slice across the heel. It is computed as plane strain with an "
                "effective length, so the slice carries the load of the heel. What happens along "
                "the foot, from heel to toe, is not in it.",
    "foot3d": "The foot is computed whole, in three dimensions. This model is young: of 24 published "
              "findings tried on it 15 are met.",
}


def assumptions(case: Case) -> list[str]:
    """Return what the model assumes, one sentence or two each."""
    lines = [
        _SECTION[case.model],
        "Bones are rigid. Joints turn about fixed points against a stiffness that rises towards "
        "the end of their range.",
        "Ligaments and tendons are cables that only pull, with one tension over their length."
        if case.model == "rearfoot" else
        "Ligaments, tendons and the plantar fascia are cables that only pull, with one tension "
        "over their length."
        if case.solver.fascia == "cable" else
        "Ligaments and tendons are cables that only pull, with one tension over their length. The "
        "plantar fascia is a strip of stiff fibres along its length, bedded in the soft tissue.",
        "Soft tissue is one elastic material between skin and bone, computed with large "
        "deformations. It does not creep, swell or move blood.",
        {"gripping": f"Skin grips device and ground up to {case.solver.friction:g} times the "
                     "pressure, by how far it has slipped since it was unloaded; the ground is free "
                     "to slide, so that the whole ground reaction is the activity's.",
         "rough": "Loaded skin does not slip on device or ground; the ground is free to slide, so "
                  "that the whole ground reaction is the activity's.",
         "frictionless": "Contact between foot, device and ground is without friction.",
         "coulomb": "Contact between foot, device and ground has a coefficient of friction of "
                    f"{case.solver.friction:g}, followed step by step."}[case.solver.contact],
        "Each instant is an equilibrium on its own: no inertia, no muscle activity that changes "
        "because of the device, no shoe.",
    ]
    if case.model != "rearfoot":
        lines.append("The pull of the Achilles tendon follows from where the load acts: it "
                     "balances the moment about the ankle.")
    return lines


def person_rows(case: Case) -> list[tuple[str, str]]:
    """Return the person as (label, value with unit)."""
    rows = []
    for key in (key for key in PERSON if case.model == "foot3d" or key not in AXIS_ANGLES):
        value = getattr(case.person, key.name)
        if key.kind == "material":
            shown = case.material(value).title or value
        else:
            shown = f"{value:g}" if key.kind == "number" else str(value)
        origin = case.origin(key.name) if key.name in DIMENSIONS else ORIGINS[0]
        note = f" ({origin})" if origin != ORIGINS[0] else ""
        rows.append((key.doc, f"{shown} {key.unit}".strip() + note))
    return rows


def activity_rows(case: Case, comparisons: Sequence[Comparison]) -> list[tuple[str, ...]]:
    """Return one row per instant solved: stance, force up and forward, place, shank."""
    weight = case.person.body_mass_kg * STANDARD_GRAVITY
    solved = {round(c.stance_percent, 6) for c in comparisons}
    return [
        (f"{i.stance_percent:g} %", f"{i.vertical_bodyweights * weight:.0f} N",
         f"{i.fore_aft_bodyweights * weight:.0f} N".replace("-", "−"),
         f"{0.01 * i.pressure_centre_percent * case.person.length_mm:.0f} mm from the heel",
         f"{i.shank_angle_degrees:g}°".replace("-", "−"))
        for i in case.activity.instants() if round(i.stance_percent, 6) in solved
    ]


def material_rows(case: Case) -> list[tuple[str, ...]]:
    """Return one row per material: title, law with constants, stretch range, source."""
    rows = []
    for name in case.material_names():
        found = case.material(name)
        constants = ", ".join(_constant(key, value) for key, value in found.constants.items())
        low, high = found.stretch_range
        rows.append((found.title or plain(name), f"{found.law.doc}: {constants}",
                     f"{low:g} to {high:g}", f"{found.source} ({found.flag})"))
    return rows


def _constant(name: str, value) -> str:
    words, _, unit = name.partition("_")
    unit = unit.replace("_", " ").replace("per ", "1/")
    unit = "" if unit in ("matrix", "fibre") else unit
    shown = ", ".join(f"{v:g}" for v in value) if isinstance(value, tuple | list) else f"{value:g}"
    return f"{words} {shown} {unit}".strip()


def sheet_rows(sheet: Iterable[tuple[str, object, str]]) -> list[tuple[str, str]]:
    """Return a build sheet as (label, value with unit)."""
    return [
        (label, f"{value:.1f} {unit}".strip() if isinstance(value, int | float)
         and not isinstance(value, bool) else f"{plain(value)} {unit}".strip())
        for label, value, unit in sheet
    ]


def provenance_rows(provenance: dict, prefix: str = "") -> list[tuple[str, str]]:
    """Return nested provenance as (label, value), one row per entry."""
    rows = []
    for key, value in provenance.items():
        label = f"{prefix}{plain(key)}"
        if isinstance(value, dict):
            rows += provenance_rows(value, f"{label}: ")
        elif isinstance(value, list | tuple):
            rows.append((label, ", ".join(one_line(v) for v in value)))
        else:
            rows.append((label, f"{value:.4g}" if isinstance(value, float) else one_line(value)))
    return rows


def cost_rows(comparisons: Sequence[Comparison]) -> list[tuple[str, ...]]:
    """Return what each solve cost: condition and instant, seconds, iterations, solver."""
    rows = []
    for comparison in comparisons:
        for name, outcome in zip(labels(comparison.outcomes), comparison.outcomes, strict=True):
            if outcome.cost:
                cost = [outcome.cost.get(key) for key in (
                    "seconds", "newton_iterations", "factorisations", "solvers")]
                rows.append((f"{name}, {comparison.stance_percent:.3g} %", *map(_shown, cost)))
    return rows


def growth_sentence(comparisons: Sequence[Comparison]) -> str:
    """Return which conditions were solved by letting the device's features grow; empty for none."""
    grown = _where(comparisons, lambda cost: cost.get("grown_from", 1.0) < 1.0)
    if not grown:
        return ""
    return (f"Solved by another path: {grown}. This device could not be loaded as it is; "
            "its features were put under the load at half their size and grew under it. Contact that "
            "does not slip remembers the path: these numbers compare less closely with the others.")


def descent_sentence(comparisons: Sequence[Comparison]) -> str:
    """Return which conditions were solved by going down the energy; empty for none."""
    fell = _where(comparisons, lambda cost: cost.get("descents", 0) > 0)
    if not fell:
        return ""
    return (f"Solved past a fold: {fell}. The load led to a state that may not hold, where tissue is "
            "about to fold or to snap over; from there the solve went down the energy. The result is "
            "an equilibrium, but where there are several the foot could be in another one.")


def _where(comparisons: Sequence[Comparison], holds: Callable[[dict], bool]) -> str:
    """Return the conditions and instants whose cost has a property, as a list in words."""
    return ", ".join(
        f"{name} at {comparison.stance_percent:.3g} %" for comparison in comparisons
        for name, outcome in zip(labels(comparison.outcomes), comparison.outcomes, strict=True)
        if holds(outcome.cost))


def _shown(value) -> str:
    if value is None:
        return DASH
    if isinstance(value, dict):
        return ", ".join(f"{plain(key)} {count}" for key, count in value.items())
    if isinstance(value, list | tuple | set | frozenset):
        return ", ".join(map(plain, value))
    return f"{value:.1f}" if isinstance(value, float) else plain(value)
