"""What the speed tables say of goals, without timing anything."""

import pytest

from benchmarks.speed import RATIO_GOAL, cost_line, marked


def test_a_goal_that_is_not_reached_is_marked():
    assert marked(0.25, True) == "0.25" and marked(12.34, False, ".1f") == "12.3 **missed**"


@pytest.mark.parametrize(("whole", "text"), [
    (RATIO_GOAL, "1.50"), (RATIO_GOAL + 0.01, "1.51 **missed**")])
def test_the_cost_of_a_solve(whole, text):
    cost = {"newton_iterations": 9.0, "factorisations": 7, "seconds": whole, "factor_seconds": 1.0}
    assert cost_line("a", cost) == f"| a | 9 | 7 | {whole:.2f} | 1.00 | {text} |"
    assert cost_line("a", {}) == "| a | no solution | | | | |"
