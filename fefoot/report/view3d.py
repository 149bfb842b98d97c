"""The view of the whole foot that can be turned: its data, controls and scripts for the page."""

from __future__ import annotations

import base64
import gzip
import importlib.util
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path

import numpy as np

from ..case.values import Case
from ..outcome.scene import Scene, cut_above, parted
from ..outcome.values import Comparison
from .pictures import is_target, shared_limits
from .still3d import still_figure
from .style import BONE3D, CABLE, DEVICE, INK, SKIN, SLACK_N, TARGET, png_uri, stress_map
from .tables import figure, image, text
from .wording import capital, labels, tissue_title, value_text

STEP_MM, STEP_kPa = 0.02, 0.1
"""To what places and pressures are rounded in the page."""
LOOKS = (("from the medial side, slightly from below", 64.0, -12.0, 1.5),
         ("medial side", 90.0, 0.0, 1.5), ("lateral side", -90.0, 0.0, 1.5),
         ("from below", 90.0, -88.0, 1.5), ("from above", 90.0, 88.0, 1.5),
         ("from the front", 0.0, 8.0, 2.0), ("from behind", 180.0, 8.0, 2.0))
"""Words, turn and rise of the eye in degrees, distance; the first is the one the page opens with."""
TURNS = (("ArrowLeft", "◀", "turn left"), ("ArrowRight", "▶", "turn right"),
         ("ArrowUp", "▲", "from higher"), ("ArrowDown", "▼", "from lower"),
         ("+", "+", "nearer"), ("-", "−", "farther"))
PARTS = (("skin", "skin"), ("sole", "pressure on the sole"), ("bones", "bones"),
         ("cables", "tendons and ligaments"), ("device", "device"))
STILL_DPI, ABOVE_MM, FAINT_SHARE, LOWERED_MM = 110, 12.0, 0.03, 0.6
"""Cables end this far above the skin; pressures below this share of the range are left as skin;
the device is drawn a little lower, so that the sole that touches it does not flicker through."""


@dataclass(frozen=True)
class View:
    """A part of the page, the scripts that its policy must allow, and what stands before the end."""

    html: str
    scripts: tuple[str, ...] = ()
    data: str = ""


def view(case: Case, shown: Comparison) -> View | None:
    """Return the view of a comparison of the whole foot; None where nothing was kept to show.

    Without the plotting library, or its JavaScript, the view is a still picture that says so.
    """
    names = labels(shown.outcomes)
    there = [(name, o) for name, o in zip(names, shown.outcomes, strict=True)
             if o.failure is None and o.picture is not None and o.picture.scene is not None]
    if not there:
        return None
    still = figure(
        image(png_uri(still_figure([(n, clipped(o.picture.scene)) for n, o in there], case.target,
                                   case.person.side), STILL_DPI),
              "Bones, tendons and ligaments, and device, seen from the medial side"),
        "The loaded foot without soft tissue, from the medial side. Lines: tendons and ligaments, "
        "thicker with more tension, one line width per newton, dotted where slack; strong blue: the "
        "target.",
        "still")
    script = library()
    if script is None:
        note = ("<p class=\"note\">The view that can be turned is missing: the Python package plotly, "
                "or its JavaScript, was not found when this page was built. A still picture stands in "
                "its place.</p>")
        return View(note + still)
    own = resources.files(__package__).joinpath("view3d.js").read_text(encoding="utf-8")
    packed = base64.b64encode(gzip.compress(script.encode(), 9, mtime=0)).decode()
    limit = shared_limits(shown.outcomes).stress_kPa
    values = json.dumps(_values(case, there, limit), separators=(",", ":")).replace("<", "\\u003c")
    data = (f'<script type="text/plain" id="view-library">{packed}</script>\n'
            f'<script type="application/json" id="view-data">{values}</script>\n'
            f"<script>{own}</script>")
    return View(_controls(there) + still, (own, script), data)


def library() -> str | None:
    """Return the JavaScript that draws in space, from the installed package; None without it."""
    found = importlib.util.find_spec("plotly")
    for place in (found.submodule_search_locations or ()) if found else ():
        path = Path(place) / "package_data" / "plotly.min.js"
        if path.is_file():
            return path.read_text(encoding="utf-8").replace("\r\n", "\n")
    return None


def _controls(there) -> str:
    several = "" if len(there) == 1 else _several(there)
    boxes = "".join(
        f'<label><input type="checkbox" id="view-{name}" checked> {words}</label>'
        for name, words in PARTS)
    looks = "".join(f'<button type="button" data-look="{number}">{text(words)}</button>'
                    for number, (words, *_) in enumerate(LOOKS) if number)
    turns = "".join(f'<button type="button" data-key="{key}" aria-label="{words}">{sign}</button>'
                    for key, sign, words in TURNS)
    return (
        f'<div class="controls">{several}<fieldset><legend>Show</legend>{boxes}</fieldset>'
        f'<div class="looks" role="group" aria-label="look at it">{looks}{turns}</div></div>'
        '<div id="view-stage" tabindex="0" role="application" aria-label="The loaded foot in space">'
        '</div><p id="view-status" role="status"></p>'
        '<p class="key screen">Drag, or use the arrow keys and + and −, to turn it. Lines: tendons and '
        "ligaments, thicker with more tension, dotted where slack; strong blue: the target.</p>")


def _several(there) -> str:
    dots = "".join(
        f'<label><input type="radio" name="view-condition" value="{number}"'
        f'{" checked" * (number == 0)}> {text(name)}</label>' for number, (name, _) in enumerate(there))
    return f"<fieldset><legend>Condition</legend>{dots}</fieldset>"


def _values(case: Case, there: Sequence, limit_kPa: float) -> dict:
    """Return what the script draws, pressures coloured up to a limit; equal arrays are written once."""
    scenes = [clipped(outcome.picture.scene) for _, outcome in there]
    flip = 1.0 if case.person.side == "left" else -1.0
    known: dict[tuple[str, bytes], int] = {}

    def array(values, kind) -> int:
        raw = np.ascontiguousarray(values).astype("<" + kind).tobytes()
        return known.setdefault((kind, raw), len(known))

    def place(points, scene: Scene) -> np.ndarray:
        x, y, z = (points - [0.0, scene.ground_y_mm, 0.0]).T
        return np.column_stack([x, flip * z, y])

    def points(values, scene: Scene) -> int:
        limits = np.iinfo(np.int16)
        return array(np.clip(np.rint(place(values, scene) / STEP_MM), limits.min, limits.max), "i2")

    def corners(triangles) -> int:
        turned = triangles if flip < 0 else triangles[:, ::-1]
        return array(turned, "u2" if triangles.max(initial=0) < 2**16 else "u4")

    conditions = []
    for (name, _), scene in zip(there, scenes, strict=True):
        pressed, free, ends, share = parted(
            scene.sole_triangles, scene.pressure_kPa.astype(float), FAINT_SHARE * limit_kPa)
        skin, kPa = (np.concatenate([part, part[ends[:, 0]] + (
            share[:, None] if part.ndim > 1 else share) * (part[ends[:, 1]] - part[ends[:, 0]])])
            for part in (scene.skin.astype(float), scene.pressure_kPa.astype(float)))
        tight = np.clip(np.rint(kPa / STEP_kPa), 0, 2**16 - 1)
        device = len(scene.device) > 0
        conditions.append({
            "words": _words(name, scene, case.target), "skin": points(skin, scene),
            "sole_triangles": corners(pressed),
            "upper_triangles": corners(np.concatenate([free, scene.upper_triangles])),
            "pressure": array(tight, "u2"),
            "bones": points(scene.bones, scene), "bone_triangles": corners(scene.bone_triangles),
            "device": points(scene.device - [0.0, LOWERED_MM, 0.0], scene) if device else None,
            "device_triangles": corners(scene.device_triangles) if device else None,
            "cables": [_cable(cable, place(path, scene), tension, case.target)
                       for cable, (path, tension) in scene.cables.items()]})
    everything = np.concatenate([place(p, s) for s in scenes for p in (
        s.skin, s.device, *(path for path, _ in s.cables.values())) if len(p)])
    box = np.column_stack([everything.min(axis=0) - 4.0, everything.max(axis=0) + 4.0])
    scale = stress_map()
    return {
        "step_mm": STEP_MM, "step_kPa": STEP_kPa, "slack_N": SLACK_N,
        "box": [[round(float(v), 1) for v in side] for side in box],
        "pressure_kPa": limit_kPa,
        "tension_N": max([t for s in scenes for _, t in s.cables.values()], default=0.0) or 1.0,
        "looks": [{"turn": -flip * turn, "rise": rise, "far": far} for _, turn, rise, far in LOOKS],
        "colours": {"bone": BONE3D, "device": DEVICE, "skin": SKIN, "cable": CABLE, "target": TARGET,
                    "ink": INK, "scale": [[i / 16, _hex(scale(i / 16))] for i in range(17)]},
        "bar_words": f"contact pressure on the sole, kPa; darkest: {limit_kPa:.0f} or more",
        "stage_words": "The loaded foot in space; arrow keys turn it.",
        "failed_words": "This browser does not show the view that can be turned; a still picture "
                        "stands in its place",
        "conditions": conditions,
        "arrays": [[kind, base64.b64encode(raw).decode()] for kind, raw in known],
    }


def clipped(scene: Scene) -> Scene:
    """Return a scene whose cables end a little above the skin."""
    top = float(scene.skin[:, 1].max()) + ABOVE_MM
    return replace(scene, cables={name: (cut_above(path, top), tension)
                                  for name, (path, tension) in scene.cables.items()})


def _words(name: str, scene: Scene, target: str) -> str:
    tension = sum(t for cable, (_, t) in scene.cables.items() if is_target(cable, target))
    peak = float(scene.pressure_kPa.max(initial=0.0))
    words = (f"{capital(name)}: largest pressure on the sole "
             f"{value_text(peak, 'peak_pressure_kPa', True)}")
    return words + (f", tension in the {tissue_title(target)} {value_text(tension, 'tension_N', True)}."
                    if tension else ".")


def _cable(name: str, path: np.ndarray, tension: float, target: str) -> dict:
    x, y, z = (np.round(path.T, 1)).tolist()
    return {"title": capital(tissue_title(name)), "x": x, "y": y, "z": z,
            "tension_N": round(float(tension), 1), "target": is_target(name, target)}


def _hex(colour) -> str:
    return "#" + "".join(f"{round(255 * part):02x}" for part in colour[:3])
