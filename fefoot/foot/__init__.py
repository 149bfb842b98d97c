"""The foot: its shapes, the morph to a person, sections and their meshes."""

from .anatomy import bone_distance, bone_names, skin_distance
from .fascia import fascia_centre, fascia_direction
from .mesh2d import cell_quality, morphed, section_mesh
from .morph import REFERENCE, Dimensions, dimension_range_mm, morph, plantar_height_mm
from .section import (
    SECTIONS,
    bone_outlines,
    lift,
    section_bones,
    section_morph,
    skin_outline,
    thickness_mm,
)

__all__ = [
    "REFERENCE",
    "SECTIONS",
    "Dimensions",
    "bone_distance",
    "bone_names",
    "bone_outlines",
    "cell_quality",
    "dimension_range_mm",
    "fascia_centre",
    "fascia_direction",
    "lift",
    "morph",
    "morphed",
    "plantar_height_mm",
    "section_bones",
    "section_mesh",
    "section_morph",
    "skin_distance",
    "skin_outline",
    "thickness_mm",
]
