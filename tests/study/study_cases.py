"""Texts of small cases for the tests of the study."""

from pathlib import Path

ROOT = Path(__file__).parents[2]
FLAT = """
[[device]]
name = "flat"
title = "flat insole"
[[device.layer]]
material = "eva_medium"
thickness_mm = 4
"""


def rearfoot_text(person="", rest=""):
    return f"""title = "Heel pad in early stance"
model = "rearfoot"
target = "heel_pad"
[person]
body_mass_kg = 72
{person}
[activity]
name = "walking"
at = 22
[solver]
mesh_size_mm = 8
{rest}
"""
