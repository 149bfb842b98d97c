"""Suggestions for everyday words, abbreviations and other units; defaults that depend on the model."""

import pytest

from fefoot.case import case_from_dict, resolved_toml
from fefoot.case.everyday import KEYS, WORDS
from fefoot.case.schema import CASE, DIMENSIONS, PERSON, SECTIONS, WHOLE_FOOT_MESH_MM, feature_keys
from fefoot.case.studies import TABLES
from fefoot.case.summary import summary
from fefoot.device.features import FEATURES
from fefoot.errors import InputError, nearest, unknown_name
from fefoot.load.activity import activities
from fefoot.material import materials


def given(person=(), **tables):
    return {"model": "sagittal", "target": "plantar_fascia",
            "person": {"body_mass_kg": 70, **dict(person)}, **tables}


def refused(case):
    with pytest.raises(InputError) as caught:
        case_from_dict(case)
    return str(caught.value)


@pytest.mark.parametrize(("person", "words"), [
    ({"side": "l"}, "write 'left'"), ({"side": "R"}, "write 'right'"), ({"side": "Left"}, "'left'"),
    ({"side": "left foot"}, "write 'left'"), ({"weight_kg": 70}, "write 'body_mass_kg'"),
    ({"Weight": 70}, "write 'body_mass_kg'"), ({"mass": 70}, "write 'body_mass_kg'"),
    ({"foot_length_mm": 250}, "write 'length_mm'"), ({"foot_length": 250}, "write 'length_mm'"),
    ({"length": 250}, "write 'length_mm'"), ({"arch_height_mm": 40}, "write 'navicular_height_mm'"),
    ({"fat_pad_mm": 17}, "write 'heel_pad_mm'"), ({"foot": "left"}, "write 'side'"),
    ({"plantar_tissue": "plantar_tissue"}, "'plantar_tissue_"),
])
def test_a_persons_everyday_words_are_understood(person, words):
    assert words in refused(given(person))


@pytest.mark.parametrize(("change", "words"), [
    ({"model": "3d"}, "write 'foot3d'"), ({"model": "whole foot"}, "write 'foot3d'"),
    ({"model": "Sagittal"}, "write 'sagittal'"), ({"model": "frontal"}, "write 'rearfoot'"),
    ({"target": "aponeurosis"}, "write 'plantar_fascia'"),
    ({"insole": {}}, "write 'device'"), ({"patient": {}}, "write 'person'"),
    ({"activity": {"name": "walk"}}, "write 'walking'"),
    ({"activity": {"percent": 50}}, "write 'at'"),
    ({"solver": {"element_size_mm": 4}}, "write 'mesh_size_mm'"),
])
def test_everyday_words_of_other_tables(change, words):
    assert words in refused({**given(), **change})


def test_everyday_words_lead_to_names_that_exist():
    features = {k.name for kind in FEATURES.values() for k in feature_keys(kind)} | {"kind"}
    keys = {k.name for table in (*SECTIONS.values(), *TABLES.values()) for k in table}
    known = keys | features | {"device", "person", "activity"}
    assert {name for names in KEYS.values() for name in names} <= known
    words = {c for k in (*CASE, *PERSON) for c in k.choices} | set(activities()) | set(materials())
    assert {name for names in WORDS.values() for name in names} <= words
    assert all(word == word.casefold() and " " not in word for word in (*KEYS, *WORDS))
    assert not set(KEYS) & {k.name for k in PERSON}  # none stands in the way of a real key


def test_the_nearest_name():
    assert nearest("l", ("left", "right")) == "left"
    assert nearest("", ("left", "right")) is None
    assert nearest("e", ("eva_soft", "eva_firm")) is None  # two begin so
    assert nearest("eva-soft", ("eva_soft", "eva_firm")) == "eva_soft"
    assert nearest("polypropilene", ("polypropylene", "cork")) == "polypropylene"
    assert nearest("qqq", ("left", "right")) is None
    assert nearest("weight", ("side",), {"weight": ("body_mass_kg",)}) is None
    person = [k.name for k in PERSON]
    assert nearest("weigth", person, KEYS) == "body_mass_kg"  # an everyday word, misspelt
    assert nearest("lenght_mm", person, KEYS) == "length_mm"


def test_names_of_several_words_stand_in_quotes():
    assert "allowed: 'a, b', 'c'" in str(unknown_name("flag", "d", ("c", "a, b")))
    assert "allowed: a, b" in str(unknown_name("name", "d", ("b", "a")))


@pytest.mark.parametrize(("person", "words"), [
    ({"length_mm": 24.3}, "is that in cm? write 243"), ({"length_mm": 0.243}, "in m? write 243"),
    ({"length_mm": 9.6}, "is that in inches? write 243.84"), ({"heel_width_mm": 6.5}, "write 65"),
    ({"length_mm": 2430}, "is a decimal point missing? write 243"),
    ({"body_mass_kg": 72000}, "is that in grams? write 72"),
    ({"length_mm": 5}, "in inches? write 127"), ({"length_mm": 150}, "check the number"),
])
def test_a_number_in_another_unit_is_recognised(person, words):
    if words == "in inches? write 127":  # not in the range either
        assert "inches" not in refused(given(person))
        return
    assert words in refused(given(person))


def test_other_units_go_for_every_table():
    layer = {"material": "eva_soft", "thickness_mm": 0.3}
    message = refused(given(device=[{"name": "a", "layer": [layer]}]))
    assert "is that in cm? write 3" in message
    message = refused(given(activity={"name": "walking", "at": 620}))
    assert "cm" not in message and "0 to 100 percent" in message


def test_one_instant_is_named():
    message = refused(given(activity={"name": "standing", "at": 40}))
    assert "allowed: only 50 percent, the one instant of this activity" in message
    several = refused(given(activity={
        "name": "own", "at": 40, "instant": [
            {"stance_percent": p, "vertical_bodyweights": 1, "pressure_centre_percent": 40}
            for p in (10, 30)]}))
    assert "10 to 30 percent" in several


def test_dimensions_say_where_they_come_from():
    case = case_from_dict(given({"length_mm": 255.0, "heel_pad_mm": 18}))
    assert case.assumed == ("heel_width_mm", "forefoot_width_mm", "metatarsal_pad_mm",
                            "navicular_height_mm")
    assert case.origin("length_mm") == "given"
    assert case.origin("heel_width_mm") == "default, not measured"
    text = "\n".join(summary(case))
    assert "length 255 mm\n" in text and "heel pad 18 mm\n" in text
    assert "heel width 65 mm (default, not measured)\n" in text
    assert text.count("(default, not measured)") == 4


def test_what_is_assumed_is_kept_on_the_way_back():
    import tomllib

    case = case_from_dict(given({"length_mm": 250}))
    again = case_from_dict(tomllib.loads(resolved_toml(case)))
    assert again == case and again.origin("heel_pad_mm") == "default, not measured"
    assert again.origin("length_mm") == "given" and resolved_toml(again) == resolved_toml(case)
    full = case_from_dict(given({name: getattr(case.person, name) for name in DIMENSIONS}))
    assert full.assumed == () and "assumed" not in resolved_toml(full)
    said = case_from_dict(given({"heel_pad_mm": 17, "assumed": ["heel_pad_mm"]}))
    assert said.origin("heel_pad_mm") == "default, not measured"
    for wrong in (["heel_pad"], "heel_pad_mm", [3], [["heel_pad_mm"]]):
        assert "person.assumed: this is not such a list" in refused(given({"assumed": wrong}))


def test_the_whole_foot_takes_its_coarse_mesh_unless_told():
    import tomllib

    from fefoot.study.model3d import COARSE_FROM_MM

    assert WHOLE_FOOT_MESH_MM == COARSE_FROM_MM
    whole = {**given(), "model": "foot3d"}
    case = case_from_dict(whole)
    assert case.solver.mesh_size_mm == 6.0
    assert tomllib.loads(resolved_toml(case))["solver"]["mesh_size_mm"] == 6.0
    assert case_from_dict({**whole, "solver": {"tolerance": 1e-8}}).solver.mesh_size_mm == 6.0
    assert case_from_dict({**whole, "solver": {"mesh_size_mm": 4}}).solver.mesh_size_mm == 4.0
    assert case_from_dict(given()).solver.mesh_size_mm == 4.0
