"""The tables and the summary of a certainty study as plain values."""

from __future__ import annotations

from dataclasses import asdict

from ..case.tissues import TISSUES
from .certainty import Certain, Spread
from .compare import BAREFOOT


def spread_table(found: Certain) -> tuple[list[str], list[list]]:
    """Return one row per device and measure: change of the case, median, band, sign, indices."""
    names = [unknown.name for unknown in found.unknowns]
    columns = ["device", "tissue", "quantity", "samples", "case_change_percent",
               "median_change_percent", "low_5_change_percent", "high_95_change_percent",
               "same_sign_percent"]
    for name in names:
        columns += [f"{name}.first_index", f"{name}.first_half_width", f"{name}.total_index",
                    f"{name}.total_half_width"]
    rows = []
    for spread in found.spreads:
        row = [spread.device, spread.tissue, spread.quantity, spread.count, spread.case_percent,
               spread.median, spread.low, spread.high, spread.same_sign_percent]
        known = {index.unknown: index for index in spread.indices or ()}
        for name in names:
            index = known.get(name)
            row += [None] * 4 if index is None else [
                index.first, index.first_half_width, index.total, index.total_half_width]
        rows.append(row)
    return columns, rows


def sample_table(found: Certain) -> tuple[list[str], list[list]]:
    """Return one row per sample and condition; sample 0 is the case as it stands."""
    names = [unknown.name for unknown in found.unknowns]
    keys = sorted({key for s in found.samples for row in s.rows.values() for key in row.values})
    columns = ["sample", "condition", *names, "status", "reason", "run"]
    columns += [f"{tissue}.{quantity}" for tissue, quantity in keys]
    rows = []
    for sample in found.samples:
        for condition, row in sample.rows.items():
            rows.append([sample.number, condition, *(sample.values.get(name) for name in names),
                         "failed" if row.failure else "ok", row.failure or "", row.key,
                         *(row.values.get(key) for key in keys)])
    return columns, rows


def leading(found: Certain, device: str) -> list[Spread]:
    """Return the first measure of each tissue: the target's, then the largest median first."""
    target = found.case.target
    first = {tissue: entry.quantities[0] for tissue, entry in TISSUES.items()}
    rows = [s for s in found.spreads if s.device == device and first.get(s.tissue) == s.quantity
            and s.tissue != "whole_foot"]
    return sorted(rows, key=lambda s: (s.tissue != target, -abs(s.median)))


def summary(found: Certain) -> dict:
    """Return the answer of a certainty study as plain values."""
    return {
        "title": found.case.title, "target": found.case.target,
        "samples": len(found.samples) - 1,
        "unknowns": [{"name": u.name, "of": u.of, "source": u.source} for u in found.unknowns],
        "missing": [{"sample": n, "condition": c, "reason": r} for n, c, r in found.missing],
        "extrapolated": [asdict(entry) for entry in found.beyond],
        "devices": {device: [{
            "tissue": s.tissue, "quantity": s.quantity, "median_percent": s.median,
            "band_percent": [s.low, s.high], "same_sign_percent": s.same_sign_percent,
            "samples": s.count, "samples_of_same_sign": s.same_sign,
            "total_indices": {i.unknown: i.total if i.total_known else None
                              for i in s.indices or ()},
        } for s in leading(found, device)] for device in devices_of(found)},
    }


def devices_of(found: Certain) -> list[str]:
    """Return the names of the devices."""
    return [name for name in found.samples[0].rows if name != BAREFOOT]
