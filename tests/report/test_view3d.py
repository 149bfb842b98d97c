"""The view that can be turned: what the page holds for it, and what stands in its place without it."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
import time
from dataclasses import replace

import numpy as np
import pytest
from whole_foot import whole_foot

from fefoot.report import page, view3d
from fefoot.report.pictures import shared_limits
from fefoot.report.still3d import still_figure
from fefoot.study.kept import keep, kept
from fefoot.study.rebuild import rebuild
from fefoot.study.store import FILES, RunFolder, build_sheets

KINDS = {"i2": "<i2", "u2": "<u2", "u4": "<u4"}


@pytest.fixture(scope="module", name="html")
def a_page():
    case, comparison = whole_foot()
    start = time.perf_counter()
    html = page(case, [comparison], {"fefoot": "0"}, build_sheets(case))
    seconds, size_MB = time.perf_counter() - start, len(html.encode()) / 1e6
    print(f"page of a whole foot with two devices: {size_MB:.2f} MB, {seconds:.1f} s")
    return html


def data_of(html):
    return json.loads(re.search(r'id="view-data">(.*?)</script>', html, re.DOTALL)[1])


def array(data, number):
    kind, text = data["arrays"][number]
    return np.frombuffer(base64.b64decode(text), KINDS[kind])


def test_the_page_is_small_enough(html):
    assert len(html.encode()) < 8_000_000


def test_the_policy_names_the_scripts_and_nothing_else(html):
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', html)[1]
    allowed = re.search(r"script-src ([^;]*)", policy)[1].split()
    packed = re.search(r'id="view-library">([^<]*)<', html)[1]
    library = gzip.decompress(base64.b64decode(packed))
    assert library == view3d.library().encode() and len(library) > 1_000_000
    inline = re.findall(r"<script>(.*?)</script>", html, re.DOTALL)
    assert len(inline) == 1
    digests = [base64.b64encode(hashlib.sha256(text).digest()).decode()
               for text in (inline[0].encode(), library)]
    assert allowed == [f"'sha256-{digest}'" for digest in digests]
    for part in ("default-src 'none'", "connect-src 'none'", "img-src data:"):
        assert part in policy
    assert "unsafe-eval" not in policy
    assert not re.search(r"https?://", inline[0])


def test_the_arrays_hold_each_condition_to_the_rounding(html):
    _, comparison = whole_foot()
    data = data_of(html)
    assert len(data["conditions"]) == 3
    for one, outcome in zip(data["conditions"], comparison.outcomes, strict=True):
        scene = outcome.picture.scene
        for name, points in (("skin", scene.skin), ("bones", scene.bones), ("device", scene.device)):
            if one[name] is None:
                assert outcome.name == "barefoot" and name == "device"
                continue
            place = array(data, one[name]).reshape(-1, 3) * data["step_mm"]
            if name == "device":
                points = points - [0.0, view3d.LOWERED_MM, 0.0]
            expected = points[:, [0, 2, 1]] * [1.0, -1.0, 1.0]  # forwards, medially, up
            assert place[:len(points)] == pytest.approx(expected, abs=0.5 * data["step_mm"] + 1e-4)
        kPa = array(data, one["pressure"]) * data["step_kPa"]
        count = len(scene.skin)
        assert kPa[:count] == pytest.approx(scene.pressure_kPa, abs=0.051)
        level = 0.03 * data["pressure_kPa"]
        assert kPa[count:] == pytest.approx(np.full(len(kPa) - count, level), abs=0.06)
        triangles = [array(data, one[f"{part}_triangles"]).reshape(-1, 3) for part in ("sole", "upper")]
        assert kPa[triangles[0].astype(int)].min() >= level - 0.06
    assert data["pressure_kPa"] == shared_limits(comparison.outcomes).stress_kPa


def test_equal_arrays_are_written_once(html):
    data = data_of(html)
    bare, other, _ = data["conditions"]
    assert bare["bone_triangles"] == other["bone_triangles"] and bare["bones"] != other["bones"]
    texts = [text for _, text in data["arrays"]]
    assert len(set(texts)) == len(texts)


def test_cables_have_words_and_their_tension(html):
    _, comparison = whole_foot()
    one, scene = data_of(html)["conditions"][0], comparison.outcomes[0].picture.scene
    assert len(one["cables"]) == len(scene.cables)
    for cable, (name, (_, tension)) in zip(one["cables"], scene.cables.items(), strict=True):
        assert cable["tension_N"] == pytest.approx(tension, abs=0.06)
        assert cable["target"] == name.startswith("plantar_fascia")
        assert max(cable["z"]) <= scene.skin[:, 1].max() + 12.1
    assert "tension in the plantar fascia 900 N" in one["words"]


def test_a_left_foot_is_the_mirror_image():
    case, comparison = whole_foot()
    left = replace(case, person=replace(case.person, side="left"))
    there = [(o.title, o) for o in comparison.outcomes]
    right, mirrored = (view3d._values(c, there, 100.0) for c in (case, left))
    a, b = (array(d, d["conditions"][0]["skin"]).reshape(-1, 3) for d in (right, mirrored))
    assert np.array_equal(a * [1, -1, 1], b)
    s, t = (array(d, d["conditions"][0]["bone_triangles"]).reshape(-1, 3) for d in (right, mirrored))
    assert np.array_equal(s[:, ::-1], t)
    assert right["looks"][1]["turn"] == 90.0 and mirrored["looks"][1]["turn"] == -90.0


def test_a_title_cannot_end_the_data():
    case, comparison = whole_foot()
    wild = "</script><script>alert(1)</script>"
    outcomes = (comparison.outcomes[0], replace(comparison.outcomes[1], title=wild))
    found = view3d.view(case, replace(comparison, outcomes=outcomes))
    assert wild not in found.html and "<script" not in found.html
    assert wild not in found.data and len(re.findall("<script", found.data)) == 3
    assert any("</script>" in one["words"] for one in data_of(found.data)["conditions"])


@pytest.mark.parametrize("missing", ["package", "file"])
def test_without_the_library_the_page_says_so(missing, monkeypatch, tmp_path):
    class Found:
        submodule_search_locations = (str(tmp_path),)

    monkeypatch.setattr(view3d.importlib.util, "find_spec",
                        lambda name: None if missing == "package" else Found)
    case, comparison = whole_foot(0)
    found = view3d.view(case, comparison)
    assert found.scripts == () and found.data == ""
    assert "plotly" in found.html and "was not found" in found.html
    assert 'src="data:image/png' in found.html and "<script" not in found.html
    if missing == "package":
        html = page(case, [comparison], {}, {})
        assert "script-src 'none'" in html and "The answer" in html and "<script" not in html


def test_without_a_scene_there_is_no_view():
    case, comparison = whole_foot(1)
    flat = tuple(replace(o, picture=replace(o.picture, scene=None)) for o in comparison.outcomes)
    assert view3d.view(case, replace(comparison, outcomes=flat)) is None
    html = page(case, [replace(comparison, outcomes=flat)], {}, {})
    assert 'id="view"' not in html and "The sole from above, medial side down" in html


def test_the_still_picture_hides_what_lies_behind_bones():
    case, comparison = whole_foot()
    scenes = [(o.title, o.picture.scene) for o in comparison.outcomes]
    figure = still_figure(scenes, case.target, "right")
    assert len(figure.axes) == 3
    assert len({axes.get_xlim() for axes in figure.axes}) == 1
    bare = scenes[0][1]
    _, *lines = figure.axes[0].collections
    tensions = sorted(tension for _, tension in bare.cables.values())
    widths = [line.get_linewidths()[0] for line in lines]
    assert widths == pytest.approx([0.6 + 3.2 * t / max(tensions) for t in tensions])
    shades = {round(float(c[3]), 2) for line in lines for c in line.get_colors()}
    assert shades == {0.16, 1.0}


def test_a_scene_is_kept_exactly_and_the_page_is_the_same(tmp_path):
    case, comparison = whole_foot(1)
    keep(tmp_path, case, [comparison])
    (back,), _ = kept(tmp_path, case.target)
    for mine, theirs in zip(comparison.outcomes, back.outcomes, strict=True):
        for name, value in vars(mine.picture.scene).items():
            other = getattr(theirs.picture.scene, name)
            if name == "cables":
                assert list(value) == list(other)
                assert all(np.array_equal(value[k][0], other[k][0]) and value[k][1] == other[k][1]
                           for k in value)
            else:
                assert np.array_equal(value, other), name
    folder = RunFolder(tmp_path / "run").write(case, [comparison], {})
    assert {p.name for p in folder.iterdir()} == FILES
    first = (folder / "report.html").read_bytes()
    rebuild(folder)
    assert (folder / "report.html").read_bytes() == first
