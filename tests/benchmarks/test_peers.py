"""What one library reports from a process of its own."""

import pytest

from benchmarks.peers import LIBRARIES, alone


@pytest.mark.parametrize("library", LIBRARIES)
def test_a_library_alone(library):
    if library == "FElupe":
        pytest.importorskip("felupe")
    found = alone(library, 2)
    assert 0 < found["seconds"] < 60 and found["MB"] > 20


def test_an_unknown_library_reports_nothing():
    assert alone("no such library", 2) == {}
