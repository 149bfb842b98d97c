"""Quiet standing and its pressures."""

from __future__ import annotations

from .feet import solve
from .feet import standing as quiet
from .record import QUARTER, Finding, Study, near

CAVANAGH = "Cavanagh, Rodgers & Iiboshi 1987, Foot & Ankle 7:262-276"
PARTS = {"heel": (60.5, ("heel_pad",)), "midfoot": (7.8, ("midfoot_sole", "shaft_sole")),
         "forefoot": (28.1, ("metatarsal_pad",)), "toes": (3.6, ("toe_pads",))}
BARE = "barefoot, 70 kg, sagittal section, half the weight on the foot"
WHY_SHARES = ("one toe and one ray stand for five; the sole of the slice stays clear of the ground "
              "under the midfoot, where the lateral border of a whole foot carries load")


def shares() -> list[Finding]:
    """Load shares: the centre of pressure comes from these numbers, how the load spreads does not."""
    found = solve("sagittal", quiet())
    return [Finding(
        f"share of the load, {part} [%]", f"{value} %", *near(value),
        sum(found(tissue, "load_share_percent") for tissue in tissues), CAVANAGH, "recalled",
        f"{BARE}; the place of the centre of pressure is computed from these four shares",
        QUARTER, WHY_SHARES) for part, (value, tissues) in PARTS.items()]


def pressures() -> list[Finding]:
    """Peak pressures and their ratio."""
    found = solve("sagittal", quiet())
    heel, fore = (found(t, "peak_pressure_kPa") for t in ("heel_pad", "metatarsal_pad"))
    condition = f"{BARE}; pressure averaged over 8 mm"
    low = ("the heads carry too little in this slice: the one toe takes a share of the load that "
           "five toes do not take, and the forefoot's share is spread over its full width")
    return [
        Finding("peak pressure, heel [kPa]", "139 kPa", *near(139.0), heel, CAVANAGH, "recalled",
                condition, QUARTER),
        Finding("peak pressure, forefoot [kPa]", "53 kPa", *near(53.0), fore, CAVANAGH, "recalled",
                condition, QUARTER, low),
        Finding("peak pressure, heel over forefoot", "2.6", *near(2.6), heel / fore, CAVANAGH,
                "recalled", condition, QUARTER, low)]


def achilles() -> list[Finding]:
    """Achilles force in standing."""
    mass = 700.0 / 9.81
    found = solve("sagittal", quiet(), body_mass_kg=mass)
    return [Finding(
        "Achilles force over the force on the foot", "0.75 matches the measured centre of pressure "
        "best (350 N on the foot)", *near(0.75), found("achilles", "tension_N") / 350.0,
        "Cheung, Zhang & An 2006, Clin Biomech 21:194-203", "read",
        "barefoot, 350 N on the foot, centre of pressure 34.6 % of the length", QUARTER,
        "other tendons share the ankle moment here")]


STANDING = {
    "standing_shares": Study("Load shares in standing", shares),
    "standing_pressures": Study("Peak pressures in standing", pressures),
    "standing_achilles": Study("Achilles force in standing", achilles),
}
