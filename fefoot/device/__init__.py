"""What goes under the foot: outline, layers and features, as height fields, sections and meshes."""

from .device import Device, Feature, FootLandmarks, Layer
from .features import FEATURES, feature
from .mesh import section_mesh
from .section import Section, rearfoot_plane, sagittal_plane, section
from .sheet import build_sheet
from .surface import heights, interfaces_mm

__all__ = [
    "FEATURES", "Device", "Feature", "FootLandmarks", "Layer", "Section", "build_sheet", "feature",
    "heights", "interfaces_mm", "rearfoot_plane", "sagittal_plane", "section", "section_mesh",
]
