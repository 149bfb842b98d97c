"""Designs of a space, their table, what is best and what it costs."""

import csv
import json
import math

import numpy as np
import pytest
from study_runs import SPACE, cheap, here, stand_in, stubborn, values_of

from fefoot.errors import InputError
from fefoot.report.sweep_words import points
from fefoot.study import sweep as sweeping
from fefoot.study.choice import ends_reached, excess, front, leading_key, ranked, rises
from fefoot.study.commands import Where, run_sweep
from fefoot.study.run import Run
from fefoot.study.space import designs
from fefoot.study.sweep import REFERENCE, sweep
from fefoot.study.sweep_table import columns_and_rows, summary

KEY = ("plantar_fascia", "tension_N")


def test_a_grid_holds_every_allowed_combination_once(study):
    found = designs(study())
    points = [tuple(d.values.values()) for d in found]
    assert len(points) == len(set(points)) == 24  # 5 x 3 x 2 less 2 x 3 excluded
    assert [d.number for d in found] == list(range(1, 25))
    assert not any(d.values["cover"] == "eva_firm" and d.values["shell_mm"] < 3 for d in found)
    assert all(d.device.layers[1].thickness_mm == d.values["shell_mm"] for d in found)
    assert all(d.device in d.case.devices and len(d.case.devices) == 2 for d in found)


@pytest.mark.parametrize("sampling", ["latin_hypercube", "sobol"])
def test_samples_are_seeded_spread_and_snap_to_steps(study, sampling):
    space = SPACE.replace("[sweep]", f'[sweep]\nsampling = "{sampling}"\nsamples = 64').replace(
        "step = 0.5\n", "")
    found = designs(study(space))
    assert [d.values for d in found] == [d.values for d in designs(study(space))]
    assert [d.values for d in found] != [d.values for d in designs(
        study(space.replace("samples = 64", "samples = 64\nseed = 2")))]
    thick = np.array([d.values["shell_mm"] for d in found])
    assert len(set(thick)) == len(found) and 2.0 <= thick.min() and thick.max() < 4.0
    # every quarter of the range holds a quarter of what is not excluded: 16 of 64, half as many
    # where one of the two covers is excluded (below 3 mm), each within the noise of the words
    counts, _ = np.histogram(thick, bins=[2.0, 2.5, 3.0, 3.5, 4.0])
    assert counts[2] == counts[3] == 16 and 4 <= counts[0] <= 12 and 4 <= counts[1] <= 12
    snapped = designs(study(space.replace("to = 4\n", "to = 4\nstep = 0.5\n")))
    assert {d.values["shell_mm"] for d in snapped} <= {2.0, 2.5, 3.0, 3.5, 4.0}
    assert len({tuple(d.values.values()) for d in snapped}) == len(snapped) < len(found)


def test_a_contradiction_is_a_row_and_not_a_solve(study, tmp_path):
    space = """
[sweep]
device = "shell"
[[sweep.vary]]
name = "length"
of = "device.length"
among = ["full", "to_metatarsals"]
[[sweep.vary]]
name = "heel_mm"
of = "person.heel_width_mm"
among = [60, 80]
[[sweep.vary]]
name = "forefoot_mm"
of = "person.forefoot_width_mm"
among = [78, 100]
"""
    swept = sweep(study(space), tmp_path / "store", evaluate=cheap, executor=here)
    refused = [line for line in swept.varied if line.failure]
    assert len(refused) == 2 and swept.tally.wanted == 6 * 2 - 3 + 2
    assert all("forefoot is not wider" in line.failure for line in refused)
    assert {line.varied["heel_mm"] for line in refused} == {80.0}


def test_each_row_is_compared_with_no_device_for_the_same_person(study, tmp_path):
    space = SPACE + """
[[sweep.vary]]
name = "mass"
of = "person.body_mass_kg"
among = [60, 90]
"""
    case = study(space)
    swept = sweep(case, tmp_path / "store", evaluate=cheap, executor=here)
    assert len(swept.varied) == 48
    for line in swept.varied:
        assert line.base.values[KEY] == pytest.approx(6.8 * line.varied["mass"])
        now = line.row.values[KEY]
        assert line.change_percent(KEY) == pytest.approx(100 * (now / line.base.values[KEY] - 1))
    light, heavy = ([line.change_percent(KEY) for line in swept.varied if line.varied["mass"] == m]
                    for m in (60.0, 90.0))
    assert light == pytest.approx(heavy)


def test_without_a_device_person_and_load_are_varied_for_every_device(study, tmp_path):
    space = """
[sweep]
[[sweep.vary]]
name = "mass"
of = "person.body_mass_kg"
from = 60
to = 80
step = 10
"""
    swept = sweep(study(space), tmp_path / "store", evaluate=cheap, executor=here)
    assert [(line.design, line.condition) for line in swept.varied] == [
        (n, c) for n in (1, 2, 3) for c in ("barefoot", "flat", "shell")]


def test_what_is_shown_when_the_instant_is_varied_and_when_there_is_no_device(study, tmp_path):
    from study_runs import STUDY

    from fefoot.report.sweep_page import sweep_page
    from fefoot.report.sweep_words import table
    from fefoot.study.study_folder import study_provenance

    space = """
[sweep]
[[sweep.vary]]
name = "when"
of = "activity.at"
among = [50, "peak"]
"""
    swept = sweep(study(space), tmp_path / "store", evaluate=cheap, executor=here)
    assert {line.stance_percent for line in swept.varied} == {50.0, 77.0}
    text = table(swept)
    assert "each at its own instant" in text and text.count("shell") >= 3 and "Of 4 designs" in text
    assert "own instant" in sweep_page(swept, study_provenance(swept.tally, 1.0, "here", None))
    bare = STUDY.partition("[[device]]")[0] + "[solver]\nmesh_size_mm = 8\n"
    swept = sweep(study(space, bare), tmp_path / "store", evaluate=cheap, executor=here)
    assert [line.condition for line in swept.varied] == ["barefoot"] * 2
    assert "no device to compare" in table(swept)


def test_the_choice_is_the_largest_fall_and_the_front_is_not_beaten(study, tmp_path):
    case = study()
    swept = sweep(case, tmp_path / "store", evaluate=cheap, executor=here)
    best = ranked(swept.varied, leading_key(case))
    values = [values_of(Run.of(d.case, d.device, case.activity.instants()[0]))[KEY]
              for d in swept.designs]
    assert best[0].row.values[KEY] == min(values)
    assert best[0].varied["fill"] == 75.0 and best[0].varied["shell_mm"] == 4.0

    def cost(line):
        return line.row.values["midfoot_sole", "peak_pressure_kPa"]

    trade = front(swept.varied, KEY, cost)
    for line in swept.varied:
        better = [other for other in swept.varied if cost(other) < cost(line)
                  and other.change_percent(KEY) < line.change_percent(KEY)]
        if line in trade:
            assert not better
    assert trade[0] is best[0] and len({cost(line) for line in trade}) == len(trade) > 3


def test_a_best_design_at_the_end_of_the_space_is_told(study, tmp_path):
    from fefoot.report.sweep_words import end_text

    swept = sweep(study(), tmp_path / "store", evaluate=cheap, executor=here)
    best = ranked(swept.varied, KEY)[0]
    assert (best.varied["shell_mm"], best.varied["fill"]) == (4.0, 75)
    assert ends_reached(swept, best) == ["shell_mm", "fill"]  # not the words of the cover
    assert end_text(swept, best) == ("The best design lies at the end of shell_mm (4) and fill (75): a "
                                     "wider range may hold a better one.")
    assert end_text(swept, best) in points(swept)
    assert summary(swept)["at_the_end_of"] == ["shell_mm", "fill"]
    inside = next(line for line in swept.varied
                  if (line.varied["shell_mm"], line.varied["fill"]) == (3.0, 50))
    assert ends_reached(swept, inside) == [] and end_text(swept, inside) is None
    thin = next(line for line in swept.varied
                if (line.varied["shell_mm"], line.varied["fill"]) == (2.0, 50))
    assert ends_reached(swept, thin) == ["shell_mm"]


@pytest.mark.parametrize(("of", "ends"), [
    ("from = 10\nto = 100", []), ("from = 10\nto = 99", ["fill"]), ("among = [99]", [])])
def test_a_value_that_the_case_cannot_take_further_is_no_end(study, tmp_path, of, ends):
    """A fill of 100 % is the largest there is; a list of one value has no end."""
    space = f"""
[sweep]
device = "shell"
sampling = "latin_hypercube"
samples = 64
[[sweep.vary]]
name = "fill"
of = "feature.arch_fill.fill_percent"
{of}
[[sweep.vary]]
name = "mass"
of = "person.body_mass_kg"
from = 70
to = 71
"""
    swept = sweep(study(space), tmp_path / "store", evaluate=cheap, executor=here)
    assert ends_reached(swept, ranked(swept.varied, KEY)[0]) == ends


def test_without_pyarrow_the_terminal_says_what_is_missing(study, tmp_path, monkeypatch):
    import sys

    case = study()
    stand_in(monkeypatch, sweeping, "sweep", cheap)
    where = Where(str(tmp_path / "store"))
    with_it, _ = run_sweep(case.file, tmp_path / "with", where)
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    without, _ = run_sweep(case.file, tmp_path / "without", where)
    assert not (tmp_path / "without" / "designs.parquet").exists()
    (line,) = [line for line in without.splitlines() if "parquet" in line]
    assert line.startswith("without designs.parquet: pyarrow is not installed")
    assert ("parquet" in with_it) != (tmp_path / "with" / "designs.parquet").exists()


def test_rises_and_limits(study, tmp_path):
    from fefoot.case.studies import Limit

    line = ranked(sweep(study(), tmp_path / "store", evaluate=cheap, executor=here).varied, KEY)[0]
    ((tissue, quantity, percent),) = rises(line)
    assert (tissue, quantity) == ("midfoot_sole", "peak_pressure_kPa")
    value = line.row.values[tissue, quantity]
    assert percent == pytest.approx(100 * (value / 22.0 - 1))
    assert excess(line, Limit(tissue, quantity, most=value)) == pytest.approx(0.0)
    assert excess(line, Limit(tissue, quantity, most=value / 2)) == pytest.approx(1.0)
    assert excess(line, Limit(tissue, quantity, rise_percent=percent)) == pytest.approx(0.0)
    assert excess(line, Limit("toe_pads", quantity, most=1.0)) is None


def test_the_folder_is_whole_and_its_tables_hold_every_digit(study, tmp_path, monkeypatch):
    case = study()
    stand_in(monkeypatch, sweeping, "sweep", stubborn)
    out = tmp_path / "results"
    text, code = run_sweep(case.file, out, Where(str(tmp_path / "store")))
    assert code == 0 and "25 runs" not in text and "26 runs: 26 computed, 0 reused, 6 failed" in text
    assert "not a diagnosis" in text and f"results are in {out}" in text
    with open(out / "designs.csv", newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    assert len(rows) == 26 and [row["status"] for row in rows].count("failed") == 6
    assert all(row["reason"].startswith("no equilibrium was found (the load")
               for row in rows if row["status"] == "failed")
    swept = sweep(case, tmp_path / "store", evaluate=None)
    for row, line in zip(rows, swept.lines, strict=True):
        assert int(row["design"]) == line.design and (line.design == REFERENCE) == (not row["fill"])
        if not line.failure:
            assert float(row["plantar_fascia.tension_N"]) == line.row.values[KEY]
            assert float(row["plantar_fascia.tension_N.change_percent"]) == line.change_percent(KEY)
        else:
            assert row["plantar_fascia.tension_N"] == ""
    answer = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert answer == json.loads(json.dumps(summary(swept))) and len(answer["failures"]) == 6
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "not a diagnosis" in page and page.count("<img") == 2 and "http" not in page.split(
        "</style>")[1].replace("http-equiv", "")
    assert run_sweep(case.file, tmp_path / "again", Where(str(tmp_path / "store")))[0].count(
        "0 computed, 26 reused") == 1
    assert (tmp_path / "again" / "designs.csv").read_bytes() == (out / "designs.csv").read_bytes()
    with pytest.raises(InputError, match="exists already"):
        run_sweep(case.file, out, Where(str(tmp_path / "store")))


def test_parquet_holds_the_same_table(study, tmp_path):
    parquet = pytest.importorskip("pyarrow.parquet")
    from fefoot.study.study_folder import table_files

    swept = sweep(study(), tmp_path / "store", evaluate=stubborn, executor=here)
    columns, rows = columns_and_rows(swept)
    files = table_files("designs", columns, rows)
    (tmp_path / "t.parquet").write_bytes(files["designs.parquet"])
    back = parquet.read_table(tmp_path / "t.parquet")
    assert back.column_names == columns
    assert [list(row.values()) for row in back.to_pylist()] == [
        [None if isinstance(c, float) and math.isnan(c) else c for c in row] for row in rows]


def test_results_that_cannot_be_written_are_one_clear_error(study, tmp_path, monkeypatch):
    import errno

    from fefoot.study import study_folder

    case = study()
    stand_in(monkeypatch, sweeping, "sweep", cheap)

    def full(old, new):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(study_folder.os, "rename", full)
    with pytest.raises(InputError, match="results cannot be written") as caught:
        run_sweep(case.file, tmp_path / "out", Where(str(tmp_path / "store")))
    assert "No space left" in caught.value.problem and "No space left" not in caught.value.hint
    assert "another folder with --out" in caught.value.hint and "in the store" in caught.value.hint
    assert not [p for p in tmp_path.iterdir() if "out" in p.name]


def test_a_sweep_of_nothing_is_refused(study, tmp_path):
    with pytest.raises(InputError, match="no design space"):
        sweep(study(""), tmp_path)
    every = SPACE.replace('cover = "eva_firm"\nshell_mm = { below = 3 }', "fill = { above = 0 }")
    with pytest.raises(InputError, match="every design is excluded"):
        sweep(study(every), tmp_path)
    with pytest.raises(InputError, match="number of workers"):
        Where(str(tmp_path), workers=0).executor()
