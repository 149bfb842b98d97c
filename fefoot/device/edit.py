"""What a feature edits, and the ways of editing it.

Three ways of changing a surface occur. A *shape* (arch fill, heel cup) bends the whole device: where
the underside follows the top, it bends with it. An *addition* (lift, post, wedge, skive, pad, bar,
extension) is solid material that the last layer takes up; where the underside follows the top it
stands on the ground only under the block that is named (the heel block of a lift or post), and in
front of it the device keeps its thickness. A *hollow* (relief, groove, cut-out) takes material away
from the last layer: the top sinks, the upper layers keep their thickness and the underside stays.
Hollows are taken off when all else is added up, the deepest where several meet, and no deeper than
the last layer bears (``fefoot.device.surface``).

Angles are positive with the medial side raised.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from .ramp import ramp


@dataclass(frozen=True)
class Heights:
    """Height fields over points of one shape, mm.

    Attributes
    ----------
    top_mm, bottom_mm : arrays
        Surface under the skin; underside.
    base_mm : array
        Top of the device without features.
    contour_mm : array
        Top as shaped by arch fill, cup, skive and pad, without lifts, posts and wedges.
    hollow_mm : array
        Depth of the hollows, positive downwards: as wanted; of a finished device, as taken.
    stack_mm : float
        Thickness of the layers together.
    free_underside : bool
        Whether the underside follows the top.
    material : (layers, ...) int array
        Index into ``material_names`` under each point.
    material_names : tuple of str
    """

    top_mm: np.ndarray
    bottom_mm: np.ndarray
    base_mm: np.ndarray
    contour_mm: np.ndarray
    hollow_mm: np.ndarray
    stack_mm: float
    free_underside: bool
    material: np.ndarray
    material_names: tuple[str, ...]


@dataclass(frozen=True)
class Parameter:
    """One number a feature takes, with its unit, range and default; or one word of ``choices``."""

    name: str
    unit: str
    low: float
    high: float
    default: float | str
    doc: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class FeatureKind:
    """One kind of feature: its plain title, parameters, the edit, and what it needs.

    ``size`` names the parameter without which (at zero) the feature is not there. ``needs_base`` and
    ``needs_length`` name what the device must have for the feature to do anything, ``needs_model`` the
    model whose section meets it.
    """

    name: str
    title: str
    size: str
    parameters: tuple[Parameter, ...]
    apply: Callable[..., Heights]
    margin: Callable[[dict], float] = lambda parameters: 0.0
    needs_base: str | None = None
    needs_length: str | None = None
    needs_model: str | None = None


def shaped(heights: Heights, rise, rise_below) -> Heights:
    """Bend the device by ``rise``, and by ``rise_below`` underneath when the underside is free."""
    below = rise_below if heights.free_underside else 0.0
    return replace(
        heights, top_mm=heights.top_mm + rise, contour_mm=heights.contour_mm + rise,
        bottom_mm=heights.bottom_mm + below,
    )


def added(heights: Heights, rise, grounded=1.0, contour=False) -> Heights:
    """Add material of height ``rise``, standing on the ground by the share ``grounded``."""
    below = rise * (1.0 - grounded) if heights.free_underside else 0.0
    return replace(
        heights, top_mm=heights.top_mm + rise, bottom_mm=heights.bottom_mm + below,
        contour_mm=heights.contour_mm + (rise if contour else 0.0),
    )


def hollowed(heights: Heights, depth) -> Heights:
    """Take away material to ``depth`` below the top, or leave what is deeper already."""
    return replace(heights, hollow_mm=np.maximum(heights.hollow_mm, depth))


def first_ray(z, foot):
    """Share (0 to 1) of the first ray at z: 1 under its head, 0 under the second one.

    A quintic ramp centred half-way between the two heads, over 0.4 of their distance.
    """
    one, two = foot.metatarsal_head_z_mm[:2]
    return 1.0 - ramp((z - 0.5 * (one + two)) / (0.4 * (two - one)) + 0.5)
