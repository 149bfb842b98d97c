"""Search against a Latin hypercube: the best design of at most 60 solves beside the best of 200.

Two shipped questions with their device's values free within ranges. Both ways see the same space and
the same limits; the best design is the one with the largest fall of the target that keeps every limit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from .kept import STORE, progress

CASES = Path(__file__).resolve().parent.parent / "cases"
SOLVES, SAMPLES = 60, 200
HEAD = ("| case | way | solves | without answer | keep the limits | best change [%] | found at solve "
        "| its values |\n|---|---|---|---|---|---|---|---|")
FREE = {
    "sore_fascia_walking": {
        "sweep": {"device": "arch_shell", "vary": [
            {"name": "shell_mm", "of": "layer.2.thickness_mm", "from": 2.0, "to": 4.0},
            {"name": "fill", "of": "feature.arch_fill.fill_percent", "from": 40.0, "to": 80.0},
            {"name": "cover_mm", "of": "layer.1.thickness_mm", "from": 2.0, "to": 5.0},
            {"name": "cover", "of": "layer.1.material", "among": ["eva_soft", "eva_firm"]}]},
        "search": {"reduction_percent": 15.0, "limit": [
            {"tissue": "midfoot_sole", "quantity": "peak_pressure_kPa", "most": 48.0}]}},
    "sore_heel_standing": {
        "sweep": {"device": "moulded_6", "vary": [
            {"name": "insole_mm", "of": "layer.1.thickness_mm", "from": 3.0, "to": 12.0},
            {"name": "material", "of": "layer.1.material",
             "among": ["soft_insole", "eva_soft", "eva_medium", "eva_firm"]},
            {"name": "base", "of": "device.base", "among": ["flat", "foot"]}]},
        "search": {"reduction_percent": 30.0, "limit": [
            {"tissue": "midfoot_sole", "quantity": "peak_pressure_kPa", "most": 40.0}]}},
}


@dataclass(frozen=True)
class Hunt:
    """What one way found: lines in the order of solving, the best one, at which solve."""

    lines: tuple
    kept: tuple
    best: object | None
    at: int | None


def asked(name: str, samples: int = SAMPLES, solves: int = SOLVES):
    """Return a shipped case with its device's values free within ranges."""
    import tomllib

    from fefoot.case.reader import case_from_dict

    given = tomllib.loads((CASES / f"{name}.toml").read_text(encoding="utf-8"))
    free = FREE[name]
    given = {k: v for k, v in given.items() if k != "certainty"}
    varied = free["sweep"]["device"]
    given["device"] = [device for device in given["device"] if device["name"] == varied]
    given["sweep"] = free["sweep"] | {"sampling": "latin_hypercube", "samples": samples, "seed": 7}
    given["search"] = free["search"] | {"solves": solves, "start": 16}
    return case_from_dict(given)


def judged(case, lines) -> Hunt:
    """Return the best of the lines under the case's limits."""
    from fefoot.study.choice import leading_key, ranked
    from fefoot.study.search import worst_excess

    key, question = leading_key(case), case.studies.search
    lines = tuple(line for line in lines if line.varied)
    kept = tuple(line for line in ranked(lines, key) if worst_excess(line, question) <= 0.0)
    best = kept[0] if kept else None
    return Hunt(lines, kept, best, 1 + [x.design for x in lines].index(best.design) if best else None)


def hunted(name: str, workers: int, tell=None) -> dict[str, Hunt]:
    """Return what hypercube and search find."""
    from fefoot.study.engine import on_processes
    from fefoot.study.search import search
    from fefoot.study.sweep import sweep

    case, executor = asked(name), on_processes(workers)
    found = search(case, STORE, executor=executor, tell=tell)
    spread = sweep(case, STORE, executor=executor, tell=tell)
    return {"search": judged(case, found.swept.lines), "hypercube": judged(case, spread.lines)}


def hunt_lines(names=tuple(FREE), workers: int = 2) -> Iterator[str]:
    """Yield a row per case and way."""
    from fefoot.study.choice import leading_key

    yield f"\n{' '.join(__doc__.split())}\n\n{HEAD}"
    for name in names:
        case = asked(name)
        for way, hunt in hunted(name, workers, progress).items():
            failed = sum(line.failure is not None for line in hunt.lines)
            change = values = ""
            if hunt.best:
                change = f"{hunt.best.change_percent(leading_key(case)):.2f}"
                values = ", ".join(f"{k} {v:.3g}" if isinstance(v, float) else f"{k} {v}"
                                   for k, v in hunt.best.varied.items())
            yield (f"| {name} | {way} | {len(hunt.lines)} | {failed} | {len(hunt.kept)} | {change} "
                   f"| {hunt.at or ''} | {values} |")
