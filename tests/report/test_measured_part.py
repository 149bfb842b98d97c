"""The part of the page with a measured map: words, table, maps, and the file in the run folder."""

from __future__ import annotations

import csv
import re
from dataclasses import replace

import numpy as np
import pytest
from plate import plate_map, write_csv
from report_cases import DEVICES
from whole_foot import whole_foot

from fefoot.case import case_from_dict
from fefoot.outcome.measured import compared_pressure
from fefoot.report.measured_part import maps_figure, measured_part, slice_figure
from fefoot.study.rebuild import rebuild
from fefoot.study.store import FILES, PRESSURE, RunFolder


@pytest.fixture(scope="module", name="made")
def a_measured_case(tmp_path_factory):
    home = tmp_path_factory.mktemp("measured")
    _, comparison = whole_foot(1)
    grid, _ = plate_map(comparison.outcomes[0].picture.scene, 6.0, 15.0)
    write_csv(home / "plate.csv", 0.8 * grid)
    case = case_from_dict({
        "title": "measured", "model": "foot3d", "target": "plantar_fascia",
        "person": {"body_mass_kg": 72}, "activity": {"name": "walking"},
        "device": [dict(d) for d in DEVICES[:1]],
        "measured_pressure": {"file": "plate.csv", "spacing_mm": 6}}, str(home / "case.toml"))
    comparison = replace(comparison, stance_percent=case.measured_pressure.stance_percent)
    return case, comparison, compared_pressure(case, [comparison])


def test_the_part_says_how_well_both_agree(made):
    case, _, found = made
    html = measured_part(case, found)
    force = f"measured {found.force_N[0]:.0f} N, model {found.force_N[1]:.0f} N"
    assert force in html.replace("&nbsp;", " ")
    assert f"Correlation cell by cell {found.correlation:.2f}" in html and found.correlation > 0.9
    rows = re.findall(r'<tr><th scope="row">(.*?)</th>(.*?)</tr>', html)
    assert len(rows) == len(found.regions) == 10
    cells = re.findall(r"<td>(.*?)</td>", rows[0][1])
    assert cells[:2] == [f"{v:.0f}" for v in found.regions[0].peak_kPa] and len(cells) == 6
    assert "does not validate the tissues" in html
    failed = measured_part(case, replace(found, failure="not converged: <b>"))
    assert "There is no comparison: not converged: &lt;b&gt;" in failed and "<td>" not in failed


def test_maps_share_their_range_and_the_difference_is_symmetric(made):
    case, _, found = made
    figure = maps_figure(case, found)
    measured, model, apart = (axes.images[0] for axes in figure.axes[:3])
    assert measured.get_clim() == model.get_clim()
    assert measured.get_clim()[1] == max(found.measured_kPa.max(), found.modelled_kPa.max())
    low, high = apart.get_clim()
    assert low == -high == -np.abs(found.modelled_kPa - found.measured_kPa).max()
    # the foot lies upright: its loaded heel below its loaded forefoot, the toes on top
    shown = measured.get_array()
    loaded = ~np.ma.getmaskarray(shown)
    up = loaded.any(axis=1).nonzero()[0]
    *_, bottom, top = measured.get_extent()
    heights = bottom + (top - bottom) * up / len(shown)
    assert heights.min() < 25.0 and heights.max() > 230.0


def test_along_a_slice_it_is_a_line(made):
    case, _, found = made
    line = replace(found, x_mm=np.arange(9.0), z_mm=np.zeros(9), measured_kPa=np.arange(9.0),
                   modelled_kPa=np.arange(9.0)[::-1], force_N=None,
                   regions=tuple(replace(r, share_percent=None) for r in found.regions))
    sagittal = replace(case, model="sagittal")
    lines = slice_figure(sagittal, line).axes[0].lines
    assert lines[0].get_ydata().tolist() == lines[1].get_ydata().tolist()[::-1] == list(range(9))
    html = measured_part(sagittal, line)
    assert "Correlation along the slice" in html and "share of the load" not in html


def test_the_run_folder_has_the_table_and_builds_the_page_again(made, tmp_path):
    case, comparison, found = made
    folder = RunFolder(tmp_path / "run").write(case, [comparison], {})
    assert {p.name for p in folder.iterdir()} == FILES | {PRESSURE, "plate.csv"}
    with open(folder / PRESSURE, newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    heel = next(r for r in rows if r["region"] == "heel" and r["quantity"] == "peak_pressure_kPa")
    assert (float(heel["measured"]), float(heel["modelled"])) == found.regions[0].peak_kPa
    first = (folder / "report.html").read_bytes()
    assert b"Against the measured pressure" in first
    rebuild(folder)
    assert (folder / "report.html").read_bytes() == first
