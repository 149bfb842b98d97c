"""The command line in-process: exit codes, streams, imports."""

import io
import os
import subprocess
import sys
import tomllib
import types
from pathlib import Path

import pytest

import fefoot
from fefoot.cli import main
from fefoot.errors import ConvergenceError
from fefoot.mechanics.events import Note, SolveDone, SolveFailed, SolveStarted, StepDone
from fefoot.study.progress import Progress, sentence

ROOT = Path(__file__).parents[1]
SAMPLE = str(ROOT / "tests" / "case" / "sample.toml")


def run(*words, **options):
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run([sys.executable, *words], capture_output=True, text=True,
                          env=environment, check=False, **options)


@pytest.fixture
def study(monkeypatch):
    """Put a stand-in for ``fefoot.study.compare`` whose ``compare`` the test chooses."""
    module = types.ModuleType("fefoot.study.compare")
    monkeypatch.setitem(sys.modules, "fefoot.study.compare", module)
    return module


def test_version_is_the_packages():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert fefoot.__version__ == project["version"]


def test_public_names_are_pinned():
    assert sorted(fefoot.__all__) == ["__version__", "compare", "materials", "read_case"]
    assert fefoot.read_case(SAMPLE).target == "plantar_fascia"
    assert "eva_soft" in fefoot.materials()
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = fefoot.nothing


def test_help_imports_nothing_heavy():
    code = ("import sys; from fefoot.cli import main; main(['--help']); "
            "print('LOADED', [m for m in ('numpy', 'scipy', 'gmsh', 'matplotlib', 'pyvista', "
            "'skfem') if m in sys.modules])")
    assert "LOADED []" in run("-c", code).stdout


def test_check_imports_neither_solver_nor_pictures(tmp_path):
    bare = tmp_path / "bare.toml"
    bare.write_text('model = "sagittal"\ntarget = "achilles"\n[person]\nbody_mass_kg = 70\n')
    for file, modules in ((SAMPLE, ("fefoot.mechanics.newton", "gmsh", "matplotlib", "pyvista")),
                          (str(bare), ("scipy", "fefoot.study"))):
        code = (f"import sys; from fefoot.cli import main; main(['check', {file!r}]); "
                f"print('LOADED', [m for m in {modules!r} if m in sys.modules])")
        assert "LOADED []" in run("-c", code).stdout


def test_check_says_what_would_be_solved(capsys):
    assert main(["check", SAMPLE]) == 0
    out = capsys.readouterr().out
    assert "solves: 3" in out and "polypropylene is stable" in out
    assert "heel pad 17 mm\n" in out and "  cautions:\n" in out
    assert out.splitlines()[-1].endswith("sample.toml is a valid case")


def test_check_reports_an_unstable_material(tmp_path, capsys):
    file = tmp_path / "case.toml"
    file.write_text('model = "rearfoot"\ntarget = "heel_pad"\n[person]\nbody_mass_kg = 70\n'
                    'plantar_tissue = "plantar_tissue_stiff"\n')
    assert main(["check", str(file)]) == 0
    assert "plantar_tissue_stiff is stable only for" in capsys.readouterr().out


def test_lists(capsys):
    for what in ("tissues", "materials", "features", "activities", "settings"):
        assert main(["list", what]) == 0
        assert len(capsys.readouterr().out.splitlines()) > 10
    assert main(["list"]) == 0
    assert "== settings" in capsys.readouterr().out


def test_wrong_input_is_one_message_and_code_2(tmp_path, capsys):
    assert main(["check", str(tmp_path / "none.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.startswith("fefoot: ") and "no such file" in err


def test_wrong_command_is_code_2(capsys):
    assert main([]) == 2
    assert main(["solve"]) == 2
    assert main(["--version"]) == 0
    assert "fefoot " in capsys.readouterr().out


def test_compare_hands_over_case_folder_and_listener(study, tmp_path, capsys):
    seen = {}

    def compare(case, out, listener):
        seen.update(case=case, out=out)
        listener(Note("meshing"))
        return types.SimpleNamespace(comparisons=(), folder=out, failed=False)

    study.compare = compare
    assert main(["compare", SAMPLE, "--out", str(tmp_path / "run")]) == 0
    out, err = capsys.readouterr()
    assert seen["case"].devices[0].name == "lift" and seen["out"] == tmp_path / "run"
    assert err == "meshing\n" and out.strip() == f"results are in {tmp_path / 'run'}"
    assert main(["compare", SAMPLE]) == 0 and seen["out"] == Path("runs/sample")


@pytest.mark.parametrize(("error", "code", "words"), [
    (ConvergenceError("stopped at load factor 0.4"), 3, "stopped at load factor 0.4"),
    (KeyboardInterrupt(), 130, "interrupted"),
    (ZeroDivisionError("boom\nbang"), 70, "internal error: ZeroDivisionError: boom bang"),
])
def test_errors_become_exit_codes(study, capsys, error, code, words):
    def compare(case, out, listener):
        raise error

    study.compare = compare
    assert main(["compare", SAMPLE]) == code
    err = capsys.readouterr().err
    assert words in err and len(err.splitlines()) == 1
    if code == 70:
        assert "--debug" in err
        with pytest.raises(ZeroDivisionError):
            main(["compare", SAMPLE, "--debug"])


def test_broken_pipe_is_silent():
    code = "import sys; from fefoot.cli import main; sys.exit(main(['list']))"
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run([sys.executable, "-c", code], stdout=writer, stderr=subprocess.PIPE,
                          env={**os.environ, "PYTHONPATH": str(ROOT)}, text=True, check=False)
    os.close(writer)
    assert done.stderr == "" and done.returncode == 141


def test_an_ascii_terminal_shows_any_title(tmp_path):
    file = tmp_path / "case.toml"
    file.write_text('title = "足"\nmodel = "sagittal"\ntarget = "achilles"\n'
                    "[person]\nbody_mass_kg = 70\n", encoding="utf-8")
    done = run("-X", "utf8=0", "-m", "fefoot", "check", str(file))
    assert done.returncode == 0 and done.stderr == ""


class Terminal(io.StringIO):
    def isatty(self):
        return True


EVENTS = (SolveStarted("bare"), StepDone("bare", 1, 0.25, 5, 3e-6), SolveDone("bare", 2.0, 9),
          SolveStarted("lift"), SolveFailed("lift", "no equilibrium"), Note("writing"))


def test_progress_off_a_terminal_is_a_line_for_what_ends_a_solve():
    stream = io.StringIO()
    progress = Progress(stream)
    for event in (Note("meshing"), *EVENTS):
        progress(event)
    assert stream.getvalue() == ("meshing\nbare: done in 2.0 s, 9 factorisations\n"
                                 "lift: failed, no equilibrium\n")
    assert sentence(EVENTS[1]) == "bare: step 1, 25 % of the load, 5 iterations, residual 3.0e-06"


def test_progress_on_a_terminal_updates_one_line():
    stream = Terminal()
    progress = Progress(stream)
    for event in EVENTS:
        progress(event)
    progress.close()
    assert stream.getvalue().count("\n") == 3
    assert stream.getvalue().endswith("writing\n")
