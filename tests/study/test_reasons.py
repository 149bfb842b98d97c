"""Why there are no numbers: plain words first, and what to do, once."""

from dataclasses import replace

import pytest
from study_runs import SPACE, cheap, here, kept

from fefoot.report.sweep_words import table
from fefoot.study.reasons import advice, plain_reason
from fefoot.study.sweep import sweep

NEWTON = "no equilibrium after 30 Newton iterations (relative residual 3.1e-03, wanted 1e-06)"
BEYOND = "the load could not be carried beyond {} % of it: " + NEWTON


@pytest.mark.parametrize(("kept_reason", "words"), [
    (f"not converged: flat: {BEYOND.format(61)}",
     f"no equilibrium was found beyond 61 % of the load ({NEWTON})"),
    (f"not converged: flat at 62 %: {BEYOND.format(61)}",
     f"no equilibrium was found beyond 61 % of the load ({NEWTON})"),
    (f"not converged: {BEYOND.format(0)}",
     f"no equilibrium was found at any part of the load ({NEWTON})"),
    (f"not converged: barefoot: first contact: {BEYOND.format(0)}",
     f"no equilibrium was found at first contact ({NEWTON})"),
    ("not converged: contact pressures still change after 30 augmentations",
     "no equilibrium was found (contact pressures still change after 30 augmentations)"),
    ("checks failed: residual 0.2 (limit 1e-06)", "checks failed: residual 0.2 (limit 1e-06)"),
    ("refused: layer: too thin", "refused: layer: too thin"), (None, None)])
def test_plain_words_come_first(kept_reason, words):
    assert plain_reason(kept_reason) == words
    assert plain_reason(words) == words  # said once, it stays


def test_the_solver_still_says_what_is_taken_apart_here():
    """The words of `fefoot.mechanics.newton`, which must not change without these rules."""
    from pathlib import Path

    import fefoot.mechanics.newton as newton

    source = Path(newton.__file__).read_text(encoding="utf-8")
    assert "the load could not be carried beyond " in source and " % of it: {reason}" in source


def test_advice_fits_the_case(study):
    case, reason = study(), "not converged: x"
    assert advice(case, [reason]) == ('lower the load, choose another instant or set contact = '
                                      '"gripping" under [solver]')
    gripping = replace(case, solver=replace(case.solver, contact="gripping"))
    for other in (gripping, replace(case, model="rearfoot")):
        assert advice(other, [reason]) == "lower the load or choose another instant"
    assert advice(case, ["refused: x", "checks failed: y"]) is None and advice(case, []) is None


def test_a_sweep_says_the_reason_first_and_the_advice_once(study, tmp_path):
    def failing(run, tell):
        thick = run.device is not None and run.device.layers[-1].thickness_mm >= 3.5
        return kept({}, f"not converged: shell: {BEYOND.format(61)}") if thick else cheap(run, tell)

    swept = sweep(study(SPACE), tmp_path / "store", evaluate=failing, executor=here)
    text = " ".join(table(swept).split())
    assert "no equilibrium was found beyond 61 % of the load (no equilibrium after 30" in text
    assert "not converged" not in text and "shell: the load" not in text
    assert text.count('contact = "gripping"') == 1
    # the store keeps the solver's own words
    row = next(line.row for line in swept.varied if line.failure)
    from fefoot.study.entries import RunStore

    assert RunStore(tmp_path / "store").get(row.key)["failure"].startswith("not converged: shell")
