"""Print the benchmark tables: ``python -m benchmarks [--only closed|speed] [--full] [--write]``."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from .speed import machine, speed_lines
from .table import TABLE

HEAD = ("| quantity | target | ours | error | tolerance | known | source | why that tolerance "
        "| mesh |\n|---|---|---|---|---|---|---|---|---|")


def closed_lines(full: bool):
    """Yield the lines of the closed-form tables; the last is the number that failed."""
    failed, skipped = 0, []
    for name, benchmark in TABLE.items():
        if benchmark.slow and not full:
            skipped.append(name)
            continue
        start = time.perf_counter()
        rows = benchmark.run()
        yield f"\n### {benchmark.title} ({name}, {time.perf_counter() - start:.1f} s)\n\n{HEAD}"
        for r in rows:
            failed += not r.passed
            mark = "" if r.passed else " **out**"
            yield (f"| {r.quantity} | {r.target:.6g} | {r.ours:.6g} | {r.error:.1e}{mark} "
                   f"| {r.tolerance:g} | {r.known} | {r.source} | {r.why} | {r.mesh} |")
    if skipped:
        yield f"\nLeft out without --full: {', '.join(skipped)}."
    yield f"\n{failed} of the rows above are out of tolerance."


def main() -> int:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--only", choices=("closed", "speed"))
    parser.add_argument("--full", action="store_true", help="also the slow problems")
    parser.add_argument("--write", action="store_true", help="write benchmarks/RESULTS.md")
    chosen = parser.parse_args()
    lines: list[str] = []

    def take(*new):
        for line in new:
            lines.append(line)
            print(line, flush=True)

    take("# Benchmark results", "", machine())
    if chosen.only != "speed":
        take("\n## Closed forms and standard problems")
        for line in closed_lines(chosen.full):
            take(line)
    if chosen.only != "closed":
        take("\n## Speed")
        for line in speed_lines():
            take(line)
    if chosen.write:
        path = Path(__file__).with_name("RESULTS.md")
        path.write_text("\n".join(lines) + "\n")
        print(f"\nwrote {path.name} in the benchmarks folder")
    return int(any("**out**" in line for line in lines))


if __name__ == "__main__":
    sys.exit(main())
