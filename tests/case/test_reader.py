"""Reading cases: values, defaults, the way back, and every message."""

import tomllib
from pathlib import Path

import pytest

from fefoot.case import TISSUES, case_from_dict, read_case, resolved_toml
from fefoot.case.listing import LISTS
from fefoot.case.schema import REQUIRED, SECTIONS
from fefoot.device import FEATURES
from fefoot.errors import InputError
from fefoot.material import materials

SAMPLE = Path(__file__).with_name("sample.toml")
TEXT = SAMPLE.read_text(encoding="utf-8")
SHORT = """
model = "sagittal"
target = "plantar_fascia"
[person]
body_mass_kg = 70
"""


def read(tmp_path, text):
    file = tmp_path / "case.toml"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_case(file)


def refused(tmp_path, text):
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    message = str(caught.value)
    assert message.startswith(str(tmp_path / "case.toml"))
    return message


def changed(old, new, text=TEXT):
    assert text.count(old) >= 1
    return text.replace(old, new, 1)


def test_sample_is_read():
    case = read_case(SAMPLE)
    assert case.person.body_mass_kg == 72.0 and case.target == "plantar_fascia"
    assert [device.name for device in case.devices] == ["lift", "shell"]
    assert case.devices[1].features[1].parameters == {"depth_mm": 14.0, "clearance_mm": 1.0}
    assert case.material("my_foam").density_kg_per_m3 == 120.0
    assert case.material("polypropylene") is materials()["polypropylene"]
    assert case.material_names() == ("plantar_tissue_middle", "my_foam", "polypropylene")
    (instant,) = case.activity.instants()
    share = (60 - 22) / (77 - 22)
    assert instant.vertical_bodyweights == pytest.approx(1.05 + share * 0.10)


def test_sample_uses_every_key_of_the_schema():
    given = tomllib.loads(TEXT)
    tables = {
        "": given, "person": given["person"], "activity": given["activity"],
        "activity.instant": given["activity"]["instant"][0], "device": given["device"][0],
        "device.layer": given["device"][0]["layer"][0], "solver": given["solver"],
    }
    for name, keys in SECTIONS.items():
        if name in ("scan", "measured_pressure"):  # they name files: tests/scan, test_pressure.py
            continue
        # a force plate stands in place of instants
        assert {key.name for key in keys if "force_plate" not in key.name} <= set(tables[name]), name
    kinds = {f["kind"] for device in given["device"] for f in device["feature"]}
    assert kinds == {name for name, kind in FEATURES.items() if kind.needs_model is None}


def test_defaults_fill_what_is_not_written(tmp_path):
    case = read(tmp_path, SHORT)
    for name, keys in (("person", case.person), ("solver", case.solver)):
        for key in SECTIONS[name]:
            if key.default is not REQUIRED:
                assert getattr(keys, key.name) == key.default
    assert case.devices == () and case.activity.instants()[0].vertical_bodyweights == 1.25


@pytest.mark.parametrize("text", [TEXT, SHORT, changed("at = 60.0", 'at = "all"'), changed(
    'title = "the foam on our shelf"', 'title = "Schaum \\"weich\\" \\\\ é 足"')])
def test_resolved_toml_reads_back_to_the_same_case(tmp_path, text):
    case = read(tmp_path, text)
    resolved = resolved_toml(case)
    assert read(tmp_path, resolved) == case
    assert resolved_toml(read(tmp_path, resolved)) == resolved


def test_every_number_of_the_schema_is_checked_at_both_ends():
    for name, keys in SECTIONS.items():
        for key in keys:
            if key.kind not in ("number", "integer") or name in (
                    "device.layer", "activity.instant", "measured_pressure"):
                continue
            for value in (key.low - 1, key.high + 1, float("nan"), float("inf"), True, "72 kg"):
                given = tomllib.loads(TEXT)
                given[name][key.name] = value
                with pytest.raises(InputError, match=f"{name}.{key.name}"):
                    case_from_dict(given)


def test_case_from_dict_names_the_file():
    with pytest.raises(InputError, match=r"^mine\.toml: model: model is missing"):
        case_from_dict({}, "mine.toml")


MESSAGES = {
    "unknown key at the top": (changed("model =", "modell ="), ["modell", "write 'model'"]),
    "unknown person key": (changed("body_mass_kg", "body_mass"), ["write 'body_mass_kg'"]),
    "unknown device key": (changed("underside", "under_side"), ["device[1].under_side"]),
    "unknown layer key": (changed("thickness_mm", "thickness"), ["device[1].layer[1].thickness"]),
    "unknown parameter": (changed("height_mm = 6", "height = 6"),
                          ["device[1].feature[1].height", "write 'height_mm'"]),
    "key of the person at the top": ("body_mass_kg = 72\n" + TEXT, ["wrong table", "[person]"]),
    "key of a layer in its device": (
        changed('underside =', 'thickness_mm = 3\nunderside ='),
        ["device[1].thickness_mm", "move it to [[device.layer]]", "here: base, "]),
    "parameter of another feature": (changed("height_mm = 6", "height_mm = 6\nfill_percent = 50"),
                                     ["device[1].feature[1].fill_percent", "unknown key"]),
    "unknown feature": (changed('"heel_cup"', '"heelcup"'), ["feature", "write 'heel_cup'"]),
    "unknown material": (changed('"polypropylene"', '"polypropilene"'),
                         ["unknown material", "write 'polypropylene'"]),
    "unknown target": (changed('"plantar_fascia"', '"fascia"'), ["tissue", "'plantar_fascia'"]),
    "unknown activity": (SHORT + '[activity]\nname = "walkin"', ["write 'walking'"]),
    "text for a number": (changed("= 72", '= "72 kg"'), ["without its unit (kg)", "20 to 250 kg"]),
    "truth for a number": (changed("= 72", "= true"), ["a number is needed"]),
    "number for text": (changed('side = "right"', "side = 3"), ["text is needed", "quotes"]),
    "nan": (changed("= 98.5", "= nan"), ["finite"]),
    "inf": (changed("= 98.5", "= -inf"), ["finite"]),
    "out of range": (changed("= 72", "= 720"), ["out of range", "20 to 250 kg", "found:   720"]),
    "unknown contact": (changed('"coulomb"', '"columb"'), ["unknown contact", "write 'coulomb'"]),
    "key of no table": (changed("penalty_factor", "load_steps"), ["solver.load_steps"]),
    "loose tolerance": (changed("= 1e-8", "= 1e-5"), ["solver.tolerance", "1e-11 to 1e-06"]),
    "huge number": (changed("= 72", "= 0x" + "f" * 5000), ["too large"]),
    "huge decimal": (changed("= 72", "= " + "9" * 5000), ["not TOML"]),
    "duplicate device": (changed('"shell"', '"lift"'), ["device[2].name", "taken"]),
    "reserved name": (changed('"shell"', '"barefoot"'), ["kept for"]),
    "unsafe name": (changed('name = "shell"', 'name = "../x"'), ["letters, digits"]),
    "wrong model": (changed('"plantar_fascia"', '"deltoid_ligament"'),
                    ["does not hold", "rearfoot"]),
    "meshed fascia in another model": (
        changed('model = "sagittal"', 'model = "rearfoot"'), ["fascia", "only as cables"]),
    "axis in sagittal": (changed("shift_mm = 0", "shift_mm = 2"), ["no subtalar axis"]),
    "tilted axis in sagittal": (changed("inclination_degrees = 42", "inclination_degrees = 35"),
                                ["no subtalar axis to turn", "42 degrees", "'foot3d'"]),
    "turned axis in rearfoot": (
        SHORT.replace('"sagittal"', '"rearfoot"').replace('"plantar_fascia"', '"heel_pad"')
        + "subtalar_axis_deviation_degrees = 10", ["no subtalar axis to turn", "23 degrees"]),
    "narrow forefoot": (changed("width_mm = 98.5", "width_mm = 76").replace("= 65", "= 80"),
                        ["not wider than the heel"]),
    "arch fill on foot base": (
        TEXT.replace('base = "flat"\nunderside = "follow"', 'base = "foot"\nunderside = "follow"'),
        ["arch fill does nothing", "base = 'flat'"]),
    "wedge on short device": (changed('length = "full"', 'length = "to_metatarsals"'),
                              ["forefoot wedge does nothing", "length = 'full'"]),
    "unknown place of a relief": (changed('"metatarsal_head_2"', '"metatarsal_head2"'),
                                  ["device[1].feature[6].place", "write 'metatarsal_head_2'"]),
    "relief beside the slice": (changed('"metatarsal_head_2"', '"metatarsal_head_5"'),
                                ["does not meet a relief there", "'heel' or 'metatarsal_head_2'"]),
    "relief in front of a short device": (
        changed('length = "full"', 'length = "to_metatarsals"'), ["device[1].feature[6].place"]),
    "first ray in a slice": (
        changed('kind = "metatarsal_bar"\nheight_mm = 3\nlength_mm = 20',
                'kind = "first_ray_extension"\nheight_mm = 3'),
        ["sagittal section does not meet", "write model = 'foot3d'"]),
    "deep cup": (changed("depth_mm = 14", "depth_mm = 24"), ["deeper than the side", "21.4"]),
    "bone as layer": (changed('"polypropylene"', '"bone"'), ["devices are not made of this"]),
    "foam as tissue": (changed('"plantar_tissue_middle"', '"my_foam"'), ["not a tissue"]),
    "shipped material name": (TEXT.replace("my_foam", "eva_soft"), ["shipped material"]),
    "shipped activity with own instants": (changed('"a slow step"', '"walking"'),
                                           ["shipped activity"]),
    "instants out of order": (changed("percent = 77", "percent = 12"), ["more than 22"]),
    "instant outside": (changed("at = 60.0", "at = 90"), ["22 to 77 percent"]),
    "unknown instant word": (changed("at = 60.0", 'at = "push-off"'), ["'peak', 'all'"]),
    "no layer": (SHORT + '[[device]]\nname = "a"', ["needs a layer"]),
    "device as table": (SHORT + '[device]\nname = "a"', ["list of tables", "[[device]]"]),
    "person as number": (changed("[person]", "[persons]") + "\n", ["persons", "'person'"]),
    "material constant": (changed("nu = 0.1", "nu = 0.7"), ["material.my_foam.constants.nu"]),
    "material law": (changed('"foam"', '"foamy"'), ["unknown law", "'foam'"]),
    "control sign": (changed('title = "Heel', 'title = "\\u001bHeel'), ["control signs"]),
    "deep brackets": ("a = " + "[" * 100_000, ["too deeply"]),
    "deep tables": ("a" + ".a" * 3000 + " = 1", ["too deeply"]),
    "syntax": (changed("model =", "model"), ["not TOML", "line 4"]),
    "not text": (TEXT.encode() + b"\n\xff\xfe", ["not UTF-8", f"line {TEXT.count(chr(10)) + 2} "]),
    "twice": (changed("[solver]", "[person]"), ["not TOML"]),
}


@pytest.mark.parametrize("name", MESSAGES)
def test_message(tmp_path, name):
    text, parts = MESSAGES[name]
    message = refused(tmp_path, text)
    for part in parts:
        assert part in message, message
    assert len(message) < 2500


def test_further_mistakes_are_counted_and_listed(tmp_path):
    text = TEXT.replace("= 72", "= 720").replace("= 98.5", "= 985").replace("= 3\n", "= 300\n")
    message = refused(tmp_path, text)
    first, rest = message.split("more:\n")
    assert "person.body_mass_kg: value out of range" in first
    assert "person.forefoot_width_mm: value out of range" in rest


def test_files_that_cannot_be_read(tmp_path):
    for path, part in ((tmp_path / "none.toml", "no such file"), (tmp_path, "a folder")):
        with pytest.raises(InputError, match=part):
            read_case(path)
    (tmp_path / "big.toml").write_bytes(b"#" * 1_000_001)
    with pytest.raises(InputError, match="too large"):
        read_case(tmp_path / "big.toml")
    with pytest.raises(InputError, match="cannot be read"):
        read_case("a\0b")


def test_windows_line_ends_and_byte_order_mark_are_fine(tmp_path):
    data = b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode()
    assert read(tmp_path, data) == read_case(SAMPLE)


def test_tissues_hold_what_each_model_can_answer():
    assert all(t.models and t.quantities and t.title for t in TISSUES.values())
    rearfoot = {name for name, t in TISSUES.items() if "rearfoot" in t.models}
    assert rearfoot == {"heel_pad", "subtalar_joint", "deltoid_ligament",
                        "calcaneofibular_ligament", "tibialis_posterior", "whole_foot"}
    assert sum("sagittal" in t.models for t in TISSUES.values()) == 20


def test_listings_name_every_entry():
    text = {what: "\n".join(lines()) for what, lines in LISTS.items()}
    assert all(f"{name}:" in text["tissues"] for name in TISSUES)
    assert all(f"{name}:" in text["materials"] for name in materials())
    for name, kind in FEATURES.items():
        assert f"{name}:" in text["features"]
        assert all(p.name in text["features"] for p in kind.parameters)
    for keys in SECTIONS.values():
        assert all(f"    {key.name}:" in text["settings"] for key in keys)
    assert "Winter" in text["activities"]


PLATE = """time_s,vertical_N,fore_aft_N,pressure_centre_mm
""" + "\n".join(f"{0.05 * k:.2f},{700 * (k % 13 > 0)},{40 * (k - 6)},{30 + 12 * k}" for k in range(14))


def test_a_force_plate_file_is_read_beside_the_case(tmp_path):
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "step.csv").write_text(PLATE)
    text = SHORT + '[activity]\nforce_plate = "deep/step.csv"\nforce_plate_instants = 5\nat = "all"\n'
    case = read(tmp_path, text)
    rows = case.activity.instants()
    assert len(rows) == 5 and case.activity.own
    assert rows[2].vertical_bodyweights == pytest.approx(700 / (70 * 9.81))
    # what was read stands in the resolved case, so that it needs no other file
    (tmp_path / "deep" / "step.csv").unlink()
    resolved = resolved_toml(case)
    assert "force_plate" not in resolved and resolved.count("[[activity.instant]]") == 5
    assert "step.csv" in resolved
    assert read(tmp_path, resolved) == case


@pytest.mark.parametrize(("lines", "parts"), [
    ('force_plate = "none.csv"', ["none.csv", "no such force-plate file"]),
    ("force_plate = 3", ["activity.force_plate", "text is needed"]),
    ("force_plate_instants = 9", ["activity.force_plate_instants", "no force-plate file"]),
    ('force_plate = "x.csv"\nforce_plate_instants = 2', ["force_plate_instants", "3 to 199"]),
    ('force_plate = "x.csv"\nname = "walking"', ["shipped activity has this name"]),
    ('force_plate = "x.csv"\n[[activity.instant]]\nstance_percent = 5\nvertical_bodyweights = 1\n'
     "pressure_centre_percent = 30", ["both instants and a force-plate file"]),
    ('source = "somewhere"', ["activity.source", "own instants"]),
])
def test_a_force_plate_that_does_not_fit_is_refused(tmp_path, lines, parts):
    message = refused_anywhere(tmp_path, SHORT + "[activity]\n" + lines)
    for part in parts:
        assert part in message, message


def refused_anywhere(tmp_path, text):
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    return str(caught.value)
