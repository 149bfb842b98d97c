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
