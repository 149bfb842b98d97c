"""Threads of array libraries: one within a solve, as before after it."""

from pathlib import Path

import numpy as np
import pytest
import threadpoolctl

from fefoot.case.reader import read_case
from fefoot.mechanics import threads
from fefoot.study import compare


def array_threads():
    """Return how many threads each array library takes."""
    np.ones((2, 2)) @ np.ones((2, 2))
    return [library["num_threads"] for library in threadpoolctl.threadpool_info()
            if library["internal_api"] in threads.ARRAY_LIBRARIES]


@pytest.fixture
def several():
    if not array_threads():
        pytest.skip("this NumPy has an array library without threads of its own")
    with threadpoolctl.threadpool_limits(limits=2, user_api="blas"):
        if set(array_threads()) != {2}:
            pytest.skip("one core")
        yield


def test_one_within_the_block_and_several_after_it(several):
    with threads.one_for_arrays():
        assert set(array_threads()) == {1}
    assert set(array_threads()) == {2}


def test_a_failure_leaves_the_number_as_it_was(several):
    @threads.one_for_arrays()
    def fails():
        assert set(array_threads()) == {1}
        raise ValueError("no equilibrium")

    for _ in range(2):
        with pytest.raises(ValueError, match="no equilibrium"):
            fails()
        assert set(array_threads()) == {2}


def test_a_condition_is_solved_and_measured_on_one(several, monkeypatch):
    seen = []

    def nothing_to_solve(question, demand, **options):
        seen.append(set(array_threads()))
        raise compare.ConvergenceError("enough")

    monkeypatch.setattr(compare, "solve_question", nothing_to_solve)
    case = read_case(Path(__file__).parents[2] / "cases" / "sore_heel_standing.toml")
    outcome = compare.condition(case, None, case.activity.instants()[0], lambda event: None)
    assert outcome.failure == "not converged: enough" and seen == [{1}]
