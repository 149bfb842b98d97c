"""The key of a run: the same for the same numbers, another for anything that decides one."""

import subprocess
import sys
from dataclasses import replace

import pytest
from study_cases import ROOT

from fefoot.case.address import address, applied
from fefoot.study import physics
from fefoot.study.run import Run, canonical, described, key_of, mesh_digest, refusal, solve_run


def key(case, device=1, percent=62.0):
    (instant,) = case.activity.instants()
    return key_of(described(Run.of(case, case.devices[device] if device is not None else None,
                                   replace(instant, stance_percent=percent))))


def test_words_do_not_count(study):
    case = study()
    other = replace(case, title="other", expect="other", target="heel_pad", devices=(
        case.devices[0], replace(case.devices[1], name="x", title="other words")))
    assert key(other) == key(case)
    assert key(case, percent=63.0) == key(case)  # the same load at another time of stance


@pytest.mark.parametrize(("text", "value"), [
    ("layer.2.thickness_mm", 3.0000001), ("layer.1.material", "eva_firm"), ("device.underside", "flat"),
    ("feature.arch_fill.fill_percent", 74.0), ("person.heel_pad_mm", 17.5),
    ("person.body_mass_kg", 72.5), ("person.plantar_tissue", "plantar_tissue_middle"),
    ("person.fascia_stiffness_factor", 1.1), ("activity.at", 61.0), ("load.vertical_factor", 1.01),
    ("load.fore_aft_factor", 0.9), ("load.pressure_centre_shift_percent", 1.0),
    ("load.shank_angle_shift_degrees", 1.0), ("material.stiffness_factor", 1.1)])
def test_every_value_that_can_be_varied_counts(study, text, value):
    case = study()
    other, device = applied(case, case.devices[1], address(text, case, case.devices[1]), value)
    other = replace(other, devices=(other.devices[0], device))
    assert key(other) != key(case)
    again, device = applied(case, case.devices[1], address(text, case, case.devices[1]), value)
    assert key(replace(again, devices=(again.devices[0], device))) == key(other)


def test_settings_mesh_and_versions_count(study, monkeypatch):
    case = study()
    seen = {key(case)}
    for name, value in (("mesh_size_mm", 7.0), ("contact", "gripping"), ("tolerance", 1e-8),
                        ("penalty_factor", 2.0), ("fascia", "meshed")):
        seen.add(key(replace(case, solver=replace(case.solver, **{name: value}))))
    monkeypatch.setattr("fefoot.study.run.physics_version", lambda: "another")
    seen.add(key(case))
    monkeypatch.setattr("fefoot.study.run.libraries", lambda: {"numpy": "another"})
    seen.add(key(case))
    monkeypatch.setattr("fefoot.study.run.mesh_digest", lambda *which: "another")
    seen.add(key(case))
    assert len(seen) == 9


def test_a_field_that_is_added_to_a_case_counts(study):
    from dataclasses import dataclass

    @dataclass(frozen=True)
    class Grown(type(study())):
        cushion_mm: float = 0.0

    case = study()
    known = {name: getattr(case, name) for name in case.__dataclass_fields__}
    assert key(Grown(**known)) == key(Grown(**known))
    assert key(Grown(**known)) != key(Grown(**known, cushion_mm=1.0))


def test_numbers_have_one_form():
    assert canonical((1, -0.0, float("inf"), True)) == [1.0, 0.0, "inf", True]
    with pytest.raises(TypeError, match="no canonical form"):
        canonical(object())


def test_the_physics_version_follows_statements_not_words(tmp_path, monkeypatch):
    before = physics._statements('"""Words."""\ndef f(x):\n    """More."""\n    return 2 * x  # why\n')
    assert before == physics._statements("def f(x):\n\n    return (2 * x)\n")
    assert physics._statements('A = 1\n"""What A is."""\n') == physics._statements("A = 1\n")
    assert before != physics._statements("def f(x):\n    return 3 * x\n")
    table = physics.PACKAGE / "foot" / "calibration.toml"
    assert table in set(physics.counted_files())


def test_nothing_that_a_solve_loads_is_left_out_of_the_physics_version():
    """Run one real condition; every module of ours that it loads counts, or is known not to matter."""
    code = """
import sys
from dataclasses import replace
from fefoot.case import read_case
from fefoot.study.run import Run, solve_run
case = read_case(sys.argv[1])
case = replace(case, solver=replace(case.solver, mesh_size_mm=8.0))
run = Run.of(case, case.devices[0], case.activity.instants()[0])
kept = solve_run(run, lambda event: None)
assert kept["failure"] is None and kept["measures"], kept["failure"]
print(*sorted(m.__file__ for n, m in sys.modules.items() if n.startswith("fefoot") and m.__file__))
"""
    done = subprocess.run(
        [sys.executable, "-c", code, str(ROOT / "cases" / "rearfoot_post_and_skive.toml")],
        capture_output=True, text=True, check=True, cwd=ROOT)
    loaded = {str(file.removeprefix(str(physics.PACKAGE) + "/")) for file in done.stdout.split()}
    counted = {p.relative_to(physics.PACKAGE).as_posix() for p in physics.counted_files()}
    rest = {name for name in loaded - counted
            if not name.startswith(("case/", "scan/"))}  # what they resolve to is in the key itself
    assert rest <= {"__init__.py", "errors.py", "study/__init__.py", "study/parallel.py",
                    "study/physics.py", "study/reasons.py"}
    assert len(loaded & counted) > 40


def test_the_mesh_counts_by_its_content():
    assert mesh_digest("foot3d", 6.0, False) != mesh_digest("foot3d", 4.0, False)
    assert mesh_digest("foot3d", 6.0, False) == mesh_digest("foot3d", 8.0, False)


def test_a_run_that_carries_no_load_is_refused(study):
    case = study()
    (instant,) = case.activity.instants()
    run = Run.of(case, None, replace(instant, vertical_bodyweights=0.001))
    assert refusal(run).startswith("refused") and solve_run(run, None)["failure"] == refusal(run)
