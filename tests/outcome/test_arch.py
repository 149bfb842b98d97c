"""The navicular's drop: exact where the sole is a line or a plane."""

import numpy as np
import pytest

from fefoot.outcome.arch import navicular_drop_mm


def test_on_a_line_it_is_what_the_point_has_sunk_between_its_ends():
    rest = np.array([[20.0, 0.0], [40.0, 1.0], [120.0, 15.0], [180.0, 0.0], [200.0, 2.0]])
    supports = [rest[:, 0] < 60, rest[:, 0] > 150]
    tip = np.array([110.0, 40.0])
    fallen = rest + np.array([0.0, 9.0])
    up = np.array([0.0, 1.0])
    assert navicular_drop_mm(rest, fallen, supports, tip, tip + 3.0 * up) == pytest.approx(6.0)
    raised = rest + [[0.0, 9.0 if inside else 0.0] for inside in supports[1]]
    share = (110.0 - 20.0) / 160.0
    assert navicular_drop_mm(rest, raised, supports, tip, tip) == pytest.approx(9.0 * share)


def test_in_space_a_tilted_plane_is_no_drop(rng):
    rest = np.array([[30.0, 0.0, 0.0], [185.0, 0.0, -28.0], [165.0, 0.0, 40.0], [30.0, 5.0, 20.0],
                     [185.0, 4.0, -20.0], [165.0, 6.0, 30.0]])
    supports = [np.arange(6) % 3 == k for k in range(3)]
    tip = np.array([108.0, 35.0, -28.0])

    def tilted(points, slope=(0.05, -0.08), up=6.0):
        return points + np.array([0.0, 1.0, 0.0]) * (up + points[..., [0, 2]] @ slope)[..., None]

    assert navicular_drop_mm(rest, tilted(rest), supports, tip, tilted(tip)) == pytest.approx(0.0)
    sunk = tilted(tip) - np.array([0.0, 7.5, 0.0])
    assert navicular_drop_mm(rest, tilted(rest), supports, tip, sunk) == pytest.approx(7.5)
