"""Certainty: bands and signs over samples of the unknowns, indices, refusal of an incomplete design."""

import csv
import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from study_runs import cheap, here, kept, stand_in, values_of

from fefoot.errors import InputError
from fefoot.report.certainty_charts import bands, index_bars
from fefoot.report.certainty_page import FIRST, TOTAL, certainty_page
from fefoot.report.certainty_words import (
    TOO_FEW,
    held,
    matters,
    sign_cell,
    table,
    too_rough,
    verdict,
)
from fefoot.study import certainty as studying
from fefoot.study.certainty import Spread, certainty
from fefoot.study.certainty_table import summary
from fefoot.study.commands import Where, run_certainty
from fefoot.study.indices import Index
from fefoot.study.study_folder import study_provenance
from fefoot.study.unknowns import CUT_SPREADS, shipped, unknowns_of, value_of

UNKNOWNS = """
[certainty]
samples = 64
[[certainty.unknown]]
name = "mass"
of = "person.body_mass_kg"
from = 60
to = 80
[[certainty.unknown]]
name = "fascia"
of = "person.fascia_stiffness_factor"
spread = 0.2
[[certainty.unknown]]
name = "force"
of = "load.vertical_factor"
among = [0.9, 1.1]
"""
TENSION, HEEL = ("plantar_fascia", "tension_N"), ("heel_pad", "peak_pressure_kPa")


def shaped(run, tell):
    """With the shell: tension changes by 10 (mass - 66) / 20 percent, heel by -20 with force 0.9 else
    +5; without and with the flat insole the plain values.
    """
    values = values_of(run)
    bare = {TENSION: 500.0, HEEL: 100.0}
    if run.device is None or not run.device.features:
        return kept(bare)
    change = 10.0 * (run.case.person.body_mass_kg - 66.0) / 20.0
    force = run.instant.vertical_bodyweights / 0.95
    return kept({TENSION: 500.0 * (1 + change / 100), HEEL: 80.0 if force < 1 else 105.0}) | {
        "cost": {"seconds": float(len(values))}}


def failing(run, tell):
    if run.device is not None and run.case.person.body_mass_kg > 78.0:
        return kept({}, "not converged: too heavy")
    return shaped(run, tell)


def test_bands_signs_and_indices_are_those_of_the_shape(study, tmp_path):
    found = certainty(study(UNKNOWNS), tmp_path / "store", evaluate=shaped, executor=here)
    assert len(found.samples) - 1 == 64 * 5 and found.missing == ()
    by = {(s.device, s.key): s for s in found.spreads}
    tension, heel = by["shell", TENSION], by["shell", HEEL]
    # the change is even from -3 to +7 percent: median 2, band -2.5 to 6.5, 70 % of it above nothing
    assert tension.median == pytest.approx(2.0, abs=0.3)
    assert tension.low == pytest.approx(-2.5, abs=0.3) and tension.high == pytest.approx(6.5, abs=0.3)
    assert tension.same_sign_percent == pytest.approx(70.0, abs=3.0)
    assert tension.case_percent == pytest.approx(3.0)  # the case weighs 72 kg
    assert tension.indices[0].unknown == "mass"
    assert tension.indices[0].total == pytest.approx(1.0, abs=0.1)
    assert all(abs(index.total) < 1e-6 for index in tension.indices[1:])
    assert heel.low == pytest.approx(-20.0) and heel.high == pytest.approx(5.0)
    assert heel.indices[0].unknown == "force" and 35.0 < heel.same_sign_percent < 65.0
    flat = by["flat", TENSION]
    assert (flat.median, flat.low, flat.high, flat.indices) == (0.0, 0.0, 0.0, None)


def test_an_incomplete_design_is_refused_and_the_missing_samples_named(study, tmp_path):
    case = study(UNKNOWNS)
    with pytest.raises(InputError, match="incomplete") as caught:
        certainty(case, tmp_path / "store", evaluate=failing, executor=here)
    text = str(caught.value)
    sample = int(text.split("missing: sample ")[1].split(",")[0])
    assert "too heavy" in text and "--without-indices" in text and "mass 7" in text
    found = certainty(case, tmp_path / "store", evaluate=failing, executor=here,
                      without_indices=True)
    lost = {number for number, _, _ in found.missing}
    assert sample in lost and found.tally.computed == 0
    assert lost == {s.number for s in found.samples if s.values.get("mass", 0.0) > 78.0}
    tension = next(s for s in found.spreads if (s.device, s.key) == ("shell", TENSION))
    assert tension.indices is None and tension.count == 64 * 5 - len(lost)
    assert tension.high <= 6.0
    # what failed is tried again only when asked
    again = certainty(case, tmp_path / "store", evaluate=shaped, executor=here, again=True)
    assert again.missing == () and again.spreads[0].indices is not False


def test_the_folder_holds_bands_samples_and_cautions(study, tmp_path, monkeypatch):
    case = study(UNKNOWNS)
    stand_in(monkeypatch, studying, "certainty", shaped)
    out = tmp_path / "out"
    text, code = run_certainty(case.file, out, Where(str(tmp_path / "store")))
    assert code == 0 and "not a diagnosis" in text and "mass" in text
    with open(out / "certainty.csv", newline="", encoding="utf-8") as handle:
        rows = {(r["device"], r["tissue"]): r for r in csv.DictReader(handle)}
    row = rows["shell", "plantar_fascia"]
    assert float(row["mass.total_index"]) > 0.8 > float(row["fascia.total_index"])
    with open(out / "samples.csv", newline="", encoding="utf-8") as handle:
        samples = list(csv.DictReader(handle))
    assert len(samples) == (64 * 5 + 1) * 3
    changes = [100 * (float(b["plantar_fascia.tension_N"]) / float(a["plantar_fascia.tension_N"]) - 1)
               for a, b in zip(samples[3::3], samples[5::3], strict=True)]
    assert float(row["median_change_percent"]) == pytest.approx(np.median(changes))
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "not a diagnosis" in page and "sign" in page and page.count("<img") >= 3
    assert json.loads((out / "summary.json").read_text(encoding="utf-8"))["samples"] == 320


FEW = UNKNOWNS.replace("samples = 64", "samples = 4")
PAD = ("heel_pad", "compression_percent")


def curved(run, tell):
    """A change that depends on all unknowns at once, so that few samples cannot part them."""
    person, force = run.case.person, run.instant.vertical_bodyweights
    shell = run.device is not None and run.device.features
    lump = (person.body_mass_kg - 70.0) * (person.fascia_stiffness_factor - 1.0) * (force - 0.9)
    return kept({TENSION: 500.0 * (0.7 + lump / 4 if shell else 1.0), HEEL: 180.0 if shell else 100.0})


def test_few_samples_are_counted_and_their_indices_not_shown(study, tmp_path):
    found = certainty(study(FEW), tmp_path / "store", evaluate=curved, executor=here)
    tension = next(s for s in found.spreads if (s.device, s.key) == ("shell", TENSION))
    assert not tension.indices[0].total_known
    assert matters(tension) == TOO_FEW
    text = " ".join(table(found).split())
    page = certainty_page(found, study_provenance(found.tally, 1.0, "here", 1))
    assert "rises with 'shell': the peak pressure on the heel pad +80 % (in all samples)" in text
    for shown in (text, page):
        assert "for sure" not in shown and TOO_FEW in shown
        assert "raise samples under [certainty] (now 4;" in shown
        # no index of the rough ones is printed
        assert not re.search(rf"(mass|fascia|force) {tension.indices[0].total:.2f}", shown)
    entry = next(e for e in summary(found)["devices"]["shell"] if e["tissue"] == "plantar_fascia")
    assert entry["total_indices"][tension.indices[0].unknown] is None
    assert entry["samples"] == 20 and entry["samples_of_same_sign"] == tension.same_sign


def test_a_sign_is_given_as_so_many_of_the_samples():
    spread = Spread("shell", *HEEL, 16, 12.0, -1.0, 30.0, 93.75, 10.0, None)
    assert (held(spread), verdict(spread)) == ("15 of 16", "more in 15 of 16 samples")
    assert verdict(replace(spread, same_sign_percent=100.0)) == "more in all samples"
    assert verdict(replace(spread, same_sign_percent=56.25)) == "open: more in 9 of 16 samples"
    small = replace(spread, median=0.1, low=-0.2, high=0.4)
    assert (sign_cell(small), verdict(small)) == ("–", "hardly changes")


def test_an_index_is_named_only_where_it_is_known():
    def index(name, total, half):
        return Index(name, total, half, total, half)

    spread = Spread("shell", *HEEL, 16, 12.0, -1.0, 30.0, 100.0, 10.0,
                    (index("a_b", 0.7, 0.3), index("b", 0.5, 0.31), index("c", 0.05, 0.01)))
    assert matters(spread) == "a b 0.70" and too_rough(spread) == ["b"]
    rough = replace(spread, indices=(index("a", 1.86, 6.2), index("b", 0.5, 0.1)))
    assert matters(rough) == TOO_FEW and matters(replace(spread, indices=None)) == "–"
    nan = replace(spread, indices=(index("a", 0.5, float("nan")),))
    assert matters(nan) == TOO_FEW


def test_samples_that_press_tissue_beyond_its_law_are_counted(study, tmp_path):
    """The middle set is meant down to a stretch of 0.4, the stiff one to 0.5: 60 and 50 percent."""
    unknown = UNKNOWNS + """[[certainty.unknown]]
name = "tissue"
of = "person.plantar_tissue"
among = ["plantar_tissue_middle", "plantar_tissue_stiff"]
"""

    def pressed(run, tell):
        kept_of = curved(run, tell)
        kept_of["measures"].append([*PAD, 55.0 if run.device is None else 45.0, None])
        return kept_of

    found = certainty(study(unknown.replace("samples = 64", "samples = 8")), tmp_path / "store",
                      evaluate=pressed, executor=here)
    stiff = {s.number for s in found.samples[1:] if s.values["tissue"] == "plantar_tissue_stiff"}
    assert {entry.sample for entry in found.beyond} == stiff and 0 < len(stiff) < 48
    assert {(e.condition, e.pad, e.compression_percent, e.meant_percent) for e in found.beyond} == {
        ("barefoot", "heel_pad", 55.0, 50.0)}
    words = f"{len(stiff)} of 48 samples are extrapolated"
    page = certainty_page(found, study_provenance(found.tally, 1.0, "here", 1))
    assert words in " ".join(table(found).split()) and words in page
    assert "plantar_tissue_stiff meant for up to 50 %" in " ".join(table(found).split())
    assert "beyond the range of a material" in page
    assert len(summary(found)["extrapolated"]) == len(stiff)
    none = certainty(study(FEW), tmp_path / "none", evaluate=curved, executor=here)
    assert none.beyond == () and "extrapolated" not in table(none)


def texts(figure):
    """Return all texts of a figure, legends included."""
    from matplotlib.text import Text

    return [t.get_text() for t in figure.findobj(Text) if t.get_text()]


def test_what_the_chart_cuts_off_is_printed():
    spread = Spread("shell", *HEEL, 16, 179.0, 120.0, 310.0, 100.0, 10.0, None)
    low = replace(spread, tissue="plantar_fascia", quantity="tension_N", median=-40.0, low=-160.0,
                  high=10.0)
    figure = bands([spread, low], "plantar_fascia")
    shown = texts(figure)
    assert "median +179 %, up to +310 %" in shown and "to −160 %" in shown
    (axes,) = figure.axes
    left, right = axes.get_xlim()
    for line in axes.lines:  # nothing is drawn beyond the axis, but at its ends
        assert left <= min(line.get_xdata()) and max(line.get_xdata()) <= right
    inside = replace(spread, median=20.0, low=10.0, high=30.0)
    assert not [t for t in texts(bands([inside], "heel_pad")) if t.startswith(("to ", "median"))]


def test_the_legend_of_the_indices_covers_no_bar_and_fits_the_caption():
    rows = tuple(Index(f"unknown_{n}", 0.9, 0.05, 0.95, 0.05) for n in range(6))
    spread = Spread("shell", *HEEL, 16, 12.0, -1.0, 30.0, 100.0, 10.0, rows)
    figure = index_bars(spread)
    figure.draw_without_rendering()
    (legend,), (axes,) = figure.legends, figure.axes
    assert axes.get_legend() is None and len(axes.patches) == 6
    assert not legend.get_window_extent().overlaps(axes.get_window_extent())
    assert {t.get_text() for t in legend.get_texts()} == {"total index (95 % interval)",
                                                         "first-order index"}
    assert "total index" in TOTAL and "left" in TOTAL and "first-order" in FIRST and "fall" in FIRST
    rough = replace(spread, indices=(*rows[:5], replace(rows[5], total_half_width=0.5)))
    figure = index_bars(rough)
    assert len(figure.axes[0].patches) == 5 and TOO_FEW in texts(figure)


def test_shipped_unknowns_have_a_source_and_a_place_in_each_model(study):
    for models, unknown in shipped():
        assert unknown.source.endswith(")") and models
    names = [u.name for u in unknowns_of(study(""))]
    assert names[0] == "plantar_tissue" and "fascia_stiffness" in names and "axis_shift_mm" not in names
    assert all(u.middle is not None for u in unknowns_of(study("")) if u.spread is not None)
    pad = next(u for u in unknowns_of(study("")) if u.name == "heel_pad_mm")
    assert pad.middle == 17.0


def test_values_follow_their_distribution(study):
    from fefoot.case.address import address

    case = study(UNKNOWNS)
    mass, fascia, force = unknowns_of(case)
    shares = (np.arange(2000) + 0.5) / 2000
    key = address(fascia.of, case, None).key
    normal = np.array([value_of(fascia, s, key) for s in shares])
    assert normal.mean() == pytest.approx(1.0, abs=1e-6)
    # variance of a normal distribution cut off at c: 1 - 2 c phi(c) / (2 Phi(c) - 1)
    c = CUT_SPREADS
    phi = math.exp(-c * c / 2) / math.sqrt(2 * math.pi)
    cut = 1 - 2 * c * phi / math.erf(c / math.sqrt(2))
    assert normal.std() == pytest.approx(0.2 * math.sqrt(cut), rel=1e-3)
    assert normal.min() >= 1 - 0.4 - 1e-9 and normal.max() <= 1 + 0.4 + 1e-9
    assert [value_of(mass, s, key) for s in (0.0, 0.5)] == [60.0, 70.0]
    assert [value_of(force, s, key) for s in (0.0, 0.49, 0.5, 0.999)] == [0.9, 0.9, 1.1, 1.1]


@pytest.mark.parametrize(("old", "new", "words"), [
    ("at = 62", 'at = "all"', "one instant"), ("[[device]]", "", "no device")])
def test_a_case_without_device_or_with_many_instants_is_refused(study, tmp_path, old, new, words):
    from study_runs import STUDY

    text = STUDY.replace(old, new) if new else STUDY.partition("[[device]]")[0]
    with pytest.raises(InputError, match=words):
        certainty(study(UNKNOWNS, text), tmp_path / "store", evaluate=cheap)
