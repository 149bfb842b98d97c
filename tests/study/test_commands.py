"""The studies from the command line: default places, one message, exit codes, progress."""

import io

import pytest
from study_runs import cheap, here, kept, stand_in

from fefoot.cli import main
from fefoot.study import commands
from fefoot.study import sweep as sweeping
from fefoot.study.counter import Counter, duration, sentence
from fefoot.study.engine import Tally


def hopeless(run, tell):
    return kept({}, "not converged: the load cannot be carried")


@pytest.fixture
def at(study, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return study().file


def test_a_sweep_goes_to_runs_and_a_second_one_beside_it(at, tmp_path, monkeypatch, capsys):
    stand_in(monkeypatch, sweeping, "sweep", cheap)
    assert main(["sweep", at]) == 0
    assert main(["sweep", at]) == 0
    out, err = capsys.readouterr()
    assert sorted(p.name for p in (tmp_path / "runs").iterdir()) == [
        "case-sweep", "case-sweep-2", "store"]
    assert "26 computed, 0 reused" in out and "0 computed, 26 reused" in out
    assert "26 of 26 runs done" in err and out.count("not a diagnosis") == 2


def test_a_sweep_without_any_answer_says_so(at, monkeypatch, capsys):
    stand_in(monkeypatch, sweeping, "sweep", hopeless)
    assert main(["sweep", at]) == commands.FAILED
    out = capsys.readouterr().out
    assert "no design could be compared" in out and "the load cannot be carried" in out


@pytest.mark.parametrize(("words", "message"), [
    (["search"], "asks no question"), (["sweep", "--workers", "0"], "number of workers"),
    (["certainty", "--store", "case.toml/x"], "store of runs cannot be written"),
    (["sweep", "--out", "case.toml/x"], "run folder cannot be written")])
def test_a_mistake_is_one_message(at, monkeypatch, capsys, words, message):
    monkeypatch.setattr(commands, "on_processes", lambda workers: here)
    assert main([words[0], at, *words[1:]]) == 2
    err = capsys.readouterr().err
    assert message in err and "Traceback" not in err


def test_an_interrupt_is_told_and_leaves_no_folder(at, tmp_path, monkeypatch, capsys):
    def stop(jobs, store, evaluate):
        yield next(here(jobs, store, cheap))
        raise KeyboardInterrupt

    monkeypatch.setattr(commands, "on_processes", lambda workers: stop)
    assert main(["sweep", at]) == 130
    assert [p.name for p in (tmp_path / "runs").iterdir()] == ["store"]
    assert len(list((tmp_path / "runs" / "store").rglob("*.json"))) == 1


def test_progress_says_done_reused_failed_and_time_left():
    tally = Tally(wanted=100, reused=20, computed=30, failed=2, seconds=60.0)
    assert sentence(tally) == "50 of 100 runs done (20 reused, 2 failed), about 2 min left"
    assert sentence(Tally(10, reused=10)) == "10 of 10 runs done (10 reused, 0 failed)"
    assert [duration(s) for s in (45, 600, 9000)] == ["45 s", "10 min", "2.5 h"]
    stream = io.StringIO()
    counter = Counter(stream)
    for done in range(101):
        counter(Tally(100, computed=done, seconds=float(done)))
    counter.close()
    assert 1 < stream.getvalue().count("\n") < 10  # not a line per run in a log


def test_the_shipped_case_of_the_studies_reads_and_has_its_designs():
    from study_cases import ROOT

    from fefoot.case import read_case
    from fefoot.study.space import designs

    case = read_case(ROOT / "cases" / "sore_fascia_walking.toml")
    found = designs(case)
    assert len(found) == 5 * 3 * 2 - 2 * 3 and not any(d.refusal for d in found)
    assert case.studies.search.limits and case.studies.certainty.samples == 8
