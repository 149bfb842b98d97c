"""The shipped activities and interpolation between instants."""

import numpy as np
import pytest

from fefoot.errors import InputError
from fefoot.load import activities, activity


def test_standing_pressure_centre_follows_from_the_load_shares():
    # Shares: Cavanagh, Rodgers, Iiboshi (1987), recalled. Places: reference anatomy, mm of 255
    # (heel's centre, arch apex, mean metatarsal head, mean toe tip).
    shares = np.array([60.5, 7.8, 28.1, 3.6])
    heads = np.mean([185, 190, 186, 178, 167])
    tips = np.mean([238, 238, 229, 218, 204])
    centre = shares @ [34.0, 110.0, heads, tips] / shares.sum() / 255.0
    standing = activity("standing").peak()
    assert standing.pressure_centre_percent == pytest.approx(100 * centre, abs=0.05)
    assert standing.vertical_bodyweights == 0.5


def test_walking_peaks_and_trough():
    # Textbook ranges, recalled (first peak 1.0-1.2 at 20-25, trough 0.65-0.80 at 45-55 percent of
    # stance); the push-off peak of 1.25 is common practice without source.
    walking = activity("walking")
    assert walking.peak().stance_percent == 77 and walking.peak().vertical_bodyweights == 1.25
    assert 1.0 <= walking.at(22).vertical_bodyweights <= 1.2
    assert 0.65 <= walking.at(50).vertical_bodyweights <= 0.80
    percents = np.arange(5, 93)
    centre = [walking.at(p).pressure_centre_percent for p in percents]
    assert np.all(np.diff(centre) > 0)
    fore_aft = [walking.at(p).fore_aft_bodyweights for p in percents]
    assert min(fore_aft) == pytest.approx(-0.15) and max(fore_aft) == pytest.approx(0.2)


def test_between_instants_is_linear_and_at_instants_exact():
    walking = activity("walking")
    for instant in walking.instants:
        assert walking.at(instant.stance_percent) == instant
    middle = walking.at(0.5 * (70 + 77))
    assert middle.vertical_bodyweights == pytest.approx(0.5 * (1.15 + 1.25))
    assert middle.shank_angle_degrees == pytest.approx(14.0)


def test_outside_the_table_is_refused():
    with pytest.raises(InputError, match="5 to 92 percent"):
        activity("walking").at(99)
    with pytest.raises(InputError, match="write 'walking'"):
        activity("walk")


def test_every_activity_is_ordered_and_has_a_source():
    for entry in activities().values():
        percents = [i.stance_percent for i in entry.instants]
        assert percents == sorted(set(percents)) and percents
        assert len(entry.source) > 40 and entry.flag


# Vertical peak in body weights: common practice, no source. Seconds on the ground and in the air:
# recalled, the order only.
RUNS = {"slow_running": (2.5, 0.25, 0.12), "fast_running": (3.0, 0.19, 0.14),
        "sprinting": (5.0, 0.10, 0.13)}
PEAKS = {"standing": 0.5, "walking": 1.25, "high_jump_take_off": 8.0,
         **{name: peak for name, (peak, _, _) in RUNS.items()}}


def course(name, field):
    """A field over stance (percent, value), nothing at both ends."""
    rows = activity(name).instants
    percents = [0.0, *(i.stance_percent for i in rows), 100.0]
    return np.array(percents), np.array([0.0, *(getattr(i, field) for i in rows), 0.0])


def mean(name, field, part=lambda v: v):
    percents, values = course(name, field)
    return np.trapezoid(part(values), percents) / 100.0


def test_the_peaks_are_those_of_common_practice():
    assert {name: a.peak().vertical_bodyweights for name, a in activities().items()} == PEAKS


@pytest.mark.parametrize("name", RUNS)
def test_running_lifts_the_body_for_its_flight(name):
    """Over contact and flight the mean vertical force is one body weight."""
    _, ground_s, air_s = RUNS[name]
    assert mean(name, "vertical_bodyweights") == pytest.approx((ground_s + air_s) / ground_s, rel=0.1)


@pytest.mark.parametrize("name", [*RUNS, "walking"])
def test_a_steady_step_brakes_first_and_makes_up_for_it(name):
    net = mean(name, "fore_aft_bodyweights")
    braking = mean(name, "fore_aft_bodyweights", lambda v: np.minimum(v, 0.0))
    assert braking < -0.03 and abs(net) < 0.2 * abs(braking)
    percents, force = course(name, "fore_aft_bodyweights")
    assert force[percents < 35].max() == 0.0 and force[percents > 60].min() == 0.0


def test_a_high_jump_turns_speed_upwards():
    """From 0.5 m/s down to 4.2 m/s up in 0.17 s, 1 to 2.5 m/s of the run-up lost (recalled, order)."""
    up = (mean("high_jump_take_off", "vertical_bodyweights") - 1.0) * 9.81 * 0.17
    lost = -mean("high_jump_take_off", "fore_aft_bodyweights") * 9.81 * 0.17
    assert up == pytest.approx(0.5 + 4.2, rel=0.1) and 1.0 < lost < 2.5


@pytest.mark.parametrize("name", [n for n in PEAKS if n != "standing"])
def test_the_centre_of_pressure_and_the_shank_go_forward(name):
    rows = activity(name).instants
    for field in ("pressure_centre_percent", "shank_angle_degrees"):
        assert np.all(np.diff([getattr(i, field) for i in rows]) >= 0), field
    # the first metatarsal head stands at 73 percent of the reference foot's length, the ankle at 22
    first = rows[0].pressure_centre_percent
    assert 70 < rows[-1].pressure_centre_percent < 85
    assert first > 60 if name == "sprinting" else first < 55
    if name in ("sprinting", "high_jump_take_off"):
        assert activity(name).peak().pressure_centre_percent >= 60


def test_every_instant_is_one_that_a_case_could_give():
    from fefoot.case.schema import INSTANT

    for entry in activities().values():
        for instant in entry.instants:
            for key in INSTANT:
                assert key.low <= getattr(instant, key.name) <= key.high, (entry.name, key.name)


def test_forces_at_the_ground_stay_below_the_grip_of_a_shoe():
    """Fore-aft over vertical force: below 0.65 (spiked shoe, assumed), walking below 0.3."""
    for entry in activities().values():
        most = max(abs(i.fore_aft_bodyweights) / i.vertical_bodyweights for i in entry.instants)
        assert most < (0.3 if entry.name in ("walking", "standing") else 0.65), entry.name
