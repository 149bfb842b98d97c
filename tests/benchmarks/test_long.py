"""The benchmarks that take hours: what they draw and how they judge, without solving."""

import pytest

from benchmarks import crowd, whole_foot_speed
from benchmarks.crowd import SPREAD, described, drawn
from benchmarks.designs import same_values
from benchmarks.directions import DIRECTIONS, direction_line
from benchmarks.hunt import FREE, asked, judged
from benchmarks.studies import CASES
from benchmarks.whole_foot_speed import with_two_devices
from fefoot.case.reader import case_from_dict, read_case
from fefoot.case.schema import DIMENSIONS, PERSON
from fefoot.study.choice import leading_key
from fefoot.study.engine import Row
from fefoot.study.space import designs
from fefoot.study.sweep import Line

USUAL = {key.name: key.default for key in PERSON if key.name in DIMENSIONS} | {"body_mass_kg": 70.0}


def test_draws_are_the_same_again_and_within_their_spread():
    draws = [drawn(number) for number in range(40)]
    assert drawn(7) == draws[7] != draws[8]
    for draw in draws:
        for name, value in draw["person"].items():
            assert abs(value / USUAL[name] - 1) < SPREAD + 1e-3, name
        assert case_from_dict(draw).devices and len(described(draw)) == 3
    assert {draw["activity"].get("at") for draw in draws} == {None, 30, 55, 70}
    assert {len(draw["device"][0]["layer"]) for draw in draws} == {1, 2}
    assert {len(draw["device"][0].get("feature", ())) for draw in draws} == {0, 1, 2}
    spread = [draw["person"]["length_mm"] / USUAL["length_mm"] - 1 for draw in draws]
    assert min(spread) < -0.1 and max(spread) > 0.1


def test_the_table_of_draws(monkeypatch):
    """Solved, grown, failed and not yet solved draws, as the lines and the counts say them."""
    cost = {"factorisations": 31.0, "seconds": 200.0, "grown_from": 1.0}
    rows = {0: Row("a", None, {}, {}, cost), 1: Row("b", None, {}, {}, cost | {"grown_from": 0.5}),
            2: Row("c", "not converged: made up", {}, {}, {}), 3: None}
    monkeypatch.setattr(crowd, "rows_of", lambda runs, compute: {n: rows[n] for n in runs})
    lines = list(crowd.crowd_lines(4, False))
    assert lines[1].endswith("| 31 | 200 | ok |") and lines[2].endswith("| 31 | 200 | ok, by growth |")
    assert lines[3].endswith("| | | not converged: made up |")
    assert lines[4].startswith("\n2 of 3 reached") and "1 of them by growth" in lines[4]
    assert lines[5] == "\n1 of 4 draws have not been solved yet."


@pytest.mark.parametrize("name", FREE)
def test_the_shipped_device_lies_in_the_space(name):
    case = asked(name)
    device, = case.devices
    at = {"layer": lambda n, key: getattr(device.layers[int(n) - 1], key),
          "feature": lambda kind, key: next(
              f.parameters[key] for f in device.features if f.kind == kind)}
    for entry in case.studies.sweep.vary:
        if entry.among:
            continue
        what, which, key = entry.of.split(".")
        assert entry.low <= at[what](which, key) <= entry.high, entry.name
    assert len(designs(case)) == 200 and case.studies.search.solves == 60


def test_the_best_keeps_the_limits():
    case = asked("sore_fascia_walking")
    key, limited = leading_key(case), ("midfoot_sole", "peak_pressure_kPa")

    def line(number, tension, pressure, failure=None):
        values = {} if failure else {key: tension, limited: pressure}
        base = Row("b", None, {key: 500.0, limited: 20.0}, {}, {})
        return Line(number, case.devices[0].name, 62.0, {"fill": number},
                    Row(str(number), failure, values, {}, {}), base)

    lines = [line(1, 450.0, 40.0), line(2, 300.0, 90.0), line(3, 420.0, 47.0), line(4, 0, 0, "none")]
    found = judged(case, lines)
    assert found.best.design == 3 and found.at == 3
    assert [kept.design for kept in found.kept] == [3, 1] and len(found.lines) == 4
    assert judged(case, lines[1:2]).best is None


def test_directions_name_conditions_and_measures_that_exist():
    from fefoot.case.tissues import TISSUES

    for direction in DIRECTIONS:
        tissue, quantity = direction.measure
        assert quantity in TISSUES[tissue].quantities
        for condition in (direction.start, direction.end):
            run = condition.run()
            assert run.case.model == condition.model
            assert (run.device.name if run.device else "barefoot") == condition.device
    shifted = next(d for d in DIRECTIONS if d.start.axis_shift_mm is not None)
    assert (shifted.start.run().case.person.subtalar_axis_shift_mm,
            shifted.end.run().case.person.subtalar_axis_shift_mm) == (0.0, -6.0)


def test_a_direction_holds_by_its_sign_and_only_with_both_answers():
    lowers = DIRECTIONS[0]

    def row(value, failure=None):
        return Row("k", failure, {} if failure else {lowers.measure: value}, {}, {})

    line, holds = direction_line(lowers, row(8.0), row(6.0))
    assert holds and "8 to 6" in line and "-25.0 %" in line and line.endswith("| yes |")
    line, holds = direction_line(lowers, row(8.0), row(8.5))
    assert holds is False and "**no**" in line
    assert direction_line(lowers, None, row(6.0))[1] is None
    line, holds = direction_line(lowers, row(8.0), row(0.0, "not converged"))
    assert holds is None and "not converged" in line


def test_two_sweeps_are_the_same_only_to_the_last_digit():
    from types import SimpleNamespace

    base = Row("b", None, {("heel_pad", "peak_pressure_kPa"): 150.0}, {}, {})

    def swept(value, failure=None):
        row = Row("k", failure, {("heel_pad", "peak_pressure_kPa"): value}, {}, {"seconds": value})
        return SimpleNamespace(lines=(Line(1, "flat", 20.0, {"mm": 3.0}, row, base),))

    assert same_values(swept(120.0), swept(120.0))
    assert not same_values(swept(120.0), swept(120.0 * (1 + 1e-15)))
    assert not same_values(swept(120.0), swept(120.0, "not converged"))


def test_the_timed_whole_foot_case_has_two_devices(tmp_path):
    shipped = (CASES / whole_foot_speed.CASE).read_text(encoding="utf-8")
    file = tmp_path / "case.toml"
    file.write_text(with_two_devices(shipped), encoding="utf-8")
    case, whole = read_case(file), read_case(CASES / whole_foot_speed.CASE)
    assert case.devices == whole.devices[:2] and case.person == whole.person
    assert len(case.activity.instants()) == 1
