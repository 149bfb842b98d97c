"""A case with studies, and an evaluation that takes no time, for the tests of the studies."""

import math
import time

STUDY = """title = "An arch shell for a sore fascia"
model = "sagittal"
target = "plantar_fascia"
[person]
body_mass_kg = 72
[activity]
name = "walking"
at = 62
[[device]]
name = "flat"
[[device.layer]]
material = "eva_soft"
thickness_mm = 6
[[device]]
name = "shell"
length = "to_metatarsals"
underside = "follow"
[[device.layer]]
material = "eva_soft"
thickness_mm = 3
[[device.layer]]
material = "polypropylene"
thickness_mm = 3
[[device.feature]]
kind = "arch_fill"
fill_percent = 75
[solver]
mesh_size_mm = 8
"""
SPACE = """
[sweep]
device = "shell"
[[sweep.vary]]
name = "shell_mm"
of = "layer.2.thickness_mm"
from = 2
to = 4
step = 0.5
[[sweep.vary]]
name = "fill"
of = "feature.arch_fill.fill_percent"
among = [25, 50, 75]
[[sweep.vary]]
name = "cover"
of = "layer.1.material"
among = ["eva_soft", "eva_firm"]
[[sweep.exclude]]
cover = "eva_firm"
shell_mm = { below = 3 }
"""
SECONDS = 0.01


def values_of(run):
    """A smooth stand-in for a solve: the tension and the midfoot's pressure of a condition."""
    person, device = run.case.person, run.device
    tension = 6.8 * person.body_mass_kg * math.sqrt(person.fascia_stiffness_factor)
    pressure, heel = 22.0, 160.0 * run.instant.vertical_bodyweights
    if device is not None:
        fill = sum(f.parameters.get("fill_percent", 0.0) for f in device.features) / 100.0
        thick = device.layers[-1].thickness_mm
        relief = 0.45 * fill * (1.0 - math.exp(-thick / 2.0))
        tension *= 1.0 - relief
        pressure *= 1.0 + 6.0 * relief**1.5
        heel *= 0.9 if device.layers[0].material == "eva_soft" else 0.97
    return {("plantar_fascia", "tension_N"): tension, ("heel_pad", "peak_pressure_kPa"): heel,
            ("midfoot_sole", "peak_pressure_kPa"): pressure}


def kept(values, failure=None):
    return {"failure": failure, "checks": [["force balance", 0.0, 1e-6, "", True]],
            "measures": [] if failure else [[*key, value, None] for key, value in values.items()],
            "cost": {"seconds": 0.01, "newton_iterations": 20.0}}


def cheap(run, tell):
    return kept(values_of(run))


def slow(run, tell):
    time.sleep(SECONDS)
    return cheap(run, tell)


def stubborn(run, tell):
    """Fail for the thickest shell, as a solve without equilibrium does."""
    if run.device is not None and run.device.layers[-1].thickness_mm == 4.0:
        return kept({}, "not converged: the load cannot be carried")
    return cheap(run, tell)


def here(jobs, store, evaluate):
    """An executor that computes in this process, where the processes are not the subject."""
    for job in jobs:
        kept = evaluate(job.run, None)
        store.put(job.key, job.description, kept)
        yield job.key, kept


def stand_in(monkeypatch, module, name, evaluate):
    """Let a study of a module evaluate its runs in this process, by a stand-in for the solve."""
    study = getattr(module, name)
    monkeypatch.setattr(study, "__kwdefaults__", {**study.__kwdefaults__, "evaluate": evaluate})
    monkeypatch.setattr("fefoot.study.commands.on_processes", lambda workers: here)
