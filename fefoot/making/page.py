"""The build sheet: one printable page that a workshop can make the device from."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources

import numpy as np

from .. import __version__
from ..case.values import Case
from ..device.device import Device, FootLandmarks
from ..device.sheet import height_rows, hollow_rows, outline_rows
from ..report.answer import CAUTIONS
from ..report.style import svg_uri
from ..report.tables import figure, image, plain_table, text
from ..report.wording import capital
from .drawings import LAYERS, cuts, plan_figure, section_figure
from .trade import AXES, feature_rows, person_rows, shape_rows

TALLEST_PLAN_MM, LOWEST_PLAN_MM, LINE_MM = 165.0, 80.0, 4.6
"""Height of the plan on the page: less where many lines of layers and features stand below it."""

FIT = ("All heights are of the unloaded device. Whoever fits it checks edges, pressure and footwear on "
       "the person before it is walked on.")


def build_page(case: Case, device: Device, foot: FootLandmarks, volumes_mm3: Sequence[float],
               files: Sequence[str], notes: Sequence[str] = ()) -> str:
    """Return the build sheet of one device as one HTML document without any outside resource.

    Parameters
    ----------
    case : Case
    device : Device
    foot : FootLandmarks
    volumes_mm3 : sequence of float
        Volume of each layer from the skin down, mm3.
    files : sequence of str
        Names of the STL files: the whole device, then each layer.
    notes : sequence of str
        Where the person's dimensions come from, when not from the case file alone.
    """
    side = case.person.side
    sections = "".join(
        figure(image(svg_uri(section_figure(cut, side)), f"Section {cut.letter}, {cut.title}"),
               f"<b>{cut.letter}</b> {text(cut.title)}", "cut") for cut in cuts(device, foot))
    seen = "medial side on the left" if side == "right" else "medial side on the right"
    lines = len(feature_rows(device)) + len(device.layers)
    tall_mm = float(np.clip(TALLEST_PLAN_MM + 20.0 - LINE_MM * lines, LOWEST_PLAN_MM, TALLEST_PLAN_MM))
    plan = figure(
        image(svg_uri(plan_figure(device, foot, side, tall_mm)), "Plan of the device, dimensioned"),
        f"Plan from above, toes up, {seen}. Thin lines: height of the top above the ground, every "
        "2 mm. Circles: metatarsal heads; dashed: their line; cross: heel's centre.", "plan")
    rows = outline_rows(device, foot) + height_rows(device, foot) + hollow_rows(device, foot)
    css = resources.files(__package__).joinpath("sheet.css").read_text(encoding="utf-8")
    policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
    title = device.title or device.name
    body = [
        f'<header><p class="kind">Build sheet</p><h1>{text(capital(title))}</h1>'
        f'<p class="facts">{text(device.name)} · for the case “{text(case.title)}”</p>'
        f'<p class="side">{text(side)} foot</p></header>',
        f'<div class="columns"><div>{plan}', "<h2>Layers, from the skin down</h2>",
        _layers(case, device, volumes_mm3), "<h2>Features</h2>", _features(device), "</div><div>",
        "<h2>Sections</h2>", sections,
        '<p class="small">Numbers above: thickness, mm; grey below: free height over the ground. '
        "Sections across are seen from behind.</p>", "<h2>Dimensions</h2>",
        plain_table([(label, f"{value:.1f} {unit}") for label, value, unit in rows], (), "pairs"),
        "<h2>Shape and person</h2>",
        plain_table([*shape_rows(device), *person_rows(case)], (), "pairs"),
        "".join(f'<p class="small">{text(note)}</p>' for note in notes), "</div></div>",
        _files(files),
        '<section class="cautions"><h2>Read with caution</h2><ul>'
        + "".join(f"<li>{text(line)}</li>" for line in (*CAUTIONS, FIT)) + "</ul></section>",
    ]
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        f"<title>Build sheet: {text(title)}</title>\n<style>\n{css}</style>\n</head>\n<body>\n"
        "<main>\n" + "\n".join(body) + "\n</main>\n</body>\n</html>\n")


def _layers(case: Case, device: Device, volumes_mm3) -> str:
    lines = []
    for number, (layer, volume) in enumerate(zip(device.layers, volumes_mm3, strict=True)):
        last = number == len(device.layers) - 1
        thick = f"{layer.thickness_mm:g} mm" + (
            " and what the features add" if last and device.features else "")
        title = case.material(layer.material).title or layer.material
        lines.append(
            f'<tr><td><span class="swatch" style="background:{LAYERS[number % len(LAYERS)]}"></span>'
            f"{number + 1}</td><td>{text(title)}</td><td>{text(thick)}</td>"
            f'<td class="number">{text(f"{1e-3 * volume:.0f} cm³")}</td></tr>')
    return ('<table><thead><tr><th></th><th>material</th><th>thickness</th><th>volume</th></tr>'
            f"</thead><tbody>{''.join(lines)}</tbody></table>")


def _features(device: Device) -> str:
    rows = feature_rows(device)
    if not rows:
        return "<p>None.</p>"
    lines = []
    for name, value, doc in rows:
        first = ' class="first"' if name else ""
        lines.append(f"<tr{first}><th>{text(name)}</th><td>{text(value)}</td>"
                     f"<td>{text(doc)}</td></tr>")
    return f'<table class="features">{"".join(lines)}</table>'


def _files(files: Sequence[str]) -> str:
    layers = f"; one layer each: {', '.join(files[1:])}" if len(files) > 1 else ""
    words = (f"Whole device: {files[0]}{layers}. {AXES} Each STL was checked to be watertight, outward "
             f"and without degenerate triangles. fefoot {__version__}.")
    return f'<p class="small"><b>Files.</b> {text(words)}</p>'
