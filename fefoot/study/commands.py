"""What the commands of the studies do: read, compute through the store, write the folder, answer."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

from ..errors import InputError
from .counter import Counter
from .engine import on_processes

FAILED = 3
LEAST_WORKERS, MOST_WORKERS = 1, 1024


@dataclass(frozen=True)
class Where:
    """How a study is computed: store, cluster address or none, workers, failed runs again or not."""

    store: str
    cluster: str | None = None
    workers: int | None = None
    again: bool = False

    def executor(self):
        """Return the executor; InputError for a wrong number of workers or no cluster."""
        if self.workers is not None and not LEAST_WORKERS <= self.workers <= MOST_WORKERS:
            raise InputError("this number of workers cannot be", key="--workers", value=self.workers,
                             allowed=f"{LEAST_WORKERS} to {MOST_WORKERS}", hint="leave it out")
        if self.cluster is None:
            return on_processes(self.workers)
        from .cluster import on_cluster

        return on_cluster(self.cluster, self.workers)

    @property
    def words(self) -> str:
        """Where runs are computed, in words."""
        return "processes on this machine" if self.cluster is None else \
            f"dask.distributed, {'a local cluster' if self.cluster == 'local' else self.cluster}"


def run_sweep(file: str, out: Path, where: Where, width: int = 100) -> tuple[str, int]:
    """Sweep a case; return what to print and the exit code."""
    from ..case import read_case
    from ..report.sweep_page import sweep_page
    from ..report.sweep_words import table
    from .study_folder import plain_json, study_folder, study_provenance, table_files, write_study
    from .sweep import sweep
    from .sweep_table import columns_and_rows, summary

    case = read_case(file)
    out = study_folder(out)
    swept = counted(lambda tell: sweep(case, where.store, executor=where.executor(), tell=tell,
                                       again=where.again))
    chosen = case.studies.sweep
    facts = study_provenance(swept.tally, swept.seconds, where.words,
                             None if chosen.sampling == "grid" else chosen.seed)
    files = table_files("designs", *columns_and_rows(swept))
    files |= {"summary.json": plain_json(summary(swept)), "provenance.json": plain_json(facts),
              "report.html": sweep_page(swept, facts)}
    text = _told(table(swept, width), swept.tally, where, files, write_study(out, case, files))
    return text, FAILED if all(line.failure for line in swept.varied) else 0


def run_certainty(file: str, out: Path, where: Where, width: int = 100,
                  without_indices: bool = False) -> tuple[str, int]:
    """Study how certain a case's answer is; return what to print and the exit code."""
    from ..case import read_case
    from ..report.certainty_page import certainty_page
    from ..report.certainty_words import table
    from .certainty import certainty, settings
    from .certainty_table import sample_table, spread_table, summary
    from .study_folder import plain_json, study_folder, study_provenance, table_files, write_study

    case = read_case(file)
    out = study_folder(out)
    found = counted(lambda tell: certainty(
        case, where.store, executor=where.executor(), tell=tell, again=where.again,
        without_indices=without_indices))
    facts = study_provenance(found.tally, found.seconds, where.words, settings(case).seed)
    files = table_files("certainty", *spread_table(found))
    files |= table_files("samples", *sample_table(found))
    files |= {"summary.json": plain_json(summary(found)), "provenance.json": plain_json(facts),
              "report.html": certainty_page(found, facts)}
    return _told(table(found, width), found.tally, where, files,
                 write_study(out, case, files)), 0


def run_search(file: str, out: Path, where: Where, width: int = 100) -> tuple[str, int]:
    """Search a case's design space; return what to print and the exit code."""
    from ..case import read_case
    from ..report.search_page import search_page
    from ..report.search_words import table
    from .search import search
    from .search_table import design_table, summary
    from .study_folder import plain_json, study_folder, study_provenance, table_files, write_study

    case = read_case(file)
    out = study_folder(out)
    found = counted(lambda tell: search(case, where.store, executor=where.executor(), tell=tell,
                                        again=where.again))
    facts = study_provenance(found.swept.tally, found.swept.seconds, where.words,
                             case.studies.search.seed)
    files = table_files("designs", *design_table(found))
    files |= {"summary.json": plain_json(summary(found)), "provenance.json": plain_json(facts),
              "report.html": search_page(found, facts)}
    return _told(table(found, width), found.swept.tally, where, files,
                 write_study(out, case, files)), 0


def _told(text: str, tally, where: Where, files, folder: Path) -> str:
    """Return an answer with what was computed and where it is; tables that could not be written."""
    missing = [f"{name.removesuffix('.csv')}.parquet" for name in files
               if name.endswith(".csv") and f"{name.removesuffix('.csv')}.parquet" not in files]
    lines = [text, tally.sentence(), f"runs are kept in {where.store}; results are in {folder}"]
    if missing:
        lines.append(f"without {' and '.join(missing)}: pyarrow is not installed "
                     "(install fefoot[study])")
    return "\n".join(lines)


def counted(work):
    """Return ``work(tell)`` with its progress shown on the standard error stream."""
    counter = Counter(sys.stderr)
    try:
        return work(counter)
    finally:
        counter.close()
