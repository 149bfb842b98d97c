"""The tables of the studies in a case file: read, written back, and refused with one message."""

import sys
import tomllib
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "study"))

from study_runs import SPACE, STUDY

from fefoot.case import read_case
from fefoot.case.address import address, applied, value_at
from fefoot.case.emit import resolved_toml
from fefoot.case.reader import case_from_dict
from fefoot.errors import InputError

REST = """
[certainty]
samples = 8
seed = 4
[[certainty.unknown]]
name = "tissue"
of = "person.plantar_tissue"
among = ["plantar_tissue_middle", "plantar_tissue_firm"]
[[certainty.unknown]]
name = "fascia"
of = "person.fascia_stiffness_factor"
spread = 0.25
source = "somewhere"
[[certainty.unknown]]
name = "shift"
of = "load.pressure_centre_shift_percent"
from = -2
to = 2
[search]
reduction_percent = 15
solves = 20
start = 8
[[search.limit]]
tissue = "midfoot_sole"
quantity = "peak_pressure_kPa"
most = 60
[[search.limit]]
tissue = "metatarsal_pad"
quantity = "peak_pressure_kPa"
rise_percent = 10
"""
VARY = SPACE.partition("[[sweep.exclude]]")[0]


@pytest.fixture
def read(tmp_path):
    def to(text):
        file = tmp_path / "case.toml"
        file.write_text(text, encoding="utf-8")
        return read_case(file)

    return to


def test_studies_are_read_and_written_back_the_same(read):
    case = read(STUDY + SPACE + REST)
    assert case_from_dict(tomllib.loads(resolved_toml(case))) == case
    sweep, certainty, search = (case.studies.sweep, case.studies.certainty, case.studies.search)
    assert [v.values() for v in sweep.vary] == [
        (2.0, 2.5, 3.0, 3.5, 4.0), (25.0, 50.0, 75.0), ("eva_soft", "eva_firm")]
    assert sweep.excludes({"cover": "eva_firm", "shell_mm": 2.5, "fill": 25.0})
    assert not sweep.excludes({"cover": "eva_firm", "shell_mm": 3.0, "fill": 25.0})
    assert not sweep.excludes({"cover": "eva_soft", "shell_mm": 2.5, "fill": 25.0})
    assert [u.spread for u in certainty.unknowns] == [None, 0.25, None]
    assert [limit.most for limit in search.limits] == [60.0, None]
    assert read(STUDY).studies.sweep is None


@pytest.mark.parametrize(("old", "new", "words"), [
    ('device = "shell"\n[[sweep.vary]]', '[[sweep.vary]]', ["sweep.vary[1].of", "no device is named"]),
    ('device = "shell"\n[[', 'device = "shel"\n[[', ["sweep.device", "'shell'"]),
    ('layer.2.thickness_mm', 'layer.3.thickness_mm', ["sweep.vary[1].of", "layer.2.thickness_mm"]),
    ('layer.2.thickness_mm', 'shell.thickness', ["sweep.vary[1].of", "layer.NUMBER.KEY"]),
    ('feature.arch_fill.fill_percent', 'feature.heel_cup.depth_mm',
     ["sweep.vary[2].of", "feature.arch_fill.fill_percent"]),
    ('feature.arch_fill.fill_percent', 'person.mass', ["sweep.vary[2].of", "person.body_mass_kg"]),
    ('among = [25, 50, 75]', 'among = [25, 50, 175]', ["sweep.vary[2].among", "175"]),
    ('among = [25, 50, 75]', 'among = [25, 50, 25]', ["sweep.vary[2].among", "twice"]),
    ('among = [25, 50, 75]', 'among = 25', ["sweep.vary[2].among", "a list of values"]),
    ('among = [25, 50, 75]', '', ["sweep.vary[2]", "neither a list nor a range"]),
    ('among = ["eva_soft", "eva_firm"]', 'among = ["eva_soft", "eva_fim"]', ["eva_firm"]),
    ('among = ["eva_soft", "eva_firm"]', 'from = 1\nto = 2', ["sweep.vary[3].from", "no range"]),
    ('step = 0.5', '', ["sweep.vary[1].step", "a grid needs a step"]),
    ('to = 4\n', '', ["sweep.vary[1].to", "half of a range"]),
    ('to = 4\n', 'to = 1\n', ["sweep.vary[1].to", "upwards"]),
    ('to = 4\n', 'to = 40\n', ["sweep.vary[1].to", "40"]),
    ('step = 0.5', 'step = 0.000001', ["sweep.vary", "too many designs"]),
    ('name = "fill"', 'name = "status"', ["sweep.vary[2].name", "column of the tables"]),
    ('name = "fill"', 'name = "cover"', ["sweep.vary[3].name", "taken"]),
    ('cover = "eva_firm"\n', 'covr = "eva_firm"\n', ["sweep.exclude[1].covr", "'cover'"]),
    ('cover = "eva_firm"\n', 'cover = { below = 3 }\n', ["sweep.exclude[1].cover", "need numbers"]),
    ('[sweep]\n', '[sweep]\nsampling = "sobol"\nsamples = 60\n', ["sweep.samples", "64"]),
    ('samples = 8', 'samples = 9', ["certainty.samples", "powers of two"]),
    ('spread = 0.25', '', ["certainty.unknown[2]", "a list, a range, or a spread"]),
    ('start = 8', 'start = 30', ["search.start", "up to 20"]),
    ('most = 60', '', ["search.limit[1]", "most, or rise_percent"]),
    ('tissue = "metatarsal_pad"', 'tissue = "deltoid_ligament"', ["search.limit[2].tissue"]),
    ('quantity = "peak_pressure_kPa"\nmost', 'quantity = "tension_N"\nmost',
     ["search.limit[1].quantity", "peak_pressure_kPa"]),
])
def test_a_mistake_gets_one_message(read, old, new, words):
    text = STUDY + SPACE + REST
    assert old in text
    with pytest.raises(InputError) as caught:
        read(text.replace(old, new, 1))
    for word in ("case.toml", *words):
        assert word in str(caught.value)


def test_a_search_needs_a_space(read):
    with pytest.raises(InputError, match="needs a design space"):
        read(STUDY + REST)


def test_a_value_is_changed_where_its_address_says(read):
    case = read(STUDY)
    shell = case.devices[1]

    def at(text, value):
        found = address(text, case, shell)
        return value_at(case, shell, found), *applied(case, shell, found, value)

    before, _, device = at("layer.2.thickness_mm", 2.0)
    assert before == 3.0 and [x.thickness_mm for x in device.layers] == [3.0, 2.0]
    assert shell.layers[1].thickness_mm == 3.0
    before, _, device = at("feature.arch_fill.fill_percent", 40.0)
    assert before == 75.0 and device.features[0].parameters["fill_percent"] == 40.0
    before, other, _ = at("person.heel_pad_mm", 15.0)
    assert before == 17.0 and other.person.heel_pad_mm == 15.0
    (was,) = case.activity.instants()
    assert at("load.vertical_factor", 1.2)[1].activity.instants()[0].vertical_bodyweights == \
        pytest.approx(1.2 * was.vertical_bodyweights)
    (shifted,) = at("load.pressure_centre_shift_percent", 3.0)[1].activity.instants()
    assert shifted.pressure_centre_percent == pytest.approx(was.pressure_centre_percent + 3.0)
    stiff = at("material.stiffness_factor", 2.0)[1]
    for name in ("eva_soft", "polypropylene"):
        shear, bulk = case.material(name).moduli()
        assert stiff.material(name).moduli() == pytest.approx((2 * shear, 2 * bulk))
    assert stiff.material("plantar_tissue_firm") == case.material("plantar_tissue_firm")


def test_a_force_plate_is_not_rescaled(read, tmp_path):
    from dataclasses import replace

    case = read(STUDY)
    case = replace(case, activity=replace(case.activity, file="step.csv"))
    with pytest.raises(InputError, match="vertical_factor"):
        address("person.body_mass_kg", case, None)
