"""Cautions: what a slice cannot show, shares written as percent, the fine mesh, empty features."""

import pytest

from fefoot.case import case_from_dict, resolved_toml
from fefoot.case.cautions import ONLY_AS_HEIGHT, ONLY_WHOLE, cautions
from fefoot.case.summary import summary
from fefoot.device.features import FEATURES

ALONG, ACROSS = "device 'd': the slice along the foot", "device 'd': the slice across the heel"


def case(*features, model="sagittal", more=None, **device):
    target = "heel_pad" if model == "rearfoot" else "plantar_fascia"
    return case_from_dict({
        "model": model, "target": target, "person": {"body_mass_kg": 70},
        "device": [{"name": "d", "layer": [{"material": "eva_soft", "thickness_mm": 6}],
                    "feature": list(features), **device}], **(more or {})})


@pytest.mark.parametrize(("kind", "ask"), [
    ("rearfoot_post", "ask rearfoot or foot3d for its tilt"), ("forefoot_wedge", "ask foot3d for its"),
    ("lateral_extension", "ask foot3d for the ray")])
def test_what_the_slice_along_the_foot_sees_as_a_height(kind, ask):
    (sentence,) = cautions(case({"kind": kind}))
    assert sentence.startswith(ALONG + " sees the ") and ask in sentence
    assert "only as a change of height under its line" in sentence
    assert not cautions(case({"kind": kind}, model="foot3d"))


@pytest.mark.parametrize(("model", "kinds"), [
    ("sagittal", ("medial_heel_skive", "lateral_heel_skive")),
    ("rearfoot", ("arch_fill", "metatarsal_pad", "metatarsal_bar", "forefoot_wedge",
                  "lateral_extension", "fascia_groove"))])
def test_what_a_slice_does_not_show(model, kinds):
    start = ALONG if model == "sagittal" else ACROSS
    for kind in kinds:
        (sentence,) = cautions(case({"kind": kind}, model=model))
        assert sentence.startswith(f"{start} does not show the ") and "foot3d" in sentence, kind
        assert not cautions(case({"kind": kind}, model="foot3d"))


@pytest.mark.parametrize(("model", "kinds"), [
    ("sagittal", ("heel_lift", "arch_fill", "heel_cup", "metatarsal_pad", "metatarsal_bar", "relief",
                  "fascia_groove")),
    ("rearfoot", ("heel_lift", "heel_cup", "rearfoot_post", "medial_heel_skive",
                  "lateral_heel_skive", "relief"))])
def test_what_a_slice_shows_needs_no_caution(model, kinds):
    assert cautions(case(*({"kind": kind} for kind in kinds), model=model)) == ()


def test_a_hollow_beside_the_slice():
    near = {"kind": "relief", "radius_mm": 8, "lateral_mm": 4}
    assert not cautions(case(near))
    beside = {**near, "lateral_mm": 20}
    assert cautions(case(beside)) == (f"{ALONG} does not show the relief; ask foot3d",)
    forward = {"kind": "relief", "radius_mm": 8, "forward_mm": 30}
    assert cautions(case(forward, model="rearfoot")) == (
        f"{ACROSS} does not show the relief; ask foot3d",)
    away = {"kind": "fascia_groove", "width_mm": 6, "lateral_mm": -15}
    assert cautions(case(away)) == (f"{ALONG} does not show the fascia groove; ask foot3d",)


def test_a_hollow_that_is_hidden_by_the_last_layer():
    thin = case({"kind": "relief", "depth_mm": 2}, layer=[{"material": "eva_soft", "thickness_mm": 1}])
    assert "does not show the relief" in cautions(thin)[0]


def test_every_kind_of_feature_has_a_size_and_without_it_no_effect():
    for name, kind in FEATURES.items():
        found = case({"kind": name, kind.size: 0}, model="foot3d")
        title = kind.title.partition(",")[0]
        assert cautions(found) == (f"device 'd': the {title} has no effect ({kind.size} = 0)",), name
    assert set(ONLY_AS_HEIGHT) | set(ONLY_WHOLE) <= set(FEATURES)


def test_a_share_in_place_of_a_percentage():
    found = case({"kind": "arch_fill", "fill_percent": 0.75})
    assert found.devices[0].features[0].parameters["fill_percent"] == 0.75
    words = "fill_percent = 0.75 is less than one percent; write 75 if a share was meant"
    assert cautions(found) == (f"device 'd': {words}",)
    assert f"    device 'd': {words}" in list(summary(found))
    assert words in resolved_toml(found).splitlines()[1]
    for value in (0, 1, 75):
        assert "share" not in " ".join(cautions(case({"kind": "arch_fill", "fill_percent": value})))


def test_shares_elsewhere():
    search = {"sweep": {"device": "d", "vary": [
        {"name": "t", "of": "layer.1.thickness_mm", "among": [3, 4]}]},
        "search": {"reduction_percent": 0.15, "limit": [
            {"tissue": "heel_pad", "quantity": "peak_pressure_kPa", "rise_percent": 0.2}]}}
    first, second = cautions(case(more=search))
    assert first.startswith("search.reduction_percent = 0.15 is less") and "write 15" in first
    assert second.startswith("search.limit[1].rise_percent = 0.2") and "write 20" in second
    rows = [{"stance_percent": p, "vertical_bodyweights": 1, "pressure_centre_percent": 40}
            for p in (0.1, 0.5)]
    (own,) = cautions(case(more={"activity": {"name": "own", "at": 0.5, "instant": rows}}))
    assert own.startswith("every stance_percent is 1 or less")
    rows[1]["stance_percent"] = 50
    (at,) = cautions(case(more={"activity": {"name": "own", "at": 0.5, "instant": rows}}))
    assert at.startswith("activity.at = 0.5 is less than one percent; write 50")


def test_the_fine_mesh_of_the_whole_foot():
    (sentence,) = cautions(case(model="foot3d", more={"solver": {"mesh_size_mm": 4}}))
    assert "a finer mesh of the whole foot takes two (5 to 6 mm) to five times" in sentence
    assert "mesh_size_mm = 6 takes the coarse one" in sentence
    assert not cautions(case(model="foot3d"))
    assert not cautions(case(more={"solver": {"mesh_size_mm": 2}}))


def test_a_force_that_the_whole_foot_has_not_been_solved_with():
    jump = {"activity": {"name": "high_jump_take_off"}}
    (sentence,) = cautions(case(model="foot3d", more=jump))
    assert sentence.startswith("a force of 8 body weights: ") and "more than 5;" in sentence
    assert not cautions(case(more=jump))
    assert not cautions(case(model="foot3d", more={"activity": {"name": "sprinting"}}))


def test_cautions_stand_in_the_summary_and_above_the_resolved_case():
    found = case({"kind": "rearfoot_post"}, {"kind": "forefoot_wedge"})
    first, second = cautions(found)
    lines = list(summary(found))
    assert lines[lines.index("  cautions:") + 1:] == [f"    {first}", f"    {second}"]
    assert resolved_toml(found).splitlines()[1:3] == [f"# Caution: {first}.", f"# Caution: {second}."]
    assert "  cautions:" not in list(summary(case()))


def test_two_features_alike_are_told_once():
    assert len(cautions(case({"kind": "rearfoot_post"}, {"kind": "rearfoot_post"}))) == 1
