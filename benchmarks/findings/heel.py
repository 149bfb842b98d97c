"""The heel pad and peak pressures in walking, barefoot."""

from __future__ import annotations

import math

import numpy as np

from .feet import HEEL_LOAD, PEAK, STANCE, WEIGHT_N, change_percent, insole, instant, solve, walking
from .record import FIVE, QUARTER, SIGN, SPREAD, Finding, Study, near

SHORTEN = "Shorten, Beekman Eden & Himmelsbach 1989, J Biomech 22:1083"
WEARING = "Wearing et al. 2014, Med Sci Sports Exerc 46:1588-1594"
CLERCQ = "De Clercq, Aerts & Kunnen 1994, J Biomech 27:1213-1222"
AKRAMI = "Akrami et al. 2018, Biomech Model Mechanobiol 17:559-576"
CUP = "Footwear Sci 2021 13:199-207, authors not read"
PAD_MM = 17.0
STATIC = "barefoot, 70 kg, sagittal section, static instants of walking"


def highest(tissue, quantity, **person):
    """Return the largest value over stance; nan when an instant failed."""
    return float(np.max([solve("sagittal", walking(at), **person)(tissue, quantity)
                         for at in STANCE]))


def walking_peaks() -> list[Finding]:
    """Peak pressures in walking at 1.5 m/s, the speed whose vertical force has the table's size."""
    condition = (f"{STATIC}, largest over stance; speed 1.5 m/s taken, at which Keller et al. 1996 "
                 "read 1.2 body weights; pressure averaged over 8 mm")
    wide = ("load is spread over the slice's effective width and over 8 mm, where platforms with small "
            "sensors see single heads; toes and shafts carry more than half of it, the heel stays "
            "down")
    rows = [Finding(
        f"peak pressure, {name} [kPa]", f"{mean} +/- {spread} kPa at 1.5 m/s", mean - spread,
        mean + spread, highest(tissue, "peak_pressure_kPa"), SHORTEN, "read", condition, SPREAD,
        wide) for name, tissue, mean, spread in (
            ("heel", "heel_pad", 517.0, 158.0), ("forefoot", "metatarsal_pad", 737.0, 226.0))]
    heels = [solve("sagittal", walking(HEEL_LOAD), body_mass_kg=m)("heel_pad", "peak_pressure_kPa")
             for m in (70.0, 90.0)]
    return [*rows, Finding(
        "change of heel peak from 70 to 90 kg, same foot [%]", "no correlation with body mass",
        -5.0, 5.0, change_percent(heels[1], heels[0]), SHORTEN, "read",
        f"{STATIC}, {HEEL_LOAD:g} % of stance", f"negative control; {FIVE}",
        "the same foot is loaded more; among people, size and thickness of the pad go with mass")]


def sensitivity() -> list[Finding]:
    """Change of peak pressure with the ground reaction force."""
    rows = []
    for name, tissue, at in (("heel", "heel_pad", HEEL_LOAD), ("forefoot", "metatarsal_pad", PEAK)):
        one, two = (solve("sagittal", instant("walking", at, s))(tissue, "peak_pressure_kPa")
                    for s in (1.0, 1.05))
        rows.append(Finding(
            f"change of {name} peak per change of force [% per %]", "1.9 to 2.3", 1.9, 2.3,
            change_percent(two, one) / 5.0, AKRAMI, "read",
            f"{STATIC}, {at:g} % of stance, force 5 % higher at the same centre of pressure",
            "published range", "pressure is nearly proportional to force here; the published model "
            "scaled the whole gait, in which the foot turns as well"))
    return rows


def compression() -> list[Finding]:
    """Compression and stiffness of the heel pad."""
    def squeezed(load, device=None):
        return solve("sagittal", load, device)("heel_pad", "compression_percent")

    bare = highest("heel_pad", "compression_percent")
    one, two = (squeezed(instant("walking", HEEL_LOAD, s)) for s in (1.0, 1.05))
    force = 0.9 * WEIGHT_N
    light = instant("walking", HEEL_LOAD, 1.0, vertical_bodyweights=0.1, fore_aft_bodyweights=0.0)
    shod = squeezed(walking(HEEL_LOAD), insole("eva_medium", 20.0))
    pad = 0.01 * PAD_MM
    return [
        Finding("largest compression of the heel pad [%]", "10.3 of 19 mm, 54 %", *near(54.0),
                bare, WEARING, "recalled", f"{STATIC}, pad 17 mm", QUARTER),
        Finding("stiffness of the pad under full load [N/mm]", "212 N/mm in the end", *near(212.0),
                0.05 * force / (pad * (two - one)), WEARING, "recalled",
                f"{STATIC}, {HEEL_LOAD:g} % of stance, force 5 % higher", QUARTER,
                "an elastic law that is read from slow tests; the slice is wider than the pad"),
        Finding("stiffness of the pad at first [N/mm]", "32 N/mm", *near(32.0),
                0.1 * WEIGHT_N / (pad * squeezed(light)), WEARING, "recalled",
                f"{STATIC}, a tenth of the weight, secant", QUARTER,
                "a secant over the first touch of a round heel; published tissue sets differ by a "
                "factor of 16 to 50"),
        Finding("compression shod less barefoot [% of thickness]", "60.5 % barefoot, 35.5 % shod "
                "(running)", -math.inf, 0.0, shod - squeezed(walking(HEEL_LOAD)), CLERCQ,
                "recalled", "walking at 12 % of stance in place of running; 20 mm of medium EVA as "
                "the shoe", SIGN)]


def containment() -> list[Finding]:
    """A heel cup against the same insole without one."""
    flat, cup = (solve("rearfoot", walking(22), insole("eva_medium", 6.0, features=f))(
        "heel_pad", "compression_percent")
        for f in ((), (("heel_cup", {"depth_mm": 18.0}),)))
    return [Finding(
        "compression of the pad, deep heel cup less flat [% of thickness]",
        "full containment: less deformation", -math.inf, 0.0, cup - flat, CUP, "read",
        "rearfoot section, walking at 22 % of stance, 6 mm medium EVA, cup 18 mm deep", SIGN,
        "the section is plane: tissue cannot escape fore and aft, so that containment adds less")]


HEEL = {
    "walking_peaks": Study("Peak pressures in walking", walking_peaks, slow=True),
    "sensitivity": Study("Sensitivity of peak pressure to force", sensitivity, slow=True),
    "compression": Study("Compression of the heel pad", compression, slow=True),
    "containment": Study("Heel pad in a cup", containment),
}
