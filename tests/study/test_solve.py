"""How a model comes into contact."""

from types import SimpleNamespace

import pytest

from fefoot.errors import ConvergenceError
from fefoot.mechanics.newton import Settings, Solution
from fefoot.study import solve as solving


def touching(monkeypatch, kind, ends, judged=None, force_N=700.0):
    """Return the steps tried and the touch taken, where each ends with a volume ratio or a failure."""
    tried, ends = [], iter(ends)

    def solve(system, path, *, settings, **options):
        tried.append(settings.first_step)
        if judged is not None:
            judged.append(settings.force_scale_N)
        end = next(ends)
        if isinstance(end, Exception):
            raise end
        return Solution(end, (), None, (), None, [{"volume": end}], None)

    monkeypatch.setattr(solving, "solve", solve)
    model = SimpleNamespace(question=SimpleNamespace(model=kind),
                            system=SimpleNamespace(least_volume_ratio=lambda state: state))
    stance = SimpleNamespace(touch=None)
    settings = Settings(force_scale_N=force_N)
    return tried, lambda: solving._touching(model, stance, settings, None, "foot")


def test_a_foot_that_is_not_squeezed_touches_in_one_step(monkeypatch):
    tried, touch = touching(monkeypatch, "foot3d", [0.9])
    assert touch().state == 0.9 and tried == [1.0]


@pytest.mark.parametrize("squeezed", [0.25, 0.516, 0.594, 0.66])
def test_a_squeezed_element_makes_the_steps_shorter(monkeypatch, squeezed):
    """What an element of the big toe kept: fine mesh, flat insole; draws 34, 69, 67 of the crowd."""
    tried, touch = touching(monkeypatch, "foot3d", [squeezed, 0.9])
    found = touch()
    assert found.state == 0.9 and tried == [1.0, pytest.approx(1 / 3)]
    assert [h["volume"] for h in found.history] == [squeezed, 0.9]  # the solves that were made


def test_a_failed_touch_is_tried_in_shorter_steps(monkeypatch):
    failed = ConvergenceError("stuck", [{"volume": 0.0}])
    tried, touch = touching(monkeypatch, "foot3d", [failed, 0.9])
    assert touch().state == 0.9 and len(tried) == 2
    tried, touch = touching(monkeypatch, "foot3d", [failed, failed])
    with pytest.raises(ConvergenceError):
        touch()


def test_sections_touch_in_thirds(monkeypatch):
    tried, touch = touching(monkeypatch, "sagittal", [0.3])
    assert touch().state == 0.3 and tried == [pytest.approx(1 / 3)]


@pytest.mark.parametrize(("force_N", "judged_N"), [(700.0, 700.0), (5600.0, solving.TOUCH_FORCE_N)])
def test_first_contact_is_judged_by_a_foot_that_hardly_carries(monkeypatch, force_N, judged_N):
    """Judged by the force of a jump, one that still pressed with 17 kN passed."""
    judged = []
    _, touch = touching(monkeypatch, "foot3d", [0.9], judged, force_N)
    touch()
    assert judged == [judged_N]


@pytest.mark.parametrize(("patient", "settle", "may_fall"), [
    (True, False, [0, 0, solving.FALLS]), (True, True, [solving.FALLS] * 3),
    (False, False, [0]), (False, True, [0])])
def test_which_attempts_may_go_down_the_energy(monkeypatch, patient, settle, may_fall):
    falls = []

    def solve(system, path, *, settings, **options):
        falls.append(settings.falls)
        raise ConvergenceError("stuck", [])

    touch = SimpleNamespace(state=None, evaluation=None, memory=None)
    monkeypatch.setattr(solving, "solve", solve)
    monkeypatch.setattr(solving, "_touching", lambda *args: touch)
    monkeypatch.setattr(solving, "stance_of", lambda *args: SimpleNamespace(
        carry=lambda *args: None, adjust=None))
    monkeypatch.setattr(solving, "settings_for", lambda *args: Settings(settle=settle))
    model = SimpleNamespace(system=SimpleNamespace(symmetric=True))
    with pytest.raises(ConvergenceError):
        solving.solve_model(model, SimpleNamespace(vertical_N=1.0), patient=patient)
    assert falls == may_fall
