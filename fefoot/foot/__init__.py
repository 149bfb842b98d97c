"""The foot: its shapes, the morph to a person, meshes of sections and the whole, the structure."""

from .anatomy import bone_distance, bone_names, skin_distance
from .fascia import fascia_centre, fascia_direction
from .mesh2d import cell_quality, morphed, section_mesh
from .mesh3d import mirrored, morphed3d, reference_mesh
from .moment_arms import moment_arms_mm
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
from .structure3d import structure3d

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
    "mirrored",
    "moment_arms_mm",
    "morph",
    "morphed",
    "morphed3d",
    "plantar_height_mm",
    "reference_mesh",
    "section_bones",
    "section_mesh",
    "section_morph",
    "skin_distance",
    "skin_outline",
    "structure3d",
    "thickness_mm",
]
