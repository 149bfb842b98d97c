"""Triangle surfaces: exact area and volume of a box, and each way of being broken."""

import numpy as np
import pytest

from fefoot.device.facets import Facets, degenerate, edges_of, faults, merged

CORNERS = np.array([[x, y, z] for x in (0.0, 2.0) for y in (0.0, 3.0) for z in (0.0, 5.0)])
QUADS = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
TRIANGLES = np.array([t for a, b, c, d in QUADS for t in ((a, b, c), (a, c, d))])
BOX = Facets(CORNERS, TRIANGLES)


def test_a_box_is_a_solid():
    assert faults(BOX) == []
    assert BOX.volume_mm3() == pytest.approx(30.0, rel=1e-14)
    assert BOX.area_mm2() == pytest.approx(62.0, rel=1e-14)
    assert len(edges_of(BOX).open_edges) == 0 and len(edges_of(BOX).pairs) == 18


def test_volume_does_not_depend_on_the_place(rng):
    far = Facets(CORNERS + rng.uniform(-1e3, 1e3, 3), TRIANGLES)
    assert far.volume_mm3() == pytest.approx(30.0, rel=1e-10)


def test_mirrored_stays_outward():
    assert faults(BOX.mirrored()) == []
    assert BOX.mirrored().points_mm[:, 2].min() == -5.0


@pytest.mark.parametrize(("triangles", "words"), [
    (TRIANGLES[1:], "3 open edges"),
    (np.vstack([TRIANGLES[:1, ::-1], TRIANGLES[1:]]), "3 edges between triangles of opposite"),
    (np.vstack([TRIANGLES, [[0, 7, 1]]]), "edges of more than two triangles"),
    (TRIANGLES[:, ::-1], "a volume of -30 mm3"),
])
def test_each_fault_is_named(triangles, words):
    assert words in ", ".join(faults(Facets(CORNERS, triangles)))


def test_a_triangle_without_area_is_found():
    line = Facets(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0]]),
                  np.array([[0, 1, 2], [0, 1, 3]]))
    assert degenerate(line).tolist() == [True, False]


def test_merging_joins_equal_corners(rng):
    shuffled = rng.permutation(TRIANGLES)
    joined = merged(CORNERS[shuffled])
    assert len(joined.points_mm) == 8 and faults(joined) == []
    assert joined.volume_mm3() == pytest.approx(30.0)
