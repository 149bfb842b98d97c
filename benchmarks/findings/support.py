"""What arch support does to the fascia, and the negative controls."""

from __future__ import annotations

import math

import numpy as np

from .feet import HEEL_LOAD, change_percent, insole, solve, walking
from .record import CONSTRUCTION, FIVE, SIGN, Finding, Study

KOGLER = "Kogler, Solomonidis & Paul 1996, Clin Biomech 11:243-252"
WEDGE = "Kogler et al. 1999, J Bone Joint Surg Am 81:1403-1413"
PENG = "Peng et al. 2022, Front Bioeng Biotechnol 10:853085, simulation"
GIJON = "Gijon-Nogueron et al. 2018, Medicine 97, doi 10.1097/MD.0000000000010960"
FRAME = "sagittal section, 900 N axial and silent muscles, as in a loading frame"
AXIAL_N = 900.0


def shell(cover_mm=3.0, material="polypropylene", thickness_mm=3.0, fill=75.0) -> dict:
    """Return a covered shell with arch fill that ends behind the heads."""
    return insole("eva_soft", cover_mm, below=((material, thickness_mm),), underside="follow",
                  length="to_metatarsals", features=[("arch_fill", {"fill_percent": fill})])


def filled(fill, material="eva_firm") -> dict:
    """Return a solid insole with arch fill."""
    return insole(material, 6.0, features=[("arch_fill", {"fill_percent": fill})])


def pressed(device=None) -> float:
    """Return the fascia's tension in the loading frame, N."""
    return solve("sagittal", None, device, axial_N=AXIAL_N)("plantar_fascia", "tension_N")


def cadaver() -> list[Finding]:
    """Orthoses, shoe sole and hindfoot wedge in the loading frame."""
    bare, flat = pressed(), pressed(insole())
    arched = change_percent(pressed(shell()), bare)
    post = change_percent(pressed(insole(features=[("rearfoot_post", {"angle_degrees": 6.0})])),
                          flat)
    return [
        Finding("change of fascia tension, shell with arch [%]", "three of five orthoses reduced "
                "strain", -math.inf, 0.0, arched, KOGLER, "read",
                f"{FRAME}; polypropylene shell, arch filled 75 %, soft cover", SIGN),
        Finding("change of fascia tension, flat insole [%]", "the shoe alone did not reduce strain",
                -5.0, math.inf, change_percent(flat, bare), KOGLER, "read",
                f"{FRAME}; flat soft EVA 6 mm as the shoe's sole", f"negative control; {FIVE}",
                "with silent muscles 85 % of the force falls on the heel, which sinks into the soft "
                "foam until the arch carries too; the tension is small (138 N barefoot)"),
        Finding("change of fascia tension, 6 degree wedge under the hindfoot [%]",
                "no significant change", -5.0, 5.0, post, WEDGE, "recalled",
                f"{FRAME}; flat soft EVA 6 mm with and without a medial rearfoot post; the slice only "
                "sees the height", f"negative control; {FIVE}",
                "the slice runs through the raised side, so that a tilt is a lift of the heel; the "
                "tension is small (103 N without the wedge)")]


def arch_height() -> list[Finding]:
    """Height and stiffness of arch support at mid-stance."""
    def tension(device):
        return solve("sagittal", walking(50), device)("plantar_fascia", "tension_N")

    low, high = tension(filled(50.0)), tension(filled(90.0))
    soft = tension(filled(90.0, "eva_soft"))
    condition = "70 kg, sagittal section, walking at 50 % of stance; solid EVA 6 mm"
    return [
        Finding("change of fascia tension, arch filled 90 % against 50 % [%]",
                "a higher arch lowers strain", -math.inf, 0.0, change_percent(high, low), PENG, "read",
                f"{condition}, firm; the paper's foot was flat, ours is not", SIGN),
        Finding("change of fascia tension, soft against firm support [%]",
                "softer material lowers strain", -math.inf, 0.0, change_percent(soft, high), PENG,
                "read", f"{condition}, arch filled 90 %; soft and firm EVA", SIGN,
                "a softer arch gives way and carries less; the paper's foot was flat and measured "
                "strain at the heel end, ours is one tension along its length")]


def ground_reaction() -> list[Finding]:
    """Total ground reaction with orthoses."""
    errors = []
    for device in (insole(), insole(base="foot"), shell()):
        found = solve("sagittal", walking(HEEL_LOAD), device)
        errors.append(100.0 * found.checks.get("force balance", math.nan))
    return [Finding(
        "largest change of the ground reaction with three orthoses [%]", "unchanged", -0.1, 0.1,
        float(np.max(errors)), GIJON, "read",
        f"70 kg, sagittal section, walking at {HEEL_LOAD:g} % of stance; "
        "flat, moulded, shell with arch", "negative control: the force is an input, so that this row "
        "guards against the device taking load past the ground", use=CONSTRUCTION)]


SUPPORT = {
    "cadaver": Study("Orthoses in a loading frame", cadaver, slow=True),
    "arch_height": Study("Height and stiffness of arch support", arch_height, slow=True),
    "ground_reaction": Study("Ground reaction with orthoses", ground_reaction, slow=True),
}
