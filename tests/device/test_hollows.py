"""Reliefs, grooves and cut-outs: where they sink, how deep, and that no layer is cut through."""

import numpy as np
import pytest
from test_features import LAYERS, X, Z, device, rise

from fefoot.device import (
    FEATURES,
    Device,
    Layer,
    build_sheet,
    feature,
    heights,
    interfaces_mm,
    rearfoot_plane,
    sagittal_plane,
    section,
)
from fefoot.device.hollows import CUT_OUT_FRONT_MM, PLACES, fascia_line, place_mm

THICK = (Layer("eva_soft", 2.0), Layer("eva_medium", 12.0))
HOLLOWS = ("relief", "fascia_groove", "first_ray_cut_out")


def sunk(foot, *features, x=X, z=Z):
    """Depth of hollows in a device with 11 mm to give."""
    bare, found = (heights(Device("d", layers=THICK, features=f), foot, x, z).top_mm
                   for f in ((), features))
    return bare - found


@pytest.mark.parametrize("place", PLACES)
def test_a_relief_is_a_round_dish_at_its_place(foot, place):
    at = place_mm(place, foot)
    entry = feature("relief", place=place, depth_mm=4.0, radius_mm=16.0)
    away = np.hypot(X - at[0], Z - at[1])
    got = sunk(foot, entry)
    assert np.all(got[away >= 16.0] == 0.0) and got.min() == 0.0
    assert np.allclose(got[away <= 8.0], 4.0)
    # the ramp is half way down at three quarters of the radius, on every side
    turn = np.radians(np.arange(0.0, 360.0, 30.0))
    ring = sunk(foot, entry, x=at[0] + 12.0 * np.cos(turn), z=at[1] + 12.0 * np.sin(turn))
    assert np.allclose(ring, 2.0)


def test_a_relief_is_named_by_anatomy_and_moved_from_there(foot):
    assert place_mm("heel", foot) == (34.0, 0.0)
    assert place_mm("metatarsal_head_5", foot) == (167.0, 39.5)
    moved = feature("relief", place="metatarsal_head_2", forward_mm=6.0, lateral_mm=-3.0,
                    radius_mm=10.0)
    got = sunk(foot, moved)
    weight = got / got.sum()
    # on a grid of 2 mm by 1 mm
    assert ((weight * X).sum(), (weight * Z).sum()) == pytest.approx((196.0, -10.0), abs=0.05)


def test_a_groove_follows_the_fascia_and_has_its_width(foot):
    groove = feature("fascia_groove", depth_mm=3.0, width_mm=14.0)
    start, end = fascia_line(foot)
    along = (end - start) / np.linalg.norm(end - start)
    across = np.array([-along[1], along[0]])
    middle = 0.5 * (start + end)
    for offset, depth in ((0.0, 3.0), (3.5, 1.5), (-3.5, 1.5), (7.0, 0.0), (-7.0, 0.0)):
        at = middle + offset * across
        assert sunk(foot, groove, x=at[0], z=at[1]) == pytest.approx(depth, abs=1e-12)
    line = start + np.linspace(0.0, 1.0, 300)[:, None] * (end - start)
    depth = sunk(foot, groove, x=line[:, 0], z=line[:, 1])
    # free under the heel and the head: from a tenth of the foot's length to 25 mm before the head
    assert np.all(depth[line[:, 0] < 34.0 + 25.0] == 0.0)
    assert np.all(depth[line[:, 0] > 185.0 - 24.0] == 0.0)
    # level between: the line is 152.6 mm long, and each end runs out over 15 mm
    assert np.mean(depth > 2.999) == pytest.approx((152.6 - 25.5 - 25.0 - 30.0) / 152.6, abs=0.03)
    # the line runs from the heel's middle medially forwards
    assert start[1] == pytest.approx(-5.0) and end == pytest.approx([185.0, -27.0])
    moved = feature("fascia_groove", depth_mm=3.0, width_mm=14.0, lateral_mm=5.0)
    assert sunk(foot, moved, x=middle[0], z=middle[1] + 5.0) == pytest.approx(3.0)


def test_a_first_ray_cut_out_is_medial_and_under_the_first_metatarsal(foot):
    got = sunk(foot, feature("first_ray_cut_out", depth_mm=3.0, behind_mm=40.0))
    forward = X - foot.metatarsal_line_x_mm(Z)
    assert sunk(foot, feature("first_ray_cut_out", depth_mm=3.0), x=185.0, z=-27.0) == 3.0
    assert np.all(got[(forward < -40.0) | (forward > CUT_OUT_FRONT_MM)] == 0.0)
    # heads 1 and 2 stand at -27 and -7: nothing from -13 on, all of it up to -21
    assert np.all(got[Z >= -13.0] == 0.0)
    assert np.all(got[(Z <= -21.0) & (forward > -29.0) & (forward < 3.0)] == 3.0)


@pytest.mark.parametrize("kind", HOLLOWS)
@pytest.mark.parametrize("underside", ["flat", "follow"])
@pytest.mark.parametrize("base", ["flat", "foot"])
def test_no_hollow_cuts_through_a_layer(foot, kind, underside, base):
    deepest = feature(kind, depth_mm=10.0)
    field = heights(device(deepest, underside=underside, base=base), foot, X, Z)
    bare = heights(device(underside=underside, base=base), foot, X, Z)
    faces = interfaces_mm(device(), field)
    layers = faces[:-1] - faces[1:]
    assert np.allclose(layers[0], LAYERS[0].thickness_mm)  # the cover keeps its thickness
    assert layers[1].min() >= 1.0 - 1e-12
    assert np.array_equal(field.bottom_mm, bare.bottom_mm)  # the underside stays
    if base == "flat" or underside == "follow":
        assert layers[1].min() == pytest.approx(1.0)  # and all else is taken


def test_a_hollow_is_exact_up_to_four_fifths_of_what_can_be_taken(foot):
    wanted = np.array([0.5, 1.0, 1.6, 1.8, 2.0, 2.4, 5.0])
    got = np.array([-rise(foot, feature("relief", depth_mm=d), x=34.0, z=0.0) for d in wanted])
    assert got[:3] == pytest.approx(wanted[:3])  # the last layer has 3 mm, of which 1 stays
    assert np.all(np.diff(got) > -1e-12) and got[-2:] == pytest.approx([2.0, 2.0])
    assert np.all(got <= np.minimum(wanted, 2.0) + 1e-12)


def test_hollows_that_meet_are_as_deep_as_the_deeper_one(foot):
    one = feature("relief", place="metatarsal_head_1", depth_mm=2.0, radius_mm=20.0)
    two = feature("relief", place="metatarsal_head_2", depth_mm=4.0, radius_mm=20.0)
    both = sunk(foot, one, two)
    assert np.allclose(both, np.maximum(sunk(foot, one), sunk(foot, two)))


def test_what_is_added_gives_a_hollow_more_room(foot):
    deep = feature("relief", place="heel", depth_mm=6.0)
    lift = feature("heel_lift", height_mm=8.0)
    for order in ((deep, lift), (lift, deep)):
        assert rise(foot, *order, x=34.0, z=0.0) == pytest.approx(8.0 - 6.0)


def test_sections_see_a_hollow_where_they_cut_it(foot):
    dish = Device("d", layers=THICK, features=(
        feature("relief", place="metatarsal_head_2", depth_mm=4.0, radius_mm=14.0),))
    cut = section(dish, foot, sagittal_plane(lambda x: -7.0 + 0.0 * x))
    top = cut.interfaces_at(np.array([170.0, 190.0, 210.0]))[0]
    assert top == pytest.approx([14.0, 10.0, 14.0])
    past = section(dish, foot, sagittal_plane(lambda x: 20.0 + 0.0 * x))
    assert past.interfaces_mm[0] == pytest.approx(np.full(len(past.s_mm), 14.0))
    heel = Device("d", layers=THICK, features=(feature("relief", depth_mm=4.0, radius_mm=14.0),))
    across = section(heel, foot, rearfoot_plane(34.0))
    assert across.interfaces_at(np.array([-20.0, 0.0, 20.0]))[0] == pytest.approx([14.0, 10.0, 14.0])


def test_the_build_sheet_says_how_deep_a_hollow_really_is(foot):
    asked = device(feature("relief", place="metatarsal_head_2", depth_mm=6.0))
    sheet = {label: (value, unit) for label, value, unit in build_sheet(asked, foot)}
    assert sheet["relief (feature 1) place"] == ("metatarsal_head_2", "")
    assert sheet["relief (feature 1) depth"] == (6.0, "mm")
    assert sheet["deepest hollow, as the last layer allows"] == (pytest.approx(2.0), "mm")
    assert sheet["device's thickness there"] == (pytest.approx(3.0), "mm")
    plain = build_sheet(device(), foot)
    assert not any("hollow" in label for label, _, _ in plain)


def test_only_hollows_sink_the_top(foot):
    for kind in FEATURES:
        low = rise(foot, feature(kind), underside="flat").min()
        assert (low < -0.5) if kind in HOLLOWS else (low >= 0.0), kind
