"""Write the studies of a case back as TOML."""

from __future__ import annotations

from dataclasses import asdict

from .studies import Studies


def study_tables(studies: Studies):
    """Yield ``(name of the table, brackets, values)`` in the order of a case file."""
    if studies.sweep is not None:
        sweep = studies.sweep
        yield "sweep", 1, _given({
            "device": sweep.device or None, "sampling": sweep.sampling, "samples": sweep.samples,
            "seed": sweep.seed})
        for entry in sweep.vary:
            yield "sweep.vary", 2, _varied(entry) | _given({"step": entry.step})
        for rules in sweep.exclude:
            yield "sweep.exclude", 2, rules
    if studies.certainty is not None:
        certainty = studies.certainty
        yield "certainty", 1, {"samples": certainty.samples, "seed": certainty.seed}
        for entry in certainty.unknowns:
            yield "certainty.unknown", 2, _varied(entry) | _given({
                "middle": entry.middle, "spread": entry.spread, "source": entry.source})
    if studies.search is not None:
        values = asdict(studies.search)
        yield "search", 1, {k: v for k, v in values.items() if k != "limits"}
        for limit in studies.search.limits:
            yield "search.limit", 2, _given(asdict(limit))


def _varied(entry) -> dict:
    return _given({"name": entry.name, "of": entry.of, "among": entry.among or None,
                   "from": entry.low, "to": entry.high})


def _given(values: dict) -> dict:
    return {name: value for name, value in values.items() if value is not None}
