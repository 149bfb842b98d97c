"""Pads and moulded insoles under the forefoot at push-off."""

from __future__ import annotations

import math

from .feet import PEAK, change_percent, insole, solve, walking
from .record import FIVE, QUARTER, SIGN, Finding, Study, near

CHANG = "Chang et al. 1994, Foot Ankle Int 15:654-660"
HOLMES = "Holmes & Timmerman 1990, Foot & Ankle 11:141-145"
YI = "Yi et al. 2022, Yonsei Med J 63:864"
LEE = "Lee et al. 2014, J Foot Ankle Res 7:18"
POSTEMA = "Postema et al. 1998, Prosthet Orthot Int 22:35-44"
CONDITION = f"70 kg, sagittal section, walking at {PEAK:g} % of stance; flat soft EVA 6 mm"
WHERE = ("one ray stands for five and the pad is as wide as the slice; the foot lies flat at this "
         "instant, and a pad of 6 mm whose front slope reaches the heads presses on them")


def peak(device, tissue="metatarsal_pad") -> float:
    """Return the peak pressure at push-off, kPa."""
    return solve("sagittal", walking(PEAK), device)(tissue, "peak_pressure_kPa")


def padded(behind_mm, height_mm=6.0) -> dict:
    """Return the flat insole with a pad."""
    return insole(features=[("metatarsal_pad", {"height_mm": height_mm, "behind_mm": behind_mm})])


def pads() -> list[Finding]:
    """Metatarsal pads of 6 mm against the same insole without."""
    flat, near_heads, far = peak(insole()), peak(padded(16.0)), peak(padded(28.0))
    shafts = change_percent(peak(padded(16.0), "shaft_sole"), peak(insole(), "shaft_sole"))
    heads, dome = (change_percent(p, flat) for p in (near_heads, peak(padded(-5.0))))
    pad = f"{CONDITION}, pad 6 mm high, highest line 16 mm behind the heads"
    return [
        Finding("change of the peak under the shafts [%]", "rises", 0.0, math.inf, shafts, CHANG,
                "read", pad, SIGN),
        Finding("change of the peak under the heads [%]", "mild fall at heads 1 and 2", -math.inf,
                0.0, heads, CHANG, "read", f"{pad}; ray 2", SIGN, WHERE),
        Finding("change of the peak under the heads [%]", "-60 to -12 % (women), -44 to +28 % (men)",
                -60.0, 28.0, heads, HOLMES, "read", pad, "published range"),
        Finding("change of the peak when the pad moves back by 12 mm [%]",
                "no clear effect of the place", -5.0, 5.0, change_percent(far, near_heads), YI,
                "read", f"{pad}, against 28 mm behind", f"negative control; {FIVE}", WHERE),
        Finding("peak with the pad over peak without, less one [%]",
                "a flat soft insole of 6 mm did best", 0.0, math.inf, heads, YI, "read", pad,
                "order alone; it contradicts the two findings above", WHERE),
        Finding("change of the peak, dome 5 mm in front of the line of heads [%]", "-17 %",
                *near(-17.0), dome, LEE, "read", f"{CONDITION}, dome 6 mm high, highest 5 mm in "
                "front of the line", QUARTER, WHERE)]


def moulded() -> list[Finding]:
    """An insole with the foot's own surface against a flat one."""
    flat, own = (peak(insole(base=base)) for base in ("flat", "foot"))
    change = change_percent(own, flat)
    condition = f"{CONDITION}, against the foot's own surface on top"
    return [
        Finding("change of the peak under the heads, moulded [%]", "central forefoot -18.2 %",
                *near(-18.2), change, POSTEMA, "read", condition, QUARTER, WHERE),
        Finding("the same, sign [%]", "falls", -math.inf, 0.0, change, POSTEMA, "read", condition,
                SIGN, WHERE)]


FOREFOOT = {
    "pads": Study("Metatarsal pads", pads, slow=True),
    "moulded": Study("Moulded insole under the forefoot", moulded, slow=True),
}
