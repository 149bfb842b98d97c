"""The table of findings as text, and what a committed table says."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator

from . import FINDINGS
from .record import CALIBRATION, CONSTRUCTION, MET, MISSED, UNSOLVED, Finding

COLUMNS = ("study", "quantity", "published", "accepted", "ours", "status", "known", "source",
           "condition in the model", "why that range", "likely reason of a miss")


def line(study: str, row: Finding) -> str:
    """Return one row of the table."""
    status = row.status if row.within else f"**{row.status}**"
    reason = "a solve failed or did not pass its checks" if row.status.startswith(UNSOLVED) else \
        "" if row.within else row.reason
    return "| " + " | ".join((
        study, row.quantity, row.published, row.accepted, f"{row.ours:.4g}", status, row.known,
        row.source, row.condition, row.why, reason)) + " |"


def finding_lines() -> Iterator[str]:
    """Yield the lines of the table."""
    yield ("\nNothing is tuned to a finding. Rows marked with the calibration or with construction do "
           "not count as validated. Most sources were read as abstracts only; a number in brackets "
           "is the section of the project's reference list. Mesh 4 mm, default settings.\n")
    yield f"| {' | '.join(COLUMNS)} |\n|{'---|' * len(COLUMNS)}"
    started, tally = time.perf_counter(), Counter()
    for name, study in FINDINGS.items():
        for row in study.run():
            tally[row.status] += 1
            yield line(name, row)
    marked = sum(n for status, n in tally.items() if CALIBRATION in status or CONSTRUCTION in status)
    yield (f"\n{tally[MET]} met, {tally[MISSED]} missed, {tally[UNSOLVED]} without a solution, "
           f"{marked} that do not count "
           f"({time.perf_counter() - started:.0f} s).")


def committed(text: str) -> dict[tuple[str, str, str], str]:
    """Return the status of each (study, quantity, published) in a table's text."""
    found = {}
    for entry in text.splitlines():
        cells = [cell.strip() for cell in entry.strip().strip("|").split(" | ")]
        if len(cells) == len(COLUMNS) - 1:  # an empty last cell
            cells.append("")
        if len(cells) == len(COLUMNS) and cells[0] in FINDINGS:
            found[cells[0], cells[1], cells[2]] = cells[5].strip("*")
    return found
