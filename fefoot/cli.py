"""The command line: compare, check, report, make, list."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from pathlib import Path

from . import __version__
from .errors import FefootError

LIST_NAMES = ("tissues", "materials", "features", "activities", "settings")
FAILED, INTERNAL_ERROR, INTERRUPTED, BROKEN_PIPE = 3, 70, 130, 141


def main(argv: list[str] | None = None) -> int:
    """Run one command and return its exit code.

    0 done; 2 the input is wrong; 3 no equilibrium or failed checks; 4 no solver or mesh;
    70 internal error; 130 interrupted; 141 the reader of the output went away.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    debug = False
    try:
        arguments = _parser().parse_args(argv)
        debug = arguments.debug
        code = arguments.run(arguments)
        sys.stdout.flush()
        return code
    except SystemExit as leave:
        return leave.code if isinstance(leave.code, int) else 0
    except FefootError as error:
        if debug:
            raise
        return _complain(str(error), error.exit_code)
    except KeyboardInterrupt:
        return _complain("interrupted", INTERRUPTED)
    except BrokenPipeError:
        # Nothing more can be written; keep the interpreter from flushing into the broken pipe.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return BROKEN_PIPE
    except Exception as error:
        if debug:
            raise
        return _complain(
            f"internal error: {type(error).__name__}: {' '.join(str(error).split())[:200]} "
            "(run again with --debug for the traceback)", INTERNAL_ERROR,
        )


def _complain(message: str, code: int) -> int:
    print(f"fefoot: {message}", file=sys.stderr)
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="fefoot",
        description="Compute what a device under the foot does to the tissues inside it. "
        "A research model: no diagnosis, no prescription.",
    )
    parser.add_argument("--version", action="version", version=f"fefoot {__version__}")
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument("--debug", action="store_true", help="show the traceback of an error")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")

    compare = commands.add_parser(
        "compare", parents=[common], help="solve a case with and without its devices")
    compare.add_argument("case", help="case file (TOML)")
    compare.add_argument("--out", metavar="DIR", help="run folder (default: runs/NAME-OF-CASE)")
    compare.set_defaults(run=_compare)

    check = commands.add_parser(
        "check", parents=[common], help="read a case, check it, and say what would be solved")
    check.add_argument("case", help="case file (TOML)")
    check.add_argument("--picture", metavar="FILE", help="also draw the case's scan in place (PNG)")
    check.set_defaults(run=_check)

    report = commands.add_parser(
        "report", parents=[common], help="build the page of a finished run folder again")
    report.add_argument("folder", metavar="RUN_FOLDER", help="folder that fefoot compare wrote")
    report.set_defaults(run=_report)

    making = commands.add_parser(
        "make", parents=[common], help="write a device as watertight STL with its build sheet")
    making.add_argument("case", help="case file (TOML)")
    making.add_argument("--device", metavar="NAME", help="which device, where the case has several")
    making.add_argument("--out", metavar="DIR", required=True, help="folder to write")
    making.set_defaults(run=_make)

    for name, run, doc in (
            ("sweep", _sweep, "compute every design of a case's design space, resuming what is there"),
            ("certainty", _certainty, "how far the answer depends on what nobody can measure"),
            ("search", _search, "find the designs that meet a case's question"),
    ):
        study = commands.add_parser(name, parents=[common], help=doc)
        study.add_argument("case", help="case file (TOML)")
        study.add_argument("--out", metavar="DIR", help=f"folder to write (default: runs/CASE-{name})")
        study.add_argument("--store", metavar="DIR", default=os.path.join("runs", "store"),
                           help="folder of finished runs, shared by all studies (default: %(default)s)")
        study.add_argument("--workers", metavar="N", type=int, help="runs at a time (default: cores)")
        study.add_argument("--cluster", metavar="ADDRESS",
                           help="compute on dask.distributed: local, or a scheduler's address")
        study.add_argument("--again", action="store_true", help="also try again what failed before")
        if run is _certainty:
            study.add_argument("--without-indices", action="store_true",
                               help="accept samples without an answer: bands, no sensitivity indices")
        study.set_defaults(run=run)

    listing = commands.add_parser(
        "list", parents=[common], help="list what a case file can name, with units and sources")
    listing.add_argument("what", choices=LIST_NAMES, nargs="?", help="leave out to list all")
    listing.set_defaults(run=_list)
    return parser


def _compare(arguments) -> int:
    from .case import read_case

    case = read_case(arguments.case)
    out = Path(arguments.out) if arguments.out else _free(Path("runs") / Path(arguments.case).stem)

    from .study.compare import compare
    from .study.progress import Progress

    progress = Progress(sys.stderr)
    try:
        result = compare(case, out, progress)
    finally:
        progress.close()

    from .report import answer_text

    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else 100
    print(answer_text(case, result.comparisons, width=width))
    print(f"results are in {result.folder}")
    return FAILED if result.failed else 0


def _free(path: Path) -> Path:
    """Return the path, or the first of path-2, path-3, ... that does not exist."""
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.name}-{number}")
    return free


def _check(arguments) -> int:
    from .case import read_case
    from .case.summary import summary

    case = read_case(arguments.case)
    for line in summary(case):
        print(line)
    if arguments.picture:
        from .report.scan_picture import save_scan_picture

        print(f"the scan in place is drawn in {save_scan_picture(case, arguments.picture)}")
    print(f"{arguments.case} is a valid case")
    return 0


def _report(arguments) -> int:
    from .study.rebuild import rebuild

    print(f"the page is {rebuild(arguments.folder)}")
    return 0


def _make(arguments) -> int:
    from .case import read_case
    from .making import make

    folder = make(read_case(arguments.case), arguments.device, arguments.out)
    print(f"STL and build sheet are in {folder}")
    return 0


def _sweep(arguments) -> int:
    from .study.commands import run_sweep

    return _study(run_sweep, "sweep", arguments)


def _certainty(arguments) -> int:
    from .study.commands import run_certainty

    return _study(run_certainty, "certainty", arguments, without_indices=arguments.without_indices)


def _search(arguments) -> int:
    from .study.commands import run_search

    return _study(run_search, "search", arguments)


def _study(run, name, arguments, **options) -> int:
    from .study.commands import Where

    out = Path(arguments.out) if arguments.out else _free(
        Path("runs") / f"{Path(arguments.case).stem}-{name}")
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else 100
    text, code = run(arguments.case, out, Where(
        arguments.store, arguments.cluster, arguments.workers, arguments.again), width, **options)
    print(text)
    return code


def _list(arguments) -> int:
    from .case.listing import LISTS

    for what in [arguments.what] if arguments.what else LIST_NAMES:
        if not arguments.what:
            print(f"== {what}")
        for line in LISTS[what]():
            print(line)
    return 0
