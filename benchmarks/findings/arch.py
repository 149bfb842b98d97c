"""The arch, its ligaments, and the forces of walking."""

from __future__ import annotations

import math

import numpy as np

from fefoot.study.calibrate import behaviour

from .feet import STANCE, WEIGHT_N, change_percent, solve, standing, walking
from .record import CALIBRATION, FIVE, QUARTER, SIGN, SPREAD, Finding, Study, near

NIELSEN = "Nielsen et al. 2009, J Foot Ankle Res 2:12"
GEFEN = "Gefen 2002, J Biomech 35:629-637, simulation"
CARAVAGGI = "Caravaggi et al. 2010, J Anat 217:254-261"
CARAVAGGI_FASCIA = "Caravaggi et al. 2009, J Exp Biol 212:2491-2499"
ERDEMIR = "Erdemir et al. 2004, J Bone Joint Surg Am 86:546-552"
STATIC = "barefoot, 70 kg, sagittal section"
HEEL_DOWN = ("static instants with the whole foot on the ground: the heel does not rise and the toes "
             "are hardly bent, so that the windlass is not wound")


def navicular() -> list[Finding]:
    """Navicular drop of the standing foot."""
    def drop(load=None, **person):
        return solve("sagittal", load or standing(), **person)("whole_foot", "navicular_drop_mm")

    longer = (drop(length_mm=265.0) - drop(length_mm=245.0)) / 2.0
    return [
        Finding("navicular drop in standing [mm]", "3.6 to 8.1 mm, healthy means", 3.6, 8.1,
                drop(), NIELSEN, "read", f"{STATIC}, from the unloaded foot (the test: from "
                "sitting)", "published range of means"),
        Finding("drop per 10 mm of foot length [mm]", "0.40 (men), 0.31 (women), while walking",
                0.31 * 0.75, 0.40 * 1.25, longer, NIELSEN, "read",
                f"{STATIC}, standing, 245 and 265 mm; widths, pads and navicular height kept",
                QUARTER, "only the length is changed, not the whole foot; static, not dynamic"),
        Finding("change of drop from 70 to 90 kg, same foot [%]", "no effect of body mass index",
                -5.0, 5.0, change_percent(drop(body_mass_kg=90.0), drop()), NIELSEN, "read",
                f"{STATIC}, standing", f"negative control; {FIVE}",
                "an elastic arch gives way in proportion; people's arches adapt to their weight")]


def release() -> list[Finding]:
    """Total release of the fascia."""
    whole, cut = (solve("sagittal", standing(), cut=c) for c in (False, True))
    lost, _ = behaviour(_factors())
    ligament = change_percent(*(f("long_plantar_ligament", "tension_N") for f in (cut, whole)))
    return [
        Finding("arch stiffness lost when the fascia is cut [%]", "25 % (cadaver)", 20.0, 30.0, lost,
                "Huang et al. 1993, Foot & Ankle 14:353-357", "recalled",
                "690 N axial, muscles silent, as in the calibration", "spread of the calibration",
                use=CALIBRATION),
        Finding("further drop of the arch after release [mm]", "more than 2.5 mm", 2.5, math.inf,
                cut("whole_foot", "navicular_drop_mm") - whole("whole_foot", "navicular_drop_mm"),
                GEFEN, "read", f"{STATIC}, standing", "published bound",
                "the ligaments are calibrated to a loss of stiffness of 25 %, which leaves little",
                use=CALIBRATION),
        Finding("change of long plantar ligament tension after release [%]", "stress more than "
                "+200 %", 200.0, math.inf, ligament, GEFEN, "read", f"{STATIC}, standing; three "
                "plantar ligaments share what the fascia leaves", "published bound",
                "after calibration the ligaments are stiff and carry most of the arch already")]


def _factors():
    import tomllib
    from importlib import resources

    text = resources.files("fefoot.foot").joinpath("calibration.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)["factors"]


def fascia() -> list[Finding]:
    """Tension of the fascia over stance, against the Achilles force."""
    path = [solve("sagittal", walking(at)) for at in STANCE]
    fascia, tendon = (np.array([f(name, "tension_N") for f in path]) / WEIGHT_N
                      for name in ("plantar_fascia", "achilles"))
    whole = f"{STATIC}, walking, the ten instants of the table"
    early = fascia[STANCE.index(22.0)]
    latest = STANCE[int(fascia.argmax())] if np.isfinite(fascia).all() else math.nan
    return [
        Finding("largest fascia tension [body weights]", "0.96 +/- 0.36", 0.60, 1.32,
                fascia.max(), ERDEMIR, "read", whole, SPREAD, use=CALIBRATION),
        Finding("largest fascia tension [body weights]", "1.5 (three subjects)", *near(1.5),
                fascia.max(), CARAVAGGI_FASCIA, "read", whole, QUARTER, use=CALIBRATION),
        Finding("correlation of fascia and Achilles forces", "r = 0.76", 0.5, 1.0,
                float(np.corrcoef(fascia, tendon)[0, 1]), ERDEMIR, "read", whole,
                "clearly positive; r depends on the instants (common practice, no source)"),
        Finding("when the fascia's tension is largest [% of stance]", "late stance", 60.0, 100.0,
                latest, ERDEMIR, "read", whole, "late stance"),
        Finding("fascia tension in early stance, 22 % [body weights]", "present already", 0.01,
                math.inf, float(early), CARAVAGGI_FASCIA, "read", whole,
                "above a hundredth of the weight (common practice, no source)",
                "nothing tightens it while the centre of pressure is under the heel")]


def motion() -> list[Finding]:
    """Motion of arch and toes in late stance."""
    middle, late, last = (solve("sagittal", walking(at)) for at in (50.0, 85.0, 92.0))
    rise = -(late("midtarsal_joint", "rotation_degrees")
             - middle("midtarsal_joint", "rotation_degrees"))
    return [
        Finding("arch raised from 50 to 85 % of stance [degrees]", "2.8 to 3.4", 0.0, math.inf, rise,
                CARAVAGGI, "read", f"{STATIC}, walking, midtarsal joint", SIGN, HEEL_DOWN),
        Finding("dorsiflexion of the toes at 92 % of stance [degrees]", "52 to 64 (largest)",
                *near(58.0), last("metatarsophalangeal_joint", "rotation_degrees"), CARAVAGGI,
                "read", f"{STATIC}, walking", QUARTER, HEEL_DOWN)]


def ankle() -> list[Finding]:
    """Achilles force and ankle load in walking."""
    path = [solve("sagittal", walking(at)) for at in STANCE]
    whole = f"{STATIC}, walking, largest of the ten instants"
    far = ("the table's second peak of 1.25 body weights at 74 % of the length is the high end of what "
           "is published, and the shank is held: no acceleration helps")
    return [
        Finding("largest Achilles force [N]", "1989 N (1.4 m/s)", *near(1989.0),
                float(np.max([f("achilles", "tension_N") for f in path])),
                "Kharazi et al. 2021, Sci Rep 11:5830", "read", whole, QUARTER, far),
        Finding("largest ankle joint force [body weights]", "3.9", *near(3.9),
                float(np.max([f("ankle_joint", "force_N") for f in path])) / WEIGHT_N,
                "Procter & Paul 1982, J Biomech 15:627-634", "read", whole, QUARTER, far)]


ARCH = {
    "navicular": Study("Navicular drop", navicular, slow=True),
    "release": Study("Release of the plantar fascia", release, slow=True),
    "fascia": Study("Plantar fascia over stance", fascia, slow=True),
    "motion": Study("Arch and toes in late stance", motion, slow=True),
    "ankle": Study("Achilles tendon and ankle in walking", ankle, slow=True),
}
