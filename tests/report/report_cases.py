"""A case and invented outcomes on real section meshes: for the report only, nothing is solved."""

from __future__ import annotations

import functools

import numpy as np

from fefoot.case import case_from_dict
from fefoot.case.tissues import TISSUES, tissues_of
from fefoot.device.mesh import section_mesh as device_mesh
from fefoot.foot.reference import reference_mesh
from fefoot.foot.section import bone_outlines
from fefoot.foot.structure import structure
from fefoot.mechanics.mesh import joined
from fefoot.outcome.values import Check, Comparison, Measure, Outcome, Picture, Row
from fefoot.study.model import device_section

LEVEL = {
    "tension_N": 640.0, "stretch_percent": 3.4, "peak_pressure_kPa": 310.0,
    "mean_pressure_kPa": 120.0, "load_share_percent": 34.0,
    "strain_energy_density_kPa": 18.0, "force_N": 2400.0,
    "moment_Nm": -46.0, "bending_stress_MPa": 41.0, "compression_percent": 38.0,
    "rotation_degrees": 7.5, "pressure_centre_percent": 44.0, "pressure_centre_mm": -3.2,
    "navicular_drop_mm": 6.1,
}
STRENGTH = {"tension_N": 1000.0, "stretch_percent": None, "bending_stress_MPa": 90.0}
DEVICES = [
    {"name": "lift", "title": "flat insole with a 6 mm heel lift",
     "layer": [{"material": "polypropylene", "thickness_mm": 3}],
     "feature": [{"kind": "heel_lift", "height_mm": 6}]},
    {"name": "arch", "title": "insole that fills the arch",
     "layer": [{"material": "polypropylene", "thickness_mm": 3}],
     "feature": [{"kind": "arch_fill", "fill_percent": 60}]},
    {"name": "shell", "title": "shell with a free arch", "base": "foot", "underside": "follow",
     "length": "to_metatarsals", "layer": [{"material": "polypropylene", "thickness_mm": 3}]},
]


def several(count):
    """So many devices: the three above, and more of them under other names."""
    return [dict(d, name=f"{d['name']}{k or ''}", title=f"{d['title']}{f', variant {k}' if k else ''}")
            for k in range(-(-count // len(DEVICES))) for d in DEVICES][:count]


def a_case(model="sagittal", target="plantar_fascia", devices=DEVICES, **top):
    top = {"title": "Heel pain in a runner: lift, arch or shell?",
           "expect": "The arch lowers the tension most; the heel pressure rises.", **top}
    return case_from_dict({
        **top, "model": model, "target": target, "person": {"body_mass_kg": 72},
        "activity": {"name": "walking"}, "device": [dict(d) for d in devices]})


def a_picture(case, number, size_mm=8.0):
    """The unloaded foot on one device (or the ground), sole pressed flat, with invented fields."""
    model = case.model
    foot = reference_mesh(model, size_mm, False)
    device = None if number == 0 else case.devices[number - 1]
    parts, top = [foot], np.zeros(len(foot.points))
    if device is not None:
        section = device_section(device, model, _dimensions(case))
        pad = device_mesh(section, 2.5)
        x = foot.points[:, 0]
        inside = (x > section.s_mm[0]) & (x < section.s_mm[-1])
        top = np.where(inside, section.interfaces_at(x)[0], 0.0)
        parts.append(pad)
    sole = np.unique(foot.facets["plantar"])
    rise = float((top - foot.points[:, 1])[sole].max()) - 4.0
    mesh, _ = joined(*parts)
    points = mesh.points.copy()
    count = len(foot.points)
    depth = top - (points[:count, 1] + rise)
    points[:count, 1] += rise + np.maximum(depth, 0.0)
    pressed = np.maximum(depth, 0.0)
    s, y = points.T
    stress = 40.0 * np.exp(-np.maximum(y - 10, 0) / 25) * (1 + np.sin(s / 30.0) ** 2)
    stress[:count] += 30.0 * pressed
    order = sole[np.argsort(points[sole, 0])]
    pressure = 70.0 * pressed[order]
    up = np.array([0.0, rise])
    cables = {
        c.name: (np.array([p for _, p in c.path]) + up,
                 0.0 if c.name == "tibialis_anterior" else 200.0 + 300 * (i % 4) - 40.0 * number)
        for i, c in enumerate(structure(model, _dimensions(case)).cords)}
    return Picture(
        points, mesh.cells, np.arange(len(mesh.cells)) >= len(foot.cells), stress,
        {n: o + up for n, o in bone_outlines(model, _dimensions(case), 2.0).items()},
        cables, {"foot": (points[order], pressure)}, 0.0,
        float(np.average(points[order, 0], weights=pressure + 1e-9)))


def _dimensions(case):
    from fefoot.foot.morph import Dimensions

    p = case.person
    return Dimensions(p.length_mm, p.heel_width_mm, p.forefoot_width_mm, p.heel_pad_mm,
                      p.metatarsal_pad_mm, p.navicular_height_mm)


def some_measures(case, factor):
    """One measure per tissue and quantity; every tissue and condition has its own size."""
    out = []
    for i, tissue in enumerate(tissues_of(case.model)):
        for quantity in TISSUES[tissue].quantities:
            strength = STRENGTH.get(quantity) if i % 5 < 3 else None
            own = 1.0 - 0.05 * i if i < 20 else 0.05 + 0.9 / i
            value = LEVEL[quantity] * own * (factor if i % 3 == 0 else 2 - factor)
            out.append(Measure(tissue, quantity, value, strength, "invented" if strength else ""))
    return tuple(out)


def some_checks():
    return (
        Check("force_balance", 3.1e-6, 1e-3, "", True, "sum of all forces over the applied force"),
        Check("penetration", 0.0021, 0.01, "mm", True, "deepest overlap of two bodies"),
        Check("smallest_det_F", 0.41, 0.05, "", True, "smallest volume left of an element"))


def a_comparison(case, failures=(), pictures=True, stance_percent=77.0, scale=1.0, size_mm=8.0):
    """All conditions of one instant, rows, ranking, best and worse made from measures."""
    names = [("barefoot", "no device"), *((d.name, d.title) for d in case.devices)]
    outcomes = []
    for i, (name, title) in enumerate(names):
        if name in failures:
            outcomes.append(Outcome(name, title, stance_percent,
                                    "no equilibrium at 61 % of the load"))
            continue
        outcomes.append(Outcome(
            name, title, stance_percent, None,
            some_measures(case, scale * (1.0, 0.93, 0.81, 1.04, 0.9)[i % 5]), some_checks(),
            {"seconds": 4.25, "newton_iterations": 31, "factorisations": 24,
             "solvers": ("cholesky",)}, (), a_picture(case, i, size_mm) if pictures else None))
    return compared(case, tuple(outcomes), stance_percent)


def compared(case, outcomes, stance_percent=77.0):
    keys = dict.fromkeys(m.key for o in outcomes for m in o.measures)
    keys = sorted(keys, key=lambda k: k[0] != case.target)
    rows = []
    for key in keys:
        values = tuple(o.value(*key) for o in outcomes)
        changes = tuple(
            None if None in (v, values[0]) else 100 * (abs(v) - abs(values[0])) / abs(values[0])
            for v in values)
        one = next(m for o in outcomes for m in o.measures if m.key == key)
        rows.append(Row(*key, values, changes, one.strength, one.strength_source))
    known = [r for r in rows if r.strength and r.values[0] is not None]
    ranking = sorted({r.tissue for r in known}, key=lambda t: -max(
        abs(r.values[0]) / r.strength for r in known if r.tissue == t))
    best = None
    if rows:
        lowered = [(c, o.name) for c, o in zip(rows[0].changes_percent, outcomes, strict=True)
                   if c is not None and c < 0]
        best = min(lowered)[1] if lowered else None
    worse = [
        (o.name, r.tissue, r.quantity, r.changes_percent[i])
        for i, o in enumerate(outcomes) for r in rows if (r.changes_percent[i] or 0) > 5]
    worse.sort(key=lambda w: ([o.name for o in outcomes].index(w[0]), -w[3]))
    return Comparison(stance_percent, outcomes, tuple(rows), tuple(ranking), best, tuple(worse))


@functools.cache
def usual():
    """The case and the comparison with pictures that most tests look at."""
    case = a_case()
    return case, a_comparison(case)
