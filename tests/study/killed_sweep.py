"""A sweep with a cheap evaluation in a process of its own, to be killed from outside.

Arguments: case file, store, table to write at the end. Says ``ready`` once everything is imported.
"""

import sys
from pathlib import Path

from study_runs import slow

from fefoot.case import read_case
from fefoot.study import run, study_folder
from fefoot.study.engine import on_processes
from fefoot.study.sweep import sweep
from fefoot.study.sweep_table import columns_and_rows


def main(file, store, table):
    run.mesh_digest = lambda *which: "-".join(map(str, which))
    case = read_case(file)
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    swept = sweep(case, store, evaluate=slow, executor=on_processes(2))
    sys.stdout.write(swept.tally.sentence() + "\n")
    files = study_folder.table_files("designs", *columns_and_rows(swept))
    Path(table).write_text(files["designs.csv"], encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
