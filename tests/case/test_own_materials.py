"""Materials of one's own: what the list prints can be written, and a mistake gets one message."""

import pytest

from fefoot.case import case_from_dict, read_case, resolved_toml
from fefoot.case.listing import LISTS
from fefoot.case.own_materials import EXAMPLE, FLAGS
from fefoot.errors import InputError
from fefoot.material import LAWS, materials

CASE = """model = "sagittal"
target = "plantar_fascia"
[person]
body_mass_kg = 70
[[device]]
name = "insole"
[[device.layer]]
material = "{name}"
thickness_mm = 4
"""


def read(tmp_path, text, name="mine"):
    file = tmp_path / "case.toml"
    file.write_text(CASE.format(name=name) + text, encoding="utf-8")
    return read_case(file)


def refused(tmp_path, text, name="mine"):
    with pytest.raises(InputError) as caught:
        read(tmp_path, text, name)
    message = str(caught.value)
    assert "more:" not in message and "unknown material\n" not in message, message
    return message


def test_the_example_of_the_list_is_read_as_it_is_printed(tmp_path):
    printed = list(LISTS["settings"]())
    at = printed.index("    an example:")
    lines = [line.strip() for line in printed[at + 1:at + 7]]
    assert lines == EXAMPLE.splitlines() and len(EXAMPLE.splitlines()) == 6
    case = read(tmp_path, "\n".join(lines), "shelf_foam")
    found = case.material("shelf_foam")
    assert found.law is LAWS["foam"] and found.flag == "measured"
    assert found.source == "compression test of the workshop"
    # every key that can be written is listed
    keys = {line.strip().split(":")[0] for line in printed}
    assert {"law", "constants", "stretch_range", "density_kg_per_m3", "kind", "title", "source",
            "flag"} <= keys


@pytest.mark.parametrize(("text", "parts"), [
    ('law = "foam"\nmu_MPa = [0.8]\nalpha = [6.0]\nnu = 0.1',
     ["material.mine.mu_MPa: constants of the law stand beside it",
      "write constants = { mu_MPa = [0.8], alpha = [6.0], nu = 0.1 }"]),
    ('law = "foam"\nconstants = { mu_MPa = [0.8], alpha = [6.0] }\nnu = 0.1',
     ["write constants = { mu_MPa = [0.8], alpha = [6.0], nu = 0.1 }"]),
    ("E_MPa = 3\nnu = 0.3", ["write constants = { E_MPa = 3, nu = 0.3 }"]),
    ('law = "foam"\nE_MPa = 3', ["unknown material key"]),  # no constant of this law
    ('law = "foam"\nconstants = { mu_MPa = [0.8], alpha = [6.0], nu = 0.7 }', ["constants.nu"]),
    ('law = "foamy"\nconstants = {}', ["unknown law", "write 'foam'"]),
    ('law = "foam"', ["constants is missing"]),
    ('law = "neo_hookean"\nconstants = { E_MPa = 3, nu = 0.3 }\nflag = "guess"',
     ["unknown flag", "'measured'", "'common practice, no source'", "'recalled'"]),
])
def test_a_mistake_gets_one_message(tmp_path, text, parts):
    message = refused(tmp_path, "[material.mine]\n" + text)
    for part in parts:
        assert part in message, message


def test_a_name_that_cannot_be_one_gets_one_message(tmp_path):
    message = refused(tmp_path, '[material."my foam"]\nlaw = "foam"', "my foam")
    assert "cannot be the name of a material" in message


def test_another_wrong_name_is_still_told(tmp_path):
    with pytest.raises(InputError, match="unknown material\n"):
        read(tmp_path, '[material.mine]\nlaw = "neo_hookean"\nconstants = { E_MPa = 3, nu = 0.3 }',
             "mime")


@pytest.mark.parametrize("flag", FLAGS)
def test_every_flag_is_kept_on_the_way_back(tmp_path, flag):
    case = read(tmp_path, '[material.mine]\nlaw = "neo_hookean"\nconstants = { E_MPa = 3, nu = 0.3 }\n'
                f'flag = "{flag}"\nsource = "ours"')
    assert case.material("mine").flag == flag
    (tmp_path / "again.toml").write_text(resolved_toml(case), encoding="utf-8")
    assert read_case(tmp_path / "again.toml") == case


def test_without_flag_and_source_nothing_is_claimed(tmp_path):
    text = '[material.mine]\nlaw = "neo_hookean"\nconstants = { E_MPa = 3, nu = 0.3 }\n'
    plain, sourced = read(tmp_path, text), read(tmp_path, text + 'source = "our test"')
    assert plain.material("mine").flag == sourced.material("mine").flag == "given in the case file"
    assert plain.material("mine").source == "no source stated"
    assert sourced.material("mine").source == "our test"
    assert "common practice" not in resolved_toml(sourced)


def test_shipped_flags_are_as_before():
    assert {m.flag for m in materials().values()} <= set(FLAGS[2:])
    with pytest.raises(InputError, match="a material is a table"):
        case_from_dict({"model": "sagittal", "target": "achilles", "person": {"body_mass_kg": 70},
                        "material": {"mine": 3}})
