"""Each feature against its own definition, in numbers computed from that definition."""

import itertools

import numpy as np
import pytest

from fefoot.device import FEATURES, Device, Layer, feature, heights, interfaces_mm
from fefoot.device.ramp import capped, positive, ramp
from fefoot.device.surface import base_heights
from fefoot.errors import InputError

HEEL = 34.0
LAYERS = (Layer("eva_soft", 2.0), Layer("eva_medium", 3.0))
X, Z = np.meshgrid(np.linspace(0, 250, 126), np.linspace(-45, 48, 94), indexing="ij")


def device(*features, **changes):
    return Device("d", layers=LAYERS, features=features, **changes)


def rise(foot, *features, x=X, z=Z, **changes):
    """Height that the features add to the top of the bare device."""
    with_it = heights(device(*features, **changes), foot, x, z).top_mm
    return with_it - heights(device(**changes), foot, x, z).top_mm


def test_ramps():
    u = np.linspace(-5, 5, 1001)
    assert np.array_equal(positive(u, 2.0)[u <= -2], np.zeros(np.sum(u <= -2)))
    assert np.allclose(positive(u, 2.0)[u >= 2], u[u >= 2], atol=1e-12)
    slope = np.gradient(positive(u, 2.0), u)
    assert np.allclose(slope, ramp((u + 2) / 4), atol=1e-3)
    assert np.allclose(capped(u, 3.0, 1.0)[u <= 2], u[u <= 2], atol=1e-12)
    assert np.allclose(capped(u, 3.0, 1.0)[u >= 4], 3.0)


def test_flat_insole_is_its_layers(foot):
    field = heights(device(), foot, X, Z)
    assert np.all(field.top_mm == 5.0) and np.all(field.bottom_mm == 0.0)
    assert np.allclose(interfaces_mm(device(), field)[:, 10, 10], [5.0, 3.0, 0.0])


def test_foot_base_lies_one_stack_above_the_plantar_surface(foot):
    follow = heights(device(base="foot", underside="follow"), foot, X, Z)
    assert np.allclose(follow.top_mm, foot.plantar(X, Z) + 5.0)
    assert np.allclose(follow.bottom_mm, foot.plantar(X, Z))
    assert np.all(heights(device(base="foot"), foot, X, Z).bottom_mm == 0.0)


def test_heel_lift_is_full_under_the_heel_and_ends_behind_the_heads(foot):
    got = rise(foot, feature("heel_lift", height_mm=9.0))
    assert np.allclose(got[X <= HEEL], 9.0)
    assert np.all(got[X >= foot.metatarsal_line_x_mm(Z) - 10.0] == 0.0)
    assert np.all(np.diff(got, axis=0) <= 1e-12)


@pytest.mark.parametrize("percent", [25.0, 60.0, 100.0])
def test_arch_fill_is_a_share_of_the_plantar_height(foot, percent):
    got = rise(foot, feature("arch_fill", fill_percent=percent))
    arch = (X > 60) & (foot.metatarsal_line_x_mm(Z) - 20.0 > X)
    assert np.allclose(got[arch], 0.01 * percent * foot.plantar(X, Z)[arch])
    assert np.all(got[(X < 46)] == 0.0)
    free = heights(
        device(feature("arch_fill", fill_percent=percent), underside="follow"), foot, X, Z
    )
    assert np.allclose(free.top_mm - free.bottom_mm, 5.0)


def test_heel_cup_depth_and_floor(foot):
    got = rise(foot, feature("heel_cup", depth_mm=12.0, clearance_mm=1.0), x=HEEL, z=Z[0])
    assert got.max() == pytest.approx(12.0, abs=1e-9)
    assert np.all(got[np.abs(Z[0]) < 0.5 * 33.5 * 0.9] == 0.0)
    assert np.allclose(got, rise(foot, feature("heel_cup", depth_mm=12.0, clearance_mm=1.0),
                                 x=HEEL, z=-Z[0]))
    back = rise(foot, feature("heel_cup", depth_mm=12.0), x=0.5, z=0.0)
    assert back == pytest.approx(12.0, abs=1e-9)
    assert np.all(rise(foot, feature("heel_cup"))[X > HEEL + 0.2 * 255.0] == 0.0)


def test_heel_cup_follows_the_side_at_the_clearance(foot):
    # The heel's ellipsoid (y centre 27, radius 33, half width 32.5 mm) is 8 mm above the floor at
    # z = 32.5 sqrt(1 - (19/33)^2) = 26.57 mm; a clearance c scales that by (32.5 + c) / 32.5.
    for clearance in (0.0, 2.0):
        z = (32.5 + clearance) * np.sqrt(1.0 - (19.0 / 33.0) ** 2)
        got = rise(foot, feature("heel_cup", depth_mm=16.0, clearance_mm=clearance), x=HEEL, z=z)
        # The corner at x = heel centre (rounded over 5 mm) shortens rho a little.
        assert got == pytest.approx(8.0, abs=0.02)


def test_cup_wall_keeps_its_thickness_when_the_underside_follows(foot):
    shell = device(feature("heel_cup", depth_mm=12.0), underside="follow")
    field = heights(shell, foot, X, Z)
    assert np.all(field.top_mm - field.bottom_mm >= 5.0 - 1e-12)
    assert field.bottom_mm.max() > 3.0


def test_cup_deeper_than_the_heel_is_refused(foot):
    with pytest.raises(InputError, match=r"deeper than the side.*\n.*\n.*up to 21.4"):
        heights(device(feature("heel_cup", depth_mm=24.0)), foot, X, Z)


@pytest.mark.parametrize("degrees", [4.0, -4.0, 10.0])
def test_rearfoot_post_tilts_the_heel(foot, degrees):
    medial, lateral = rise(
        foot, feature("rearfoot_post", angle_degrees=degrees), x=HEEL, z=np.array([-30.0, 30.0])
    )
    assert medial - lateral == pytest.approx(60.0 * np.tan(np.radians(degrees)), abs=1e-9)
    assert min(medial, lateral) >= 0.0
    front = rise(foot, feature("rearfoot_post", angle_degrees=degrees))[X > HEEL + 0.351 * 255]
    assert np.all(front == 0.0)


def test_positive_angles_raise_the_medial_side(foot):
    for kind, x in (("rearfoot_post", HEEL), ("forefoot_wedge", 200.0)):
        medial, lateral = rise(
            foot, feature(kind, angle_degrees=5.0), x=x, z=np.array([-25.0, 25.0])
        )
        assert medial > lateral
        mirrored = rise(foot, feature(kind, angle_degrees=-5.0), x=x, z=np.array([-25.0, 25.0]))
        assert mirrored[1] > mirrored[0]


@pytest.mark.parametrize(("kind", "side"), [("medial_heel_skive", -1), ("lateral_heel_skive", 1)])
def test_skive_depth_angle_and_reach(foot, kind, side):
    edge = 0.5 * 0.575 * 65.0
    skive = feature(kind, depth_mm=4.0, angle_degrees=15.0)
    assert rise(foot, skive, x=HEEL, z=side * edge) == pytest.approx(4.0, abs=1e-9)
    slope = np.diff(rise(foot, skive, x=HEEL, z=side * np.array([edge - 8.0, edge - 4.0])))
    assert slope / 4.0 == pytest.approx(np.tan(np.radians(15.0)), abs=1e-9)
    reach = 4.0 / np.tan(np.radians(15.0))
    inner = rise(foot, skive, x=HEEL, z=side * np.linspace(-30.0, edge - 1.1 * reach, 20))
    assert np.all(inner == 0.0)
    assert rise(foot, skive, x=HEEL, z=side * 30.0) == pytest.approx(4.4, abs=1e-9)


def test_skive_in_a_cup_ends_at_the_wall(foot):
    cup, skive = feature("heel_cup", depth_mm=14.0), feature("medial_heel_skive", depth_mm=4.0)
    z = np.linspace(-33.0, 33.0, 400)
    only_cup, both = rise(foot, cup, x=HEEL, z=z), rise(foot, cup, skive, x=HEEL, z=z)
    wedge = rise(foot, skive, x=HEEL, z=z)
    assert np.all(np.abs(both - np.maximum(only_cup, wedge)) <= 0.1 * 4.0)
    assert both.max() == pytest.approx(14.0, abs=1e-9)


def test_metatarsal_pad_height_and_place(foot):
    pad = feature("metatarsal_pad", height_mm=6.0, length_mm=40.0, width_mm=50.0, behind_mm=25.0)
    centre_z = np.mean([-7.0, 9.0, 24.5])
    x = np.arange(100.0, 230.0, 0.05)
    along = rise(foot, pad, x=x, z=centre_z)
    assert along.max() == pytest.approx(6.0, abs=1e-3)
    line = foot.metatarsal_line_x_mm(centre_z)
    assert x[np.argmax(along)] == pytest.approx(line - 25.0, abs=0.05)
    assert np.ptp(x[along > 0]) == pytest.approx(40.0, abs=0.2)
    # The line is a parabola through five heads: within 2 mm of each.
    assert np.allclose(
        foot.metatarsal_line_x_mm(np.array(foot.metatarsal_head_z_mm)),
        foot.metatarsal_head_x_mm, atol=2.0,
    )
    assert np.all(rise(foot, pad)[np.abs(Z - centre_z) >= 25.0] == 0.0)


def test_forefoot_wedge_tilts_the_forefoot_only(foot):
    wedge = feature("forefoot_wedge", angle_degrees=6.0)
    medial, lateral = rise(foot, wedge, x=190.0, z=np.array([-40.0, 40.0]))
    assert medial - lateral == pytest.approx(80.0 * np.tan(np.radians(6.0)), abs=1e-9)
    assert np.all(rise(foot, wedge)[X < foot.metatarsal_line_x_mm(Z) - 35.0] == 0.0)


ZERO = {
    "heel_lift": {"height_mm": 0}, "arch_fill": {"fill_percent": 0}, "heel_cup": {"depth_mm": 0},
    "rearfoot_post": {"angle_degrees": 0}, "medial_heel_skive": {"depth_mm": 0},
    "lateral_heel_skive": {"depth_mm": 0}, "metatarsal_pad": {"height_mm": 0},
    "forefoot_wedge": {"angle_degrees": 0}, "metatarsal_bar": {"height_mm": 0},
    "first_ray_extension": {"height_mm": 0}, "lateral_extension": {"height_mm": 0},
    "relief": {"depth_mm": 0}, "fascia_groove": {"depth_mm": 0}, "first_ray_cut_out": {"depth_mm": 0},
}


@pytest.mark.parametrize("kind", FEATURES)
def test_a_feature_of_size_zero_changes_nothing(foot, kind):
    for underside in ("flat", "follow"):
        entry = feature(kind, **ZERO[kind])
        plain = heights(device(underside=underside), foot, X, Z)
        field = heights(device(entry, underside=underside), foot, X, Z)
        assert np.array_equal(field.top_mm, plain.top_mm)
        assert np.array_equal(field.bottom_mm, plain.bottom_mm)


def test_order_matters_only_between_a_skive_and_what_it_is_cut_into(foot):
    shapes = {"heel_cup", "arch_fill", "metatarsal_pad", "metatarsal_bar", "medial_heel_skive",
              "lateral_heel_skive"}
    for one, two in itertools.combinations(FEATURES, 2):
        tops = [
            heights(device(*map(feature, order), underside="follow"), foot, X, Z)
            for order in ((one, two), (two, one))
        ]
        same = np.allclose(tops[0].top_mm, tops[1].top_mm, atol=1e-12)
        assert same or ({one, two} <= shapes and any("skive" in k for k in (one, two))), (one, two)
    cup, skive = feature("heel_cup"), feature("medial_heel_skive")
    assert np.max(np.abs(rise(foot, cup, skive) - rise(foot, skive, cup))) > 1.0


def test_every_feature_is_smooth(foot):
    """A kink would show as a slope jump that does not shrink with the step."""
    s = np.linspace(-30.0, 30.0, 24001)
    for kind in FEATURES:
        for x, z in ((s + 35.0, np.full_like(s, -12.0)), (np.full_like(s, 20.0), s),
                     (s + 170.0, np.full_like(s, 3.0)), (np.full_like(s, 170.0), s)):
            top = rise(foot, feature(kind), x=x, z=z)
            bend = np.abs(np.diff(top, 2)) / (s[1] - s[0])
            assert bend.max() < 0.05, kind


def test_unknown_and_out_of_range_features_are_refused():
    with pytest.raises(InputError, match="write 'heel_lift'"):
        feature("heellift")
    with pytest.raises(InputError, match="unknown parameter"):
        feature("heel_lift", height=3.0)
    with pytest.raises(InputError, match="0 to 25 mm"):
        feature("heel_lift", height_mm=40.0)


def test_base_heights_carry_a_material_map(foot):
    field = base_heights(device(), foot, X, Z)
    assert field.material.shape == (2, *X.shape)
    assert field.material_names == ("eva_soft", "eva_medium")
