"""Pictures: shared ranges, right numbers, fast."""

from __future__ import annotations

import base64
import time

import numpy as np
import pytest
from report_cases import DEVICES, a_case, a_comparison

from fefoot.report.charts import over_stance, pressure_profile, target_bars
from fefoot.report.pictures import colour_bar, section_picture, shared_limits
from fefoot.report.style import png_uri, svg_uri


def test_limits_hold_every_picture(comparison):
    limits = shared_limits(comparison.outcomes)
    for outcome in comparison.outcomes:
        picture = outcome.picture
        assert limits.across_mm[0] < picture.points[:, 0].min()
        assert limits.across_mm[1] > picture.points[:, 0].max()
        assert picture.contacts["foot"][1].max() <= limits.pressure_kPa
        assert max(force for _, force in picture.cables.values()) <= limits.tension_N
    foot = np.concatenate([
        o.picture.stress_kPa[np.unique(o.picture.cells[~o.picture.is_device])]
        for o in comparison.outcomes])
    assert np.mean(foot <= limits.stress_kPa) == pytest.approx(0.99, abs=0.005)


def test_all_conditions_share_axes_and_colours(comparison):
    limits = shared_limits(comparison.outcomes)
    figures = [section_picture(o, limits, "plantar_fascia") for o in comparison.outcomes]
    for figure in figures:
        section, pressure = figure.axes
        assert section.get_xlim() == limits.across_mm == pressure.get_xlim()
        assert section.get_ylim() == limits.up_mm
        assert pressure.get_ylim() == (1.08 * limits.pressure_kPa, 0)
        assert section.collections[0].get_clim() == (0.0, limits.stress_kPa)
    assert colour_bar(limits).axes[0].get_xlim() == (0.0, limits.stress_kPa)


def test_lines_of_cables_follow_their_tension(comparison):
    outcome = comparison.outcomes[0]
    limits = shared_limits(comparison.outcomes)
    lines = section_picture(outcome, limits).axes[0].lines
    shift = np.array([0.0, outcome.picture.ground_y_mm])
    for path, force in outcome.picture.cables.values():
        own = [li for li in lines if li.get_xydata().shape == path.shape
               and np.allclose(li.get_xydata(), path - shift)]
        assert own
        widest = max(li.get_linewidth() for li in own if li.get_color() != "white")
        if force == 0:
            assert own[0].get_linestyle() == "--"
        else:
            assert widest == pytest.approx(0.7 + 3.6 * force / limits.tension_N)


def test_no_picture_gives_no_limits(case):
    assert shared_limits(a_comparison(case, pictures=False).outcomes) is None


def test_bars_have_the_values_and_no_bar_where_a_condition_failed(case, comparison):
    row = comparison.rows[0]
    assert [p.get_width() for p in target_bars(row, comparison.outcomes).axes[0].patches] == list(
        row.values)
    failed = a_comparison(case, failures=("lift",), pictures=False)
    axes = target_bars(failed.rows[0], failed.outcomes).axes[0]
    assert len(axes.patches) == 3
    assert any("failed: no equilibrium" in t.get_text() for t in axes.texts)


def test_profile_overlays_all_conditions_that_have_one(case):
    failed = a_comparison(case, failures=("shell",))
    limits = shared_limits(failed.outcomes)
    axes = pressure_profile(failed.outcomes, limits).axes[0]
    assert len(axes.lines) == 3
    assert axes.lines[0].get_ydata().max() == failed.outcomes[0].picture.contacts["foot"][1].max()


def test_stance_chart_leaves_a_gap_where_an_instant_failed(case):
    instants = [a_comparison(case, ("lift",) if p == 50 else (), False, p) for p in (12., 50., 77.)]
    rows = [c.rows[0] for c in instants]
    lines = over_stance(rows, instants).axes[0].lines
    assert np.isnan(lines[1].get_ydata()).tolist() == [False, True, False]
    assert lines[0].get_ydata().tolist() == [r.values[0] for r in rows]


@pytest.mark.parametrize("model", ["sagittal", "rearfoot"])
def test_picture_of_a_working_mesh_takes_less_than_half_a_second(model):
    target = {"sagittal": "plantar_fascia", "rearfoot": "heel_pad"}[model]
    case = a_case(model, target, devices=[])
    outcomes = a_comparison(case, size_mm=4.0).outcomes
    limits = shared_limits(outcomes)
    png_uri(section_picture(outcomes[0], limits, target, model))
    took = []
    for _ in range(3):
        start = time.process_time()
        png_uri(section_picture(outcomes[0], limits, target, model))
        took.append(time.process_time() - start)
    assert min(took) < 0.5


def test_signs_that_are_no_mathematics_and_foreign_letters_are_drawn():
    devices = [dict(DEVICES[0], title="$x^{ 足底 _low")]
    case = a_case(devices=devices)
    comparison = a_comparison(case)
    limits = shared_limits(comparison.outcomes)
    for figure in (target_bars(comparison.rows[0], comparison.outcomes),
                   pressure_profile(comparison.outcomes, limits)):
        svg = base64.b64decode(svg_uri(figure).partition(",")[2]).decode()
        assert "$x^{" in svg and "足底" in svg



def test_a_print_shows_the_sole_from_above_without_a_ground_line():
    from fefoot.outcome.values import Outcome, Picture

    points = np.array([[0.0, -40], [200, -40], [0, 40], [100, -40], [100, 0], [0, 0]])
    shown = Picture(points, np.array([[0, 1, 2, 3, 4, 5]]), np.zeros(1, bool), np.full(6, 80.0), {},
                    {}, {"foot": (np.array([[10.0, 0.0], [150.0, 0.0]]), np.array([80.0, 20.0]))},
                    0.0, 90.0, "print")
    outcome = Outcome("barefoot", "no device", 50.0, None, picture=shown)
    limits = shared_limits([outcome])
    assert limits.up_mm[0] < -40 and limits.up_mm[1] > 40
    figure = section_picture(outcome, limits, model="foot3d")
    assert not figure.axes[0].lines
    assert "contact pressure" in colour_bar(limits, True).axes[0].get_xlabel()
