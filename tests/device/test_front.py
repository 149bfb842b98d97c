"""Metatarsal bar and extensions against their definitions."""

import numpy as np
import pytest
from test_features import X, Z, rise

from fefoot.device import feature, sagittal_plane, section
from fefoot.device.device import Device, Layer
from fefoot.errors import InputError


def test_a_bar_lies_behind_all_heads_over_the_whole_width(foot):
    bar = feature("metatarsal_bar", height_mm=5.0, length_mm=24.0, behind_mm=18.0)
    got = rise(foot, bar)
    behind = foot.metatarsal_line_x_mm(Z) - X
    assert np.allclose(got[np.abs(behind - 18.0) <= 6.0], 5.0)
    assert np.all(got[np.abs(behind - 18.0) >= 12.0] == 0.0)
    assert got.max() == pytest.approx(5.0) and got.min() == 0.0
    # the same height at every ray, unlike a pad
    for x, z in zip(foot.metatarsal_head_x_mm, foot.metatarsal_head_z_mm, strict=True):
        at = foot.metatarsal_line_x_mm(z) - 18.0
        assert rise(foot, bar, x=at, z=z) == pytest.approx(5.0)
        assert rise(foot, bar, x=x, z=z) == 0.0


def test_the_two_extensions_share_the_forefoot_between_them(foot):
    one = rise(foot, feature("first_ray_extension", height_mm=3.0, behind_mm=12.0))
    others = rise(foot, feature("lateral_extension", height_mm=3.0, behind_mm=12.0))
    forward = X - foot.metatarsal_line_x_mm(Z)
    assert np.all((one + others)[forward <= -12.0] == 0.0)
    assert np.allclose((one + others)[forward >= -2.0], 3.0)
    # heads 1 and 2 stand at -27 and -7
    assert np.all(one[Z >= -13.0] == 0.0) and np.all(others[Z <= -21.0] == 0.0)
    assert one[Z <= -21.0].max() == others[Z >= -13.0].max() == 3.0
    for ray, (x, z) in enumerate(zip(
            foot.metatarsal_head_x_mm, foot.metatarsal_head_z_mm, strict=True)):
        raised = [rise(foot, feature(kind, height_mm=3.0), x=x + 5.0, z=z) for kind in (
            "first_ray_extension", "lateral_extension")]
        assert raised == pytest.approx([3.0, 0.0] if ray == 0 else [0.0, 3.0])


def test_a_slice_along_a_ray_sees_its_extension_only(foot):
    insole = [Device("d", layers=(Layer("eva_soft", 5.0),), features=(feature(kind, height_mm=3.0),))
              for kind in ("first_ray_extension", "lateral_extension")]
    for z, tops in ((-27.0, (8.0, 5.0)), (9.0, (5.0, 8.0))):
        cuts = [section(d, foot, sagittal_plane(lambda x, z=z: z + 0.0 * x)) for d in insole]
        assert [cut.interfaces_at(215.0)[0] for cut in cuts] == pytest.approx(list(tops))
        assert [cut.interfaces_at(120.0)[0] for cut in cuts] == pytest.approx([5.0, 5.0])


def test_a_word_outside_the_choices_is_refused():
    with pytest.raises(InputError, match="write 'metatarsal_head_2'"):
        feature("relief", place="metatarsal_head2")
