"""The part of the page that lays a measured pressure map beside the model's."""

from __future__ import annotations

import numpy as np

from ..case.tissues import TISSUES
from ..case.values import Case
from ..device.outline import outline_z_mm
from ..outcome.measured_values import LOADED_kPa, MeasuredComparison
from ..outcome.regions import HEADS, TISSUE_OF
from .style import (
    CONDITIONS,
    GRID,
    INK,
    QUIET,
    axes_style,
    difference_map,
    drawing,
    png_uri,
    stress_map,
    svg_uri,
)
from .tables import figure, image, plain_table, text
from .wording import capital, one_line

HARDLY_ALIKE = 0.5
"""Correlation below which the page says so."""
DPI, INCHES_PER_MM, FINE_MM, FAINT_kPa = 150, 1 / 72, 0.5, 3.0
"""Of the maps: resolution and scale, spacing of what is drawn, and pressure from which it is."""


def measured_part(case: Case, found: MeasuredComparison) -> str:
    """Return maps or lines, differences, regions and how well both agree."""
    given = case.measured_pressure
    what = f"{one_line(given.choice.file)}, {found.title}, at {found.stance_percent:.3g} % of stance"
    if found.failure is not None:
        return f"<p>{text(what)}.</p><p>{text('There is no comparison: ' + found.failure)}.</p>"
    facts = "".join(f"<li>{text(fact)}</li>" for fact in given.place.facts)
    return (f"<p>{text(what)}. {text(' '.join(_agreement(found)))}</p><ul>{facts}</ul>"
            f"{_drawn(case, found)}"
            f'<div class="wide">{_table(found)}</div>'
            '<p class="key">Both on the cells of the measured map: peak: the largest cell; mean: over '
            f"the cells above {LOADED_kPa:g} kPa. A match at one instant does not validate the tissues "
            "inside.</p>")


def _agreement(found: MeasuredComparison) -> list[str]:
    lines = []
    if found.force_N is not None:
        measured, modelled = found.force_N
        lines.append(f"Force under the foot: measured {measured:.0f} N, model {modelled:.0f} N.")
    known = ("not defined" if found.correlation is None
             else f"{found.correlation:.2f}".replace("-", "−"))
    where = "along the slice" if found.force_N is None else "cell by cell"
    lines.append(f"Correlation {where} {known}; root of the mean squared difference "
                 f"{found.difference_kPa:.0f} kPa.")
    if found.correlation is not None and found.correlation < HARDLY_ALIKE:
        lines.append("They are hardly alike: check side, place, instant and condition of the map "
                     "before anything is concluded.")
    return lines


def _table(found: MeasuredComparison) -> str:
    titles = {name: TISSUES[tissue].title for name, tissue in (TISSUE_OF | HEADS).items()}
    shares = any(entry.share_percent is not None for entry in found.regions)
    head = ["region", "peak, kPa: measured", "model", "mean, kPa: measured", "model"]
    rows = []
    for entry in found.regions:
        cells = [f"{value:.0f}" for value in (*entry.peak_kPa, *entry.mean_kPa)]
        if shares:
            cells += [f"{value:.1f}" for value in entry.share_percent or ()]
        rows.append((capital(titles[entry.region]), *cells))
    if shares:
        head += ["share of the load, %: measured", "model"]
    return plain_table(rows, head, "numbers")


def _drawn(case: Case, found: MeasuredComparison) -> str:
    if found.measured_kPa.ndim == 1:
        return figure(image(svg_uri(slice_figure(case, found)),
                            "Lines of measured and modelled pressure along the slice", "chart"),
                      "Measured and modelled pressure along the slice, on steps of the map's spacing.")
    medial = "left" if case.person.side == "right" else "right"
    return figure(
        image(png_uri(maps_figure(case, found), DPI),
              "Maps of the measured pressure, the modelled one and their difference", "maps"),
        f"From above, toes up, medial side on the {medial}. Left and middle: one colour range. Right: "
        "model less measured; brown: the model presses more, blue: less. Line: outline of a device for "
        "this foot.")


def maps_figure(case: Case, found: MeasuredComparison):
    """Return a figure with three maps: measured, modelled, and the difference."""
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

    from ..foot.landmarks import landmarks

    flip = 1.0 if case.person.side == "right" else -1.0
    foot = landmarks(case.person.dimensions())
    top = max(float(np.nanmax(part)) for part in (found.measured_kPa, found.modelled_kPa)) or 1.0
    apart = found.modelled_kPa - found.measured_kPa
    larger = np.fmax(found.measured_kPa, found.modelled_kPa)
    most = max(float(np.nanmax(np.abs(apart))), 1.0)
    half, high = 0.5 * foot.forefoot_width_mm + 16.0, foot.length_mm + 12.0
    wide, tall, head, foot_room = 2 * half * INCHES_PER_MM, (high + 12.0) * INCHES_PER_MM, 0.3, 0.62
    with drawing():
        figure_ = Figure(figsize=(3 * wide + 0.6, tall + head + foot_room))
        size = figure_.get_size_inches()
        for number, (title, values, scale, limits) in enumerate((
                ("measured", found.measured_kPa, stress_map(), (0.0, top)),
                ("model", found.modelled_kPa, stress_map(), (0.0, top)),
                ("model less measured", apart, difference_map(), (-most, most)))):
            axes = figure_.add_axes(((number * (wide + 0.3)) / size[0], foot_room / size[1],
                                     wide / size[0], tall / size[1]))
            axes.set_xlim(-half, half)
            axes.set_ylim(-12.0, high)
            axes.set_axis_off()
            axes.set_title(title, fontsize=9, pad=4)
            _cells(axes, case, flip, values, scale, limits, larger if number == 2 else values)
            _outline(axes, foot, flip)
        for left, scale, limits, words in ((0.0, stress_map(), (0.0, top), "kPa"),
                                           (2 * (wide + 0.3), difference_map(), (-most, most), "kPa")):
            span = wide if left else 2 * wide + 0.3
            bar = figure_.add_axes(((left + 0.1 * span) / size[0], 0.42 / size[1], 0.8 * span / size[0],
                                    0.1 / size[1]))
            drawn = figure_.colorbar(ScalarMappable(Normalize(*limits), scale), cax=bar,
                                     orientation="horizontal")
            drawn.set_label(words, fontsize=8, labelpad=1)
            drawn.outline.set_linewidth(0.5)
            bar.tick_params(labelsize=7, length=2)
    return figure_


def _cells(axes, case: Case, flip: float, values, scale, limits, shown) -> None:
    """Draw values on the cells of a map smoothly, where ``shown`` (rows, columns) is above zero."""
    from scipy.ndimage import map_coordinates

    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    across, up = np.arange(left, right, FINE_MM), np.arange(low, high, FINE_MM)
    x, z = np.meshgrid(up, flip * across, indexing="ij")
    at = case.measured_pressure.place.cells_of(x, z)
    values, there = (map_coordinates(np.nan_to_num(part), at, order=1, cval=0.0)
                     for part in (values, shown))
    axes.imshow(np.ma.masked_where(there < FAINT_kPa, values), origin="lower", cmap=scale,
                vmin=limits[0], vmax=limits[1], extent=(left, right, low, high), aspect="auto",
                interpolation="nearest")


def _outline(axes, foot, flip) -> None:
    share = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 400))
    x = share * foot.length_mm
    with np.errstate(invalid="ignore"):
        edges = outline_z_mm(0.0, foot, x)
    for edge in edges:
        axes.plot(flip * edge, x, color=QUIET, lw=0.8)


def slice_figure(case: Case, found: MeasuredComparison):
    """Return a figure with both pressures along the slice."""
    from matplotlib.figure import Figure

    from .pictures import across_title

    along = found.z_mm if case.model == "rearfoot" else found.x_mm
    with drawing():
        figure_ = Figure(figsize=(7.2, 2.7))
        axes = figure_.add_axes((0.09, 0.18, 0.89, 0.76))
        axes.plot(along, found.measured_kPa, color=INK, lw=2.0, marker="o", ms=3, label="measured")
        axes.plot(along, found.modelled_kPa, color=CONDITIONS[2], lw=1.6, ls="--", label="model")
        axes.set_ylim(0, None)
        axes_style(axes)
        axes.grid(True, color=GRID)
        axes.set_xlabel(across_title(case.model))
        axes.set_ylabel("contact pressure, kPa")
        axes.legend(frameon=False, fontsize=8.5)
    return figure_
