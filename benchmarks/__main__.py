"""Print the benchmark tables, or rewrite ``benchmarks/RESULTS.md`` with them.

``python -m benchmarks`` prints the quick closed forms and the speed tables; ``--full`` adds the slow
problems, the published findings and the studies of the shipped cases; ``--write`` does all that and
rewrites the committed file; ``--only`` restricts either to one section. Eight sections take
hours and are made only when they are named or with ``--long``; most keep their runs, so that a stopped
one goes on.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from .activities import activity_lines
from .crowd import crowd_lines
from .designs import design_lines
from .directions import direction_lines
from .findings.lines import finding_lines
from .hunt import hunt_lines
from .kept import forget_former_physics
from .same import confirm
from .speed import machine, speed_lines
from .steps import steps_lines
from .studies import study_lines
from .table import TABLE
from .whole_foot import whole_foot_lines
from .whole_foot_findings import whole_foot_finding_lines
from .whole_foot_speed import whole_foot_speed_lines

RESULTS = Path(__file__).with_name("RESULTS.md")
HEAD = ("| quantity | target | ours | error | tolerance | known | source | why that tolerance "
        "| mesh |\n|---|---|---|---|---|---|---|---|---|")
OUT = "**out**"


def closed_lines(full: bool) -> Iterator[str]:
    """Yield the lines of the closed-form tables; the last is the number that failed."""
    count, failed, skipped = 0, 0, []
    for name, benchmark in TABLE.items():
        if benchmark.slow and not full:
            skipped.append(name)
            continue
        start = time.perf_counter()
        rows = benchmark.run()
        yield f"\n### {benchmark.title} ({name}, {time.perf_counter() - start:.1f} s)\n\n{HEAD}"
        for r in rows:
            count, failed = count + 1, failed + (not r.passed)
            mark = "" if r.passed else f" {OUT}"
            yield (f"| {r.quantity} | {r.target:.6g} | {r.ours:.6g} | {r.error:.1e}{mark} "
                   f"| {r.tolerance:g} | {r.known} | {r.source} | {r.why} | {r.mesh} |")
    if skipped:
        yield f"\nLeft out without --full: {', '.join(skipped)}."
    yield f"\n{failed} of the {count} rows above are out of tolerance."


SECTIONS = {
    "closed": ("Closed forms and standard problems", lambda full, compute: closed_lines(full)),
    "findings": ("Published findings", lambda full, compute: finding_lines()),
    "studies": ("Mesh and penalty studies of the shipped cases", lambda full, compute: study_lines()),
    "steps": ("Steps of the load", lambda full, compute: steps_lines()),
    "speed": ("Speed", lambda full, compute: speed_lines(full)),
    "whole_foot": ("Mesh and penalty studies of the whole-foot cases",
                   lambda full, compute: whole_foot_lines(compute)),
    "whole_foot_speed": ("Speed, whole foot", lambda full, compute: whole_foot_speed_lines()),
    "whole_foot_findings": ("Published findings, whole foot",
                            lambda full, compute: whole_foot_finding_lines(compute)),
    "directions": ("Whole foot: directions", lambda full, compute: direction_lines(compute)),
    "activities": ("The largest force of every activity",
                   lambda full, compute: activity_lines(compute)),
    "designs": ("A sweep of many designs", lambda full, compute: design_lines()),
    "hunt": ("Search against a Latin hypercube", lambda full, compute: hunt_lines()),
    "crowd": ("Random persons on random devices, whole foot",
              lambda full, compute: crowd_lines(compute=compute)),
}
QUICK = "closed", "speed"
LONG = ("whole_foot", "whole_foot_speed", "whole_foot_findings", "directions", "activities", "designs",
        "hunt", "crowd")
TIMED = ("speed", "whole_foot_speed", "designs")


def kept(text: str) -> dict[str, list[str]]:
    """Return the lines of each section of a written file by its heading."""
    out: dict[str, list[str]] = {}
    for line in text.splitlines():
        if line.startswith("## "):
            out[line] = []
        elif out:
            out[list(out)[-1]].append(line)
    return out


def main() -> int:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--only", choices=tuple(SECTIONS))
    parser.add_argument("--full", action="store_true",
                        help="also the slow problems, the findings and the studies")
    parser.add_argument("--long", action="store_true",
                        help="everything in full, also the sections that take hours")
    parser.add_argument("--write", action="store_true",
                        help="everything (or the one section) in full, into benchmarks/RESULTS.md")
    parser.add_argument("--kept", action="store_true",
                        help="of the whole foot show the solves that were made, make none")
    parser.add_argument("--same", nargs=2, metavar=("N", "COMMIT"),
                        help="solve N random kept runs with the sources of a commit and with the "
                             "present ones; take all over when none differs")
    chosen = parser.parse_args()
    if chosen.same:
        if not chosen.same[0].isdecimal() or not int(chosen.same[0]):
            parser.error(f"--same: {chosen.same[0]!r} is not a number of runs, 1 or more")
        return confirm(int(chosen.same[0]), chosen.same[1])
    full = chosen.full or chosen.write or chosen.long
    names = (chosen.only,) if chosen.only else QUICK if not full else tuple(
        name for name in SECTIONS if chosen.long or name not in LONG)
    sections = kept(RESULTS.read_text(encoding="utf-8")) if chosen.write and RESULTS.exists() else {}
    print(f"# Benchmark results\n\n{machine()}", flush=True)
    out = False
    for name in names:
        title, lines = SECTIONS[name]
        heading = f"## {title}"
        print(f"\n{heading}", flush=True)
        taken = []
        for line in lines(full, not chosen.kept):
            print(line, flush=True)
            taken += line.splitlines() or [""]
            out |= OUT in line
        sections[heading] = ["", machine(), *taken] if name in TIMED else taken
        if chosen.write:
            _write(sections)
    left = [name for name in SECTIONS if name not in names]
    if left and not chosen.only:
        print(f"\nSections left out: {', '.join(left)}.")
    if chosen.write:
        if set(names) & set(LONG):
            forget_former_physics()
        print(f"\nwrote {RESULTS.name} in the benchmarks folder")
    return int(out)


def _write(sections: dict[str, list[str]]) -> None:
    """Write all sections in their order."""
    parts = ["# Benchmark results", "",
             "Written by `python -m benchmarks --write`; by hand only the line that says where a "
             "section is of a former shape of the foot."]
    for title, _ in SECTIONS.values():
        heading = f"## {title}"
        if heading in sections:
            while sections[heading] and not sections[heading][-1].strip():
                sections[heading].pop()
            parts += ["", heading, *sections[heading]]
    RESULTS.write_text("\n".join(parts) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
