"""The foot without a device at the largest force of every shipped activity, as a slice and whole.

A person of 70 kg; the whole foot on its coarse mesh. The peaks are 0.5 to 8 body weights (common
practice, no source). What is published for running stands below beside the model's answer.
"""

from __future__ import annotations

from collections.abc import Iterator

from .directions import COARSE_MM
from .findings.feet import WEIGHT_N, MASS_kg
from .findings.lines import COLUMNS, line
from .findings.record import QUARTER, UNSOLVED, Finding, near
from .kept import rows_of
from .whole_foot_findings import value_of

MODELS = "sagittal", "foot3d"
HEAD = ("| activity | at | force | model | fascia | Achilles tendon | ankle joint "
        "| peak under the heads | navicular drop | factorisations, seconds | result |\n|" + "---|" * 11)
SCOTT = "Scott & Winter 1990, Med Sci Sports Exerc 22:357-369"
KHARAZI = "Kharazi et al. 2021, Sci Rep 11:5830"
RUN = "slow_running"
RUNNERS = "published range (running, inverse dynamics)"
STILL = ("an instant without inertia, with the centre of pressure of a foot whose heel stays near the "
         "ground; sources of the same quantity differ by a factor of two")


def runs() -> dict:
    """Return the runs by activity and model."""
    from fefoot.case.reader import case_from_dict
    from fefoot.load.activity import activities
    from fefoot.study.run import Run

    out = {}
    for name in activities():
        for model in MODELS:
            case = case_from_dict({
                "title": "peak", "model": model, "target": "plantar_fascia",
                "person": {"body_mass_kg": MASS_kg}, "activity": {"name": name, "at": "peak"},
                "solver": {"mesh_size_mm": COARSE_MM} if model == "foot3d" else {}})
            (instant,) = case.activity.instants()
            out[name, model] = Run.of(case, None, instant)
    return out


def activity_line(name: str, model: str, instant, row) -> str:
    """Return the line of one solve."""
    start = (f"| {name.replace('_', ' ')} | {instant.stance_percent:g} % of stance "
             f"| {instant.vertical_bodyweights:g} body weights | {model} ")
    if row is None or row.failure:
        why = "not solved yet" if row is None else f"**failed**: {row.failure}"
        return f"{start}| | | | | | | {why} |"
    value = row.values.get
    tension, pull, press = (value((tissue, quantity)) for tissue, quantity in (
        ("plantar_fascia", "tension_N"), ("achilles", "tension_N"), ("ankle_joint", "force_N")))
    return (f"{start}| {tension:.0f} N | {pull:.0f} N | {press:.0f} N "
            f"| {value(('metatarsal_pad', 'peak_pressure_kPa')):.0f} kPa "
            f"| {value(('whole_foot', 'navicular_drop_mm')):.1f} mm "
            f"| {row.cost['factorisations']:.0f}, {row.cost['seconds']:.0f} s | ok |")


def findings(known: dict) -> dict[str, list[Finding]]:
    """Return what is published for running beside the answers of both models."""
    value = value_of(known)
    out = {}
    for model in MODELS:
        pull = value((RUN, model), "achilles", "tension_N")
        at = f"{model}, barefoot, 70 kg, slow running at its largest force, 2.5 body weights"
        shares = (("fascia tension", 1.3, 2.9, value((RUN, model), "plantar_fascia", "tension_N")),
                  ("Achilles tension", 6.1, 8.2, pull),
                  ("ankle joint force", 10.3, 14.1, value((RUN, model), "ankle_joint", "force_N")))
        out[f"running, {model}"] = [
            *(Finding(f"{what} [body weights]", f"{low} to {high}", low, high, force_N / WEIGHT_N,
                      SCOTT, "recalled", at, RUNNERS, STILL) for what, low, high, force_N in shares),
            Finding("Achilles tension [N]", "2556 N at 3.5 m/s", *near(2556.0), pull, KHARAZI, "read",
                    at, QUARTER, STILL)]
    return out


def activity_lines(compute: bool = True) -> Iterator[str]:
    """Yield the lines of both tables."""
    wanted = runs()
    known = rows_of(wanted, compute)
    yield f"\n{' '.join(__doc__.split())}\n\n{HEAD}"
    for (name, model), run in wanted.items():
        yield activity_line(name, model, run.instant, known[name, model])
    yield f"\n| {' | '.join(COLUMNS)} |\n|{'---|' * len(COLUMNS)}"
    rows = [(study, row) for study, found in findings(known).items() for row in found]
    for study, row in rows:
        yield line(study, row)
    count = [sum(row.within for _, row in rows), sum(row.status == UNSOLVED for _, row in rows)]
    yield f"\n{count[0]} met, {len(rows) - sum(count)} missed, {count[1]} without a solution."
