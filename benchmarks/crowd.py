"""Random persons on random devices: how many whole-foot solves reach equilibrium and pass their checks.

Persons: body mass and the six dimensions of the foot, each drawn evenly within 15 % of the
reference.
Devices: one of three builds, with none, one or two features whose values lie in the middle half of
what the case file allows. Instants: those of the shipped whole-foot cases. Draw ``n`` is the same
however many are drawn. Invented data: no person is meant.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .kept import rows_of

SEED, SPREAD, COUNT = 20260, 0.15, 100
INSTANTS = ("standing", None), ("walking", 30), ("walking", 55), ("walking", 70)
HEAD = ("| draw | instant | person: mass, length, heel, forefoot, pads, navicular | device "
        "| factorisations | seconds | result |\n|---|---|---|---|---|---|---|")


def drawn(number: int) -> dict:
    """Return draw ``number`` as a case that passes every check of the reader."""
    from fefoot.case.reader import case_from_dict
    from fefoot.errors import InputError

    rng = np.random.default_rng([SEED, number])
    while True:
        case = _case(rng)
        try:
            case_from_dict(case)
        except InputError:
            continue  # two features that exclude each other, or a hollow deeper than the device
        return case


def _case(rng) -> dict:
    from fefoot.case.schema import DIMENSIONS, PERSON

    usual = {key.name: key.default for key in PERSON if key.name in DIMENSIONS} | {"body_mass_kg": 70.0}
    person = {name: round(value * rng.uniform(1 - SPREAD, 1 + SPREAD), 2)
              for name, value in usual.items()}
    name, at = INSTANTS[rng.integers(len(INSTANTS))]
    return {
        "title": "a draw", "model": "foot3d", "target": "plantar_fascia", "person": person,
        "activity": {"name": name} | ({"at": at} if at else {}), "solver": {"mesh_size_mm": 6.0},
        "device": [_device(rng)]}


def _device(rng) -> dict:
    from fefoot.device.features import FEATURES

    foam = str(rng.choice(["eva_soft", "eva_medium", "eva_firm"]))
    cover = {"material": "eva_soft", "thickness_mm": round(rng.uniform(2, 4), 1)}
    insole = {"material": foam, "thickness_mm": round(rng.uniform(4, 9), 1)}
    firm = {"material": "eva_firm", "thickness_mm": round(rng.uniform(3, 6), 1)}
    shell = {"material": "polypropylene", "thickness_mm": round(rng.uniform(2, 4), 1)}
    device = ({"layer": [insole]},
              {"layer": [cover, firm], "base": "foot"},
              {"layer": [cover, shell], "length": "to_metatarsals", "underside": "follow"},
              )[rng.integers(3)]
    kinds = rng.choice(list(FEATURES), rng.integers(3), replace=False)
    features = [{"kind": str(kind)} | {p.name: _value(rng, p) for p in FEATURES[kind].parameters}
                for kind in kinds]
    return {"name": "device", **device} | ({"feature": features} if features else {})


def _value(rng, parameter):
    if parameter.choices:
        return str(rng.choice(parameter.choices))
    middle, half = (parameter.low + parameter.high) / 2, (parameter.high - parameter.low) / 4
    return round(rng.uniform(middle - half, middle + half), 1)


def described(case: dict) -> tuple[str, str, str]:
    """Return instant, person and device of a draw in words."""
    p, device, activity = case["person"], case["device"][0], case["activity"]
    instant = activity["name"] + (f" {activity['at']} %" if "at" in activity else "")
    person = (f"{p['body_mass_kg']:.0f} kg, {p['length_mm']:.0f}, {p['heel_width_mm']:.0f}, "
              f"{p['forefoot_width_mm']:.0f}, {p['heel_pad_mm']:.1f} and {p['metatarsal_pad_mm']:.1f}, "
              f"{p['navicular_height_mm']:.0f} mm")
    layers = " on ".join(f"{layer['thickness_mm']:g} mm {layer['material']}"
                         for layer in device["layer"])
    features = "".join(f"; {f['kind']} " + ", ".join(
        f"{v:g}" if isinstance(v, float) else v for k, v in f.items() if k != "kind")
        for f in device.get("feature", ()))
    return instant, person, layers + features


def runs(cases) -> dict:
    """Return the run of every draw by its number."""
    from fefoot.case.reader import case_from_dict
    from fefoot.study.run import Run

    read = [case_from_dict(case) for case in cases]
    return {number: Run.of(case, case.devices[0], case.activity.instants()[0])
            for number, case in enumerate(read)}


def crowd_lines(count: int = COUNT, compute: bool = True) -> Iterator[str]:
    """Yield a row per draw in order; without ``compute`` only of those that the store has."""
    cases = [drawn(number) for number in range(count)]
    known = rows_of(runs(cases), compute)
    rows = {number: row for number, row in known.items() if row is not None}
    yield f"\n{' '.join(__doc__.split())}\n\n{HEAD}"
    for number, row in rows.items():
        yield draw_line(number, cases[number], row)
    good = sum(row.failure is None for row in rows.values())
    grew = sum(row.failure is None and row.cost["grown_from"] < 1.0 for row in rows.values())
    yield (f"\n{good} of {len(rows)} reached equilibrium and passed every check; {grew} of them by "
           "growth of the device's features under load.")
    if len(rows) < count:
        yield f"\n{count - len(rows)} of {count} draws have not been solved yet."


def draw_line(number: int, case: dict, row) -> str:
    """Return the line of one draw."""
    words = " | ".join(described(case))
    if not row.cost.get("seconds"):
        return f"| {number} | {words} | | | {row.failure} |"
    path = "ok" if row.cost.get("grown_from", 1.0) == 1.0 else "ok, by growth"
    return (f"| {number} | {words} | {row.cost['factorisations']:.0f} | {row.cost['seconds']:.0f} "
            f"| {row.failure or path} |")
