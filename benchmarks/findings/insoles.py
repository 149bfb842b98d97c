"""Insoles under the heel."""

from __future__ import annotations

import math

from .feet import HEEL_LOAD, change_percent, insole, solve, standing, walking
from .record import QUARTER, SIGN, Finding, Study, near

GOSKE = "Goske et al. 2006, J Biomech 39:2363-2370, simulation"
TAGUCHI = "Cheung & Zhang 2008, Med Eng Phys 30:269-277, simulation"
YANG = "Yang et al. 2022, Front Bioeng Biotechnol 10:959842, simulation"
GERRARD = "Gerrard et al. 2020, J Foot Ankle Res 13:35, review"
WALK = f"70 kg, sagittal section, walking at {HEEL_LOAD:g} % of stance"
REAR = "70 kg, rearfoot section, walking at 22 % of stance"
LEVELS = "the levels of the factors are ours: those of the paper were not read"


def heel_change(device, model="sagittal", load=None) -> float:
    """Return the change of the heel's peak pressure against barefoot, percent."""
    load = load or walking(HEEL_LOAD)
    new, old = (solve(model, load, d)("heel_pad", "peak_pressure_kPa") for d in (device, None))
    return change_percent(new, old)


def conformity() -> list[Finding]:
    """Flat and conforming heel insoles of 9.5 mm, and what matters more."""
    flat, conforming = (heel_change(insole("eva_soft", 9.5, base=b)) for b in ("flat", "foot"))
    firm = heel_change(insole("eva_firm", 9.5))
    thin = heel_change(insole("eva_soft", 6.3))
    thick = heel_change(insole("eva_soft", 12.7))
    stiff = ("the foams here follow a rubber formula for the first slope and are stiffer than the pad, "
             "which leaves them little to give")
    wide = ("soft to firm EVA is a factor of three in stiffness, perhaps more than the paper's foams; "
            "the plane section follows a shape in one direction only")
    condition = f"{WALK}; EVA of 9.5 mm, flat or with the foot's own surface on top"
    shape, stiffness = abs(conforming - flat), abs(firm - flat)
    thickness = abs(thick - thin)
    return [
        Finding("change of heel peak, flat 9.5 mm insole [%]", "-24 % flat", *near(-24.0), flat,
                GOSKE, "read", condition, QUARTER, stiff),
        Finding("change of heel peak, conforming 9.5 mm insole [%]", "up to -44 %", *near(-44.0),
                conforming, GOSKE, "read", condition, QUARTER, stiff),
        Finding("conforming less flat [% of the barefoot peak]", "conforming lower", -math.inf, 0.0,
                conforming - flat, GOSKE, "read", condition, SIGN),
        Finding("effect of conformity over effect of material", "conformity dominates, material "
                "nearly irrelevant", 1.0, math.inf, shape / stiffness, GOSKE, "read",
                f"{condition}; soft against firm EVA; {LEVELS}", "order alone", wide),
        Finding("effect of shape over effect of stiffness", "custom shape before insole stiffness",
                1.0, math.inf, shape / stiffness, TAGUCHI, "read",
                f"{condition}; soft against firm EVA; {LEVELS}", "order alone", wide),
        Finding("effect of stiffness over effect of thickness", "insole stiffness before thickness",
                1.0, math.inf, stiffness / thickness, TAGUCHI, "read",
                f"{WALK}; soft against firm EVA of 9.5 mm, 6.3 against 12.7 mm; {LEVELS}",
                "order alone")]


def heel_cup() -> list[Finding]:
    """Cup, material and thickness in the frontal section."""
    def change(material="eva_soft", thickness=6.0, base="flat"):
        return heel_change(insole(material, thickness, base=base), "rearfoot", walking(22))

    start = change()
    shape = abs(change(base="foot") - start)
    material = abs(change("eva_firm") - start)
    thickness = abs(change(thickness=8.0) - start)
    condition = (f"{REAR}; soft EVA 6 mm flat, changed to the foot's own surface, to firm EVA, to 8 "
                 f"mm; {LEVELS}")
    return [
        Finding("effect of heel conformity over effect of material", "53.2 % against 25.9 % of the "
                "variance", 1.0, math.inf, shape / material, YANG, "read", condition, "order alone",
                "soft to firm EVA is a factor of three in stiffness; the section is wide and flat "
                "under the heel, so that its own surface differs little from a plane"),
        Finding("effect of material over effect of thickness", "25.9 % against 2.7 % of the variance",
                1.0, math.inf, material / thickness, YANG, "read", condition, "order alone")]


def foams() -> list[Finding]:
    """Any foam lowers the peak pressure."""
    return [Finding(
        f"change of heel peak, 6 mm of {title} [%]", "polyurethane, polyethylene and EVA all reduced "
        "peak pressure", -math.inf, 0.0, heel_change(insole(name, 6.0), load=standing()), GERRARD,
        "read", "70 kg, sagittal section, standing, flat insole", SIGN)
        for title, name in (("soft EVA", "eva_soft"), ("medium EVA", "eva_medium"),
                            ("polyurethane foam", "pu_foam_soft"))]


INSOLES = {
    "conformity": Study("Shape, stiffness and thickness of heel insoles", conformity, slow=True),
    "heel_cup": Study("Conformity, material and thickness, frontal section", heel_cup, slow=True),
    "foams": Study("Foams under the heel", foams, slow=True),
}
