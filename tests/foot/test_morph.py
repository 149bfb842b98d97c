"""The morph: identity, the person's dimensions, smoothness and errors."""

from dataclasses import asdict

import numpy as np
import pytest

from fefoot.errors import InputError
from fefoot.foot import (
    REFERENCE,
    Dimensions,
    dimension_range_mm,
    morph,
    plantar_height_mm,
    thickness_mm,
)
from fefoot.foot.anatomy import plantar_height_mm as reference_height_mm

PERSON = Dimensions(length_mm=280, heel_width_mm=58, forefoot_width_mm=110, heel_pad_mm=20,
                    metatarsal_pad_mm=9, navicular_height_mm=47)


def test_reference_dimensions_change_nothing():
    points = np.random.default_rng(0).uniform([-5, -2, -50], [260, 92, 50], (500, 3))
    assert morph(points, REFERENCE) == pytest.approx(points, abs=1e-12)


@pytest.mark.parametrize("d", [PERSON, Dimensions(205, 78, 80, 13, 13.5, 31)])
def test_landmarks_take_the_persons_dimensions(d):
    """Heel pad, metatarsal pad and navicular height are heights of points of the anatomy file."""
    heel, ball, navicular, back, tip = morph(
        np.array([[29, 17, 0], [190, 11, -7], [110, 40, -25], [0, 27, 0], [255, 13, -26.5]], float),
        d)
    assert heel[1] == pytest.approx(d.heel_pad_mm, abs=1e-9)
    assert ball[1] == pytest.approx(d.metatarsal_pad_mm, abs=1e-9)
    assert navicular[1] == pytest.approx(d.navicular_height_mm, abs=1e-9)
    assert tip[0] - back[0] == pytest.approx(d.length_mm, abs=1e-9)
    sides = morph(np.array([[34, 27, -32.5], [34, 27, 32.5], [165, 15, -47], [165, 15, 51]]), d)
    assert sides[1, 2] - sides[0, 2] == pytest.approx(d.heel_width_mm, abs=1e-9)
    assert sides[3, 2] - sides[2, 2] == pytest.approx(d.forefoot_width_mm, abs=1e-9)


def test_pad_between_bone_and_sole_takes_the_whole_change():
    for x, z, height, new in ((29.0, 0.0, 17.0, 20.0), (190.0, -7.0, 11.0, 9.0)):
        bone = morph(np.array([[x, height, z]]), PERSON)[0]
        sole = plantar_height_mm(bone[0], bone[2], PERSON)
        reference_pad = height - reference_height_mm(x, z)
        assert bone[1] - sole == pytest.approx(reference_pad + new - height, abs=0.05)


def test_plantar_height_is_that_of_the_morphed_surface():
    x, z = np.random.default_rng(1).uniform([5, -40], [240, 40], (200, 2)).T
    surface = morph(np.column_stack([x, reference_height_mm(x, z), z]), PERSON)
    got = plantar_height_mm(surface[:, 0], surface[:, 2], PERSON)
    assert got == pytest.approx(surface[:, 1], abs=1e-9)
    assert plantar_height_mm(x, z) == pytest.approx(reference_height_mm(x, z), abs=1e-12)


def test_plantar_surface_has_an_arch_medially_and_touches_at_heel_and_ball():
    assert reference_height_mm(30, 0) == pytest.approx(0.0, abs=1e-12)
    assert reference_height_mm(110, -26) > 15 > 6 > reference_height_mm(110, 36) > 4
    assert reference_height_mm(185, 3) < 0.5 < reference_height_mm(250, 3)


def test_morph_never_folds():
    """det of the morph's gradient stays positive at the corners of the allowed range."""
    points = np.random.default_rng(2).uniform([0, 0, -45], [255, 90, 45], (400, 3))
    ranges = [dimension_range_mm(name) for name in asdict(REFERENCE)]
    step = 1e-4
    for corner in range(64):
        d = Dimensions(*(r[corner >> k & 1] for k, r in enumerate(ranges)))
        gradient = np.stack([
            (morph(points + step * e, d) - morph(points - step * e, d)) / (2 * step)
            for e in np.eye(3)], axis=2)
        assert np.linalg.det(gradient).min() > 0.15


@pytest.mark.parametrize("change", [{"length_mm": 25.5}, {"heel_pad_mm": 40},
                                    {"heel_width_mm": "65"},
                                    {"navicular_height_mm": float("nan")}, {"length_mm": True}])
def test_dimensions_out_of_range(change):
    with pytest.raises(InputError) as error:
        Dimensions(**change)
    assert next(iter(change)) in str(error.value) and "mm" in str(error.value)


def test_thickness_follows_the_person():
    assert thickness_mm("sagittal", 30.0) == pytest.approx(45.0)
    assert thickness_mm("rearfoot", [0.0, 30.0]) == pytest.approx([60.0, 60.0])
    wide = Dimensions(forefoot_width_mm=98 * 1.1, length_mm=280)
    at = 185 * 280 / 255
    assert thickness_mm("sagittal", at, wide) == pytest.approx(90.0 * 1.1)
    assert thickness_mm("rearfoot", 30.0, wide) == pytest.approx(60 * 280 / 255)
    x = np.linspace(0, 255, 500)
    assert np.abs(np.diff(thickness_mm("sagittal", x))).max() < 0.5
