"""A still picture of the whole foot in space, for paper and where the view cannot be turned.

Triangles are drawn from the farthest to the nearest, lit from above the viewer. Cables are cut into
short pieces; those behind a bone or the device are left pale. No display and no graphics card
are needed.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from ..outcome.scene import Scene
from .pictures import is_target
from .style import BONE3D, CABLE, DEVICE, SLACK_N, TARGET, drawing

TURN_DEGREES, RISE_DEGREES = 68.0, 8.0
"""Where it is seen from: 90 and 0 is straight from the medial side."""
WIDE_INCHES = 8.4
ACROSS = {1: 1, 2: 2, 3: 3, 4: 2}
"""Panels in a row by their number; three of more."""
WIDEST_POINTS, PIECE_MM, CELL_MM, NEARER_MM = 3.2, 2.5, 3.0, 4.0
"""Width of the line of the largest tension; length of the pieces of lines; cells of the picture in
which the nearest surface is known; how much nearer lines count than the bones they lie on."""
HIDDEN = 0.16


def still_figure(scenes: Sequence[tuple[str, Scene]], target: str, side: str):
    """Return a figure of the loaded foot without its skin, one panel for each condition.

    Parameters
    ----------
    scenes : sequence of (label, Scene)
    target : str
        Tissue whose cables are drawn in the colour of emphasis.
    side : {"right", "left"}
    """
    from matplotlib.figure import Figure

    flip = 1.0 if side == "left" else -1.0
    seen = [(name, scene, _seen(scene, flip)) for name, scene in scenes]
    tension = max([t for _, s in scenes for _, t in s.cables.values()], default=0.0) or 1.0
    flat = np.concatenate([part[:, :2] for _, _, parts in seen for part in parts if len(part)])
    low, high = flat.min(axis=0) - 4.0, flat.max(axis=0) + 4.0
    across = ACROSS.get(len(scenes), 3)
    wide = min(WIDE_INCHES / across, 5.2)
    rows = -(-len(scenes) // across)
    title = 0.34
    tall = wide * (high[1] - low[1]) / (high[0] - low[0])
    with drawing():
        figure = Figure(figsize=(across * wide, rows * (tall + title)))
        for number, (name, scene, parts) in enumerate(seen):
            row, column = divmod(number, across)
            axes = figure.add_axes((column / across, 1 - (row + 1) / rows, 1 / across,
                                    tall / (tall + title) / rows))
            axes.set_axis_off()
            axes.set_xlim(low[0], high[0])
            axes.set_ylim(low[1], high[1])
            axes.set_title("\n".join(textwrap.wrap(name, int(13 * wide))[:2]), fontsize=8, pad=2,
                           loc="left")
            _panel(axes, scene, parts, flip, target, tension)
    return figure


def _seen(scene: Scene, flip: float) -> tuple[np.ndarray, np.ndarray]:
    """Return bones and device as (right, up, towards the eye)."""
    return _view(scene.bones, scene, flip), _view(scene.device, scene, flip)


def _view(points, scene: Scene, flip: float) -> np.ndarray:
    turn, rise = math.radians(-flip * TURN_DEGREES), math.radians(RISE_DEGREES)
    x, y, z = (np.asarray(points, float) - [0.0, scene.ground_y_mm, 0.0]).T
    place = np.column_stack([x, flip * z, y])
    to_eye = np.array([math.cos(rise) * math.cos(turn), math.cos(rise) * math.sin(turn),
                       math.sin(rise)])
    right = np.array([-math.sin(turn), math.cos(turn), 0.0])
    return place @ np.column_stack([right, np.cross(to_eye, right), to_eye])


def _panel(axes, scene, parts, flip, target, tension) -> None:
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.colors import to_rgb

    bones, device = parts
    layers = [_lit(bones, scene.bone_triangles, to_rgb(BONE3D), 0.45, flip),
              _lit(device, scene.device_triangles, to_rgb(DEVICE), 0.35, flip)]
    corners = np.concatenate([layer[0] for layer in layers])
    colours = np.concatenate([layer[1] for layer in layers])
    order = np.argsort(corners[..., 2].mean(axis=1), kind="stable")
    axes.add_collection(PolyCollection(
        corners[order][..., :2], facecolors=colours[order], edgecolors=colours[order], linewidths=0.2,
        zorder=1))
    nearest = _nearest(corners)
    for name, (path, force) in sorted(scene.cables.items(), key=lambda item: item[1][1]):
        line = _pieces(_view(path, scene, flip))
        faint = _hidden(0.5 * (line[:-1] + line[1:]), nearest)
        slack, target_too = force < SLACK_N, is_target(name, target)
        runs = [run[:, :2] for run in np.split(line, 1 + np.flatnonzero(np.diff(faint)))]
        runs = [np.vstack([run, after[:1]]) for run, after in pairwise([*runs, line[-1:, :2]])]
        shades = [HIDDEN if hidden else 1.0 for hidden in faint[np.flatnonzero(
            np.diff(faint, prepend=not faint[0]))]]
        axes.add_collection(LineCollection(
            runs, colors=[(*to_rgb(TARGET if target_too else CABLE), shade) for shade in shades],
            linewidths=0.6 if slack else 0.6 + WIDEST_POINTS * force / tension,
            linestyles=[(0, (2, 2))] if slack else "solid", zorder=3 if target_too else 2))


def _pieces(line: np.ndarray) -> np.ndarray:
    """Return a polyline (k, 3) with further points, `PIECE_MM` apart at most."""
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.union1d(arc, np.linspace(0.0, arc[-1], 2 + int(arc[-1] / PIECE_MM)))
    return np.column_stack([np.interp(at, arc, part) for part in line.T])


def _nearest(corners: np.ndarray) -> dict[tuple[int, int], float]:
    """Return how near to the eye the surfaces come in each cell of the picture."""
    flat = np.concatenate([corners.reshape(-1, 3), corners.mean(axis=1)])
    found: dict[tuple[int, int], float] = {}
    for cell, depth in zip(np.floor(flat[:, :2] / CELL_MM).astype(int).tolist(), flat[:, 2].tolist(),
                           strict=True):
        key = tuple(cell)
        found[key] = max(depth, found.get(key, -math.inf))
    return found


def _hidden(points: np.ndarray, nearest) -> np.ndarray:
    cells = np.floor(points[:, :2] / CELL_MM).astype(int).tolist()
    return np.array([nearest.get(tuple(cell), -math.inf) > depth + NEARER_MM
                     for cell, depth in zip(cells, points[:, 2].tolist(), strict=True)])


def _lit(points, triangles, colour, shade: float, flip: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the corners (k, 3, 3) of the triangles that face the eye, and their colours (k, 3)."""
    corners = points[triangles] if len(triangles) else np.zeros((0, 3, 3))
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal *= (-flip) / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    light = np.array([-0.35, 0.6, 0.72])
    bright = 1.0 - shade * (1.0 - np.clip(normal @ light, 0.0, 1.0))
    facing = normal[:, 2] > 0
    colours = np.broadcast_to(np.asarray(colour, float), (len(corners), 3)) * bright[:, None]
    return corners[facing], np.clip(colours[facing], 0.0, 1.0)
