"""What one library reports from a process of its own."""

import numpy as np
import pytest

from benchmarks.peers import LIBRARIES, alone


@pytest.mark.parametrize("library", LIBRARIES)
def test_a_library_alone(library):
    if library == "FElupe":
        pytest.importorskip("felupe")
    found = alone(library, 2)
    assert 0 < found["seconds"] < 60 and found["MB"] > 20


def test_memory_is_that_of_the_process_and_not_of_its_parent():
    ballast = np.ones((60, 1024, 1024))  # 480 MB here, and in no child
    assert alone("ours", 2)["MB"] < 400
    assert ballast.sum() > 0


def test_an_unknown_library_reports_nothing():
    assert alone("no such library", 2) == {}
