"""Steps on a force plate: what comes out of a known one, and one clear error for each defect."""

import numpy as np
import pytest

from fefoot.errors import InputError
from fefoot.load import stance
from fefoot.load.force_plate import GRAVITY_m_per_s2, force_plate_activity
from fefoot.load.plate_file import COLUMNS

MASS_KG, LENGTH_MM = 80.0, 250.0
WEIGHT_N = MASS_KG * 9.81
STANCE_S, RATE = 0.6, 500


def step(before_s=0.1, after_s=0.1):
    """A walk-like step by formulas: columns by name, unloaded before and after."""
    time = np.arange(0.0, before_s + STANCE_S + after_s, 1.0 / RATE)
    share = np.clip((time - before_s) / STANCE_S, 0.0, 1.0)
    load = WEIGHT_N * (1.2 * np.sin(np.pi * share) + 0.25 * np.sin(3 * np.pi * share))
    return {"time_s": time, "vertical_N": load,
            "fore_aft_N": -0.18 * WEIGHT_N * np.sin(2 * np.pi * share),
            "pressure_centre_mm": np.where(load > 0, 25.0 + 175.0 * share, 0.0)}


def text_of(columns, delimiter=","):
    rows = zip(*columns.values(), strict=True)
    return "\n".join([delimiter.join(columns), *(delimiter.join(
        v if isinstance(v, str) else repr(float(v)) for v in row) for row in rows)])


@pytest.fixture
def read(tmp_path):
    def of(columns, instants=9, **options):
        file = tmp_path / "step.csv"
        text = columns if isinstance(columns, str | bytes) else text_of(columns, **options)
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return force_plate_activity(file, name="mine", body_mass_kg=MASS_KG, length_mm=LENGTH_MM,
                                    instants=instants)

    return of


def test_a_known_step_comes_back_in_body_weights_and_percent(read):
    activity = read(step())
    assert len(activity.instants) == 9 and activity.name == "mine"
    assert "step.csv" in activity.source
    percents = [i.stance_percent for i in activity.instants]
    assert percents == sorted(percents)
    for instant in activity.instants:
        # 20 N are reached after 2.5 ms, and rows stand 2 ms apart: 0.67 % of stance is cut off at
        # each end
        share = 0.0067 + 0.9867 * 0.01 * instant.stance_percent
        assert instant.vertical_bodyweights == pytest.approx(
            1.2 * np.sin(np.pi * share) + 0.25 * np.sin(3 * np.pi * share), abs=0.003)
        assert instant.fore_aft_bodyweights == pytest.approx(-0.18 * np.sin(2 * np.pi * share),
                                                             abs=0.001)
        assert instant.pressure_centre_percent == pytest.approx(10.0 + 70.0 * share, abs=0.05)
        assert instant.shank_angle_degrees == 0.0


def test_the_greatest_force_is_an_instant_and_newtons_come_back(read):
    columns = step()
    for count in (3, 9, 30):
        activity = read(columns, count)
        assert len(activity.instants) == count
        # times the weight that the demand multiplies with (study/question.py)
        assert activity.peak().vertical_bodyweights * MASS_KG * stance.GRAVITY_m_per_s2 == (
            pytest.approx(columns["vertical_N"].max()))
    assert GRAVITY_m_per_s2 == stance.GRAVITY_m_per_s2


def test_where_the_step_lies_in_the_record_does_not_matter(read):
    plain = read(step()).instants
    for columns in (step(0.5, 0.02), {k: v[50:] for k, v in step().items()}):
        for a, b in zip(read(columns).instants, plain, strict=True):
            assert a.vertical_bodyweights == pytest.approx(b.vertical_bodyweights, abs=0.02)
            assert a.pressure_centre_percent == pytest.approx(b.pressure_centre_percent, abs=1.0)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_delimiters_notes_further_columns_and_empty_places_are_fine(read, delimiter):
    columns = step()
    columns["free_moment_Nm"] = np.zeros(len(columns["time_s"]))
    columns["medial_lateral_N"] = columns["fore_aft_N"] / 3
    columns["shank_angle_degrees"] = np.full(len(columns["time_s"]), 7.0)
    columns["pressure_centre_mm"] = [
        "" if force <= 0 else repr(float(place)) for force, place in zip(
            columns["vertical_N"], columns["pressure_centre_mm"], strict=True)]
    text = "\ufeff# plate 1\n\n" + text_of(columns, delimiter) + "\n\n"
    found = read(text)
    assert [i.shank_angle_degrees for i in found.instants] == [7.0] * 9
    assert [i.vertical_bodyweights for i in found.instants] == [
        i.vertical_bodyweights for i in read(step()).instants]


def test_places_may_be_given_in_percent(read):
    columns = step()
    columns["pressure_centre_percent"] = 100.0 * columns.pop("pressure_centre_mm") / LENGTH_MM
    for a, b in zip(read(columns).instants, read(step()).instants, strict=True):
        assert a.pressure_centre_percent == pytest.approx(b.pressure_centre_percent)


def test_noise_about_the_threshold_and_short_knocks_are_no_stance(read):
    columns = step(0.3, 0.3)
    force = columns["vertical_N"]
    force[20:24] = 60.0  # 8 ms
    edge = np.flatnonzero(force >= 20.0)[-1]
    force[edge + 1], force[edge + 2] = 12.0, 21.0
    force[282:287] = 5.0  # 12 ms without signal, between two instants
    assert len(read(columns).instants) == 9


def test_what_carries_nothing_is_left_out(read):
    many = read(step(), 199).instants
    assert min(i.vertical_bodyweights for i in many) >= 0.05
    assert 190 < len(many) <= 199


def with_cell(name, row, value):
    columns = {k: list(v) for k, v in step().items()}
    columns[name][row] = value
    return columns


def twice():
    one = step()
    return {k: np.concatenate([v, v + (v[-1] + 0.002 if k == "time_s" else 0.0)])
            for k, v in one.items()}


def changed(**factors):
    return {k: v * factors.get(k, 1.0) for k, v in step().items()}


def without(name):
    return {k: v for k, v in step().items() if k != name}


DEFECTS = {
    "empty": ("", ["is empty"]),
    "only a head": ("time_s,vertical_N,fore_aft_N,pressure_centre_mm\n", ["no rows"]),
    "no head": ("0,1,2,3\n0.1,4,5,6\n", ["column is missing", "time_s"]),
    "not text": (b"\xff\xfe\x00\x01", ["not UTF-8"]),
    "missing force": (without("vertical_N"), ["vertical_N: a column is missing"]),
    "missing place": (without("pressure_centre_mm"), ["pressure_centre_mm: a column is missing"]),
    "misspelt": ("time_s,vertical_n,fore_aft_N,pressure_centre_mm\n0,1,2,3",
                 ["rename 'vertical_n'"]),
    "named twice": ("time_s,vertical_N,vertical_N,fore_aft_N,pressure_centre_mm\n0,1,2,3,4",
                    ["two columns"]),
    "place twice": (step() | {"pressure_centre_percent": step()["pressure_centre_mm"]},
                    ["given twice"]),
    "words": (with_cell("vertical_N", 7, "much"), ["line 9, vertical_N", "a number is needed"]),
    "empty force": (with_cell("fore_aft_N", 7, ""), ["line 9, fore_aft_N"]),
    "infinite": (with_cell("vertical_N", 7, "inf"), ["a number is needed"]),
    "decimal comma": ("time_s;vertical_N;fore_aft_N;pressure_centre_mm\n0;1,5;2;3",
                      ["line 2, vertical_N", "decimal point"]),
    "short line": ("time_s,vertical_N,fore_aft_N,pressure_centre_mm\n0,1,2", ["line 2", "3", "4"]),
    "time back": (with_cell("time_s", 40, 0.0), ["line 42, time_s", "does not rise"]),
    "never loaded": (changed(vertical_N=0.0), ["never loaded"]),
    "force on the plate": (changed(vertical_N=-1.0), ["never loaded", "turn the sign"]),
    "body weights": (changed(vertical_N=1 / WEIGHT_N), ["kN or body weights"]),
    "several": (twice(), ["several stances", "0.1", "one step"]),
    "milliseconds": (changed(time_s=1000.0), ["too long", "milliseconds"]),
    "a moment": (changed(time_s=0.001), ["for a moment only", "seconds"]),
    "few rows": ({k: v[::100] for k, v in step().items()}, ["too few rows"]),
    "metres": (changed(pressure_centre_mm=0.001), ["metres", "write mm"]),
    "empty place": (with_cell("pressure_centre_mm", 200, "nan"),
                    ["line 202, pressure_centre_mm", "empty while the foot is loaded"]),
    "outside the foot": (changed(pressure_centre_mm=2.0), ["outside the foot", "0 to 250 mm"]),
    "from the toes": (step() | {"pressure_centre_mm": 200.0 - step()["pressure_centre_mm"]},
                      ["from the toes to the heel"]),
    "huge": (changed(vertical_N=20.0), ["larger than any step's", "80 kg", "up to 12"]),
    "huge fore-aft": (changed(fore_aft_N=30.0), ["fore_aft_N", "up to 3 body weights"]),
    "turned fore-aft": (changed(fore_aft_N=-1.0), ["fore_aft_N", "turn the sign"]),
}


@pytest.mark.parametrize("name", DEFECTS)
def test_a_defect_is_one_clear_error(read, name):
    columns, parts = DEFECTS[name]
    with pytest.raises(InputError) as caught:
        read(columns)
    message = str(caught.value)
    assert "step.csv" in message.splitlines()[0]
    for part in parts:
        assert part in message, message
    assert len(message) < 1200


def test_files_that_cannot_be_read(tmp_path, monkeypatch):
    for path, part in ((tmp_path / "none.csv", "no such force-plate file"),
                       (tmp_path, "cannot be read"), ("a\0b", "cannot be read")):
        with pytest.raises(InputError, match=part):
            force_plate_activity(path, name="x", body_mass_kg=80.0, length_mm=250.0)
    file = tmp_path / "long.csv"
    file.write_text(text_of(step()))
    monkeypatch.setattr("fefoot.load.plate_file.MOST_ROWS", 100)
    with pytest.raises(InputError, match="too many rows"):
        force_plate_activity(file, name="x", body_mass_kg=80.0, length_mm=250.0)
    monkeypatch.setattr("fefoot.load.plate_file.LARGEST_BYTES", 100)
    with pytest.raises(InputError, match="too large"):
        force_plate_activity(file, name="x", body_mass_kg=80.0, length_mm=250.0)


def test_every_column_is_described():
    assert all(column.doc and column.name.rpartition("_")[2] in ("s", "N", "mm", "percent", "degrees")
               for column in COLUMNS)
