"""Materials: laws, the table of published constants, and the stability check."""

from .laws import LAWS, Constant, Law
from .stability import StabilityReport, stability
from .table import Material, material, materials, user_material

__all__ = [
    "LAWS",
    "Constant",
    "Law",
    "Material",
    "StabilityReport",
    "material",
    "materials",
    "stability",
    "user_material",
]
