"""What others build on: names of the package, commands and options, exit codes."""

import argparse

import pytest

import fefoot
from fefoot import cli, errors


def test_the_package_offers_these_names():
    assert fefoot.__all__ == ["__version__", "compare", "materials", "read_case"]
    assert dir(fefoot) == sorted(fefoot.__all__)
    assert all(getattr(fefoot, name) is not None for name in fefoot.__all__)
    from fefoot.study.compare import compare

    assert fefoot.compare is compare


def commands():
    parser = cli._parser()
    table = next(a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    return table.choices


def test_the_command_line_offers_these_commands():
    assert list(commands()) == ["compare", "check", "report", "make", "sweep", "certainty",
                                "search", "list"]
    assert cli.LIST_NAMES == ("tissues", "materials", "features", "activities", "settings")


STUDY = {"--out", "--store", "--workers", "--cluster", "--again", "--debug"}


@pytest.mark.parametrize(("command", "options"), [
    ("compare", {"case", "--out", "--debug"}), ("check", {"case", "--picture", "--debug"}),
    ("report", {"folder", "--debug"}), ("make", {"case", "--device", "--out", "--debug"}),
    ("sweep", {"case", *STUDY}), ("search", {"case", *STUDY}),
    ("certainty", {"case", "--without-indices", *STUDY}), ("list", {"what", "--debug"})])
def test_the_commands_take_these_options(command, options):
    found = {(a.option_strings or [a.dest])[-1] for a in commands()[command]._actions}
    assert found - {"--help"} == options


def test_the_exit_codes_are_fixed():
    assert {name: getattr(errors, name).exit_code for name in (
        "InputError", "ConvergenceError", "CheckError", "LinearSolverError", "MeshError")} == {
        "InputError": 2, "ConvergenceError": 3, "CheckError": 3, "LinearSolverError": 4,
        "MeshError": 4}
    assert (cli.FAILED, cli.INTERNAL_ERROR, cli.INTERRUPTED, cli.BROKEN_PIPE) == (3, 70, 130, 141)
