"""The command line: compare, check, list."""

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
    check.set_defaults(run=_check)

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

    from .report import table

    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else 100
    for comparison in result.comparisons:
        print(table(case, comparison, width=width))
        print()
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
    print(f"{arguments.case} is a valid case")
    return 0


def _list(arguments) -> int:
    from .case.listing import LISTS

    for what in [arguments.what] if arguments.what else LIST_NAMES:
        if not arguments.what:
            print(f"== {what}")
        for line in LISTS[what]():
            print(line)
    return 0


if __name__ == "__main__":
    sys.exit(main())
