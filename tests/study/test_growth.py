"""A device that cannot be loaded at once: its features grow under load, nodes keep their numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from fefoot.case import case_from_dict
from fefoot.device import FEATURES, Device, Layer, feature
from fefoot.device.features import grown
from fefoot.device.surface import heights, interfaces_mm
from fefoot.errors import ConvergenceError
from fefoot.foot.landmarks import landmarks
from fefoot.foot.morph import REFERENCE
from fefoot.mechanics.linear import Tally
from fefoot.study import growth
from fefoot.study.growth import FIRST_SHARE, grown_under_load, grows, solve_question
from fefoot.study.model import build
from fefoot.study.question import demand, question
from fefoot.study.solve import Solved

LAYERS = Layer("eva_soft", 3.0), Layer("eva_firm", 6.0)
WEDGE = {
    "title": "a wedge", "model": "foot3d", "target": "plantar_fascia", "person": {"body_mass_kg": 70},
    "activity": {"name": "standing"}, "solver": {"mesh_size_mm": 6},
    "device": [{"name": "wedge", "layer": [{"material": "eva_firm", "thickness_mm": 6}],
                "feature": [{"kind": "rearfoot_post", "angle_degrees": 4}]}]}


def asked(case_text=WEDGE):
    case = case_from_dict(case_text)
    instant = case.activity.instants()[0]
    return question(case, case.devices[0], instant), demand(case, instant)


@pytest.mark.parametrize("kind", FEATURES.values(), ids=FEATURES)
def test_a_feature_without_its_size_is_not_there(kind):
    """At share 0 the heights are those of the device without the feature; at 1 they are its own."""
    base = kind.needs_base or "foot"
    underside = "flat" if base == "flat" else "follow"
    device = Device("d", "", kind.needs_length or "full", base, underside, LAYERS,
                    (feature(kind.name),))
    foot = landmarks(REFERENCE)
    x, z = np.meshgrid(np.linspace(5, 230, 60), np.linspace(-25, 25, 21), indexing="ij")

    def faces(one):
        return interfaces_mm(one, heights(one, foot, x, z))

    bare, full = faces(replace(device, features=())), faces(device)
    assert np.allclose(faces(grown(device, 0.0)), bare, atol=1e-9)
    assert np.array_equal(faces(grown(device, 1.0)), full)
    half = faces(grown(device, 0.5))
    assert np.abs(half - bare).max() > 0.1 and np.abs(half - full).max() > 0.1


def test_a_growing_device_keeps_its_numbering():
    first, _ = asked()
    half = build(replace(first, growth=0.5))
    whole = build(first)
    a, b = half.mesh, whole.mesh
    assert len(a.points) == len(b.points)
    assert np.array_equal(np.sort(a.cells, axis=1), np.sort(b.cells, axis=1))
    moved = np.abs(a.points - b.points)
    assert moved[:, [0, 2]].max() < 1e-9 and moved[:, 1].max() > 1.0


def test_what_can_grow():
    first, _ = asked()
    assert grows(first)
    assert not grows(replace(first, device=None)) and not grows(replace(first, model="rearfoot"))
    assert not grows(replace(first, device=replace(first.device, features=())))


@dataclass(frozen=True)
class FakeSolution:
    """What growth reads of a solution."""

    history: list
    tally: Tally


class Fake:
    """Stands in for the solver: what it was asked for, and which solves fail."""

    def __init__(self, fails):
        self.fails, self.asked = fails, []

    def __call__(self, model, demand, *, start=None, patient=True, augment=True, label="",
                 listener=None):
        share = model.growth
        begun = None if start is None else start.model.growth
        self.asked.append((share, begun, patient, augment))
        if self.fails(share, begun):
            raise ConvergenceError(f"no equilibrium at {share:g}", [{"residual": share}])
        solution = FakeSolution([{"residual": share}], Tally(2, 1, 0.5, {"PARDISO Cholesky": 2}))
        return Solved(model, demand, None, solution, 1.0)


def solved_by(fails, monkeypatch):
    fake = Fake(fails)
    monkeypatch.setattr(growth, "solve_model", fake)
    monkeypatch.setattr(growth, "build", lambda asked: asked)
    return fake


def test_a_device_that_can_be_loaded_does_not_grow(monkeypatch):
    fake = solved_by(lambda share, begun: False, monkeypatch)
    assert solve_question(*asked()).grown_from == 1.0
    assert fake.asked == [(1.0, None, False, True)]


def test_growth_halves_its_step_and_counts_every_solve(monkeypatch):
    def fails(share, begun):
        return share > 0.85 and (begun is None or begun < share - 0.1)

    fake, notes = solved_by(fails, monkeypatch), []
    solved = solve_question(*asked(), listener=notes.append)
    assert fake.asked[:6] == [
        (1.0, None, False, True), (0.5, None, True, False), (0.625, 0.5, True, False),
        (0.75, 0.625, True, False), (0.875, 0.75, True, False), (0.8125, 0.75, True, False)]
    assert [(share, begun) for share, begun, _, _ in fake.asked[6:]] == [
        (0.875, 0.8125), (0.9375, 0.875), (1.0, 0.9375)]
    assert fake.asked[-1][3]
    assert solved.grown_from == FIRST_SHARE and solved.model.growth == 1.0
    assert solved.solution.tally == Tally(14, 7, 3.5, {"PARDISO Cholesky": 14})
    assert [row["residual"] for row in solved.solution.history] == [
        0.5, 0.625, 0.75, 0.8125, 0.875, 0.9375, 1.0]
    assert 0.0 < solved.seconds < 7.0 and "grow under load" in str(notes[0])


@pytest.mark.parametrize("stops", [0.5, 0.8])
def test_without_an_equilibrium_both_reasons_are_given(stops, monkeypatch):
    solved_by(lambda share, begun: share >= stops, monkeypatch)
    with pytest.raises(ConvergenceError, match="no equilibrium at 1; nor when its features grow"):
        solve_question(*asked())


def test_without_features_every_first_step_is_tried(monkeypatch):
    fake = solved_by(lambda share, begun: True, monkeypatch)
    first, load = asked()
    with pytest.raises(ConvergenceError):
        solve_question(replace(first, device=None), load)
    assert fake.asked == [(1.0, None, True, True)]


@pytest.mark.slow
def test_growth_and_load_at_once_agree():
    """Standing on a posted insole, by either way: rough contact remembers the way that it was loaded.

    The spring ligament differs most, by 4.7 % (69.0 and 72.2 N).
    """
    from fefoot.outcome.checks import checks
    from fefoot.outcome.measures import measures
    from fefoot.study.solve import solve_model

    first, load = asked()
    at_once, grew = solve_model(build(first), load), grown_under_load(first, load)
    assert grew.grown_from == FIRST_SHARE and all(check.passed for check in checks(grew))
    one, other = ({m.tissue: m.value for m in measures(s) if m.quantity == "tension_N"}
                  for s in (at_once, grew))
    largest = max(one.values())
    for tissue, tension in one.items():
        if tension > 0.1 * largest:
            assert other[tissue] == pytest.approx(tension, rel=0.08), tissue
