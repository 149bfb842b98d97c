"""The picture of a scan in place: from above or below, from the medial side, from behind."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..case.values import Case
from ..device.device import FootLandmarks
from ..device.outline import outline_z_mm
from ..errors import InputError
from ..scan.measure import BALL_SHARES, HEEL_SHARE, SOLE_MM
from ..scan.values import PLACES
from .style import GRID, INK, QUIET, TARGET, axes_style, drawing

DOTS, DPI = 30000, 130
CONTOUR_MM = 2.0
LENGTH = "#9c3d08"


def scan_figure(case: Case, foot: FootLandmarks):
    """Return the picture of a case's scan in place, with the axes of the model and what was measured.

    A left scan is shown as the model sees it: mirrored, like a right one.
    """
    from matplotlib.figure import Figure

    scan = case.scan
    points = _spread(scan)
    with drawing():
        figure = Figure(figsize=(9.0, 4.6), layout="constrained")
        grid = figure.add_gridspec(2, 2, width_ratios=(1.75, 1.0))
        plan, side = figure.add_subplot(grid[0, 0]), figure.add_subplot(grid[1, 0])
        back = figure.add_subplot(grid[1, 1])
        words = figure.add_subplot(grid[0, 1])
        _plan(plan, scan, foot)
        _dots(side, points[:, 0], points[:, 1], -points[:, 2])
        _dots(back, points[:, 2], points[:, 1], -points[:, 0])
        side.invert_xaxis()
        for axes, name in ((side, "from the medial side, toes on the left"),
                           (back, "from behind, medial on the left")):
            axes.axhline(0.0, color=INK, lw=0.8)
            axes.set_title(name, fontsize=9, loc="left")
            axes.set_ylabel("height, mm")
        side.set_xlabel("from the back of the heel, mm")
        back.set_xlabel("medial (−) to lateral (+), mm")
        if scan.landmarks_mm is not None:
            x, y, z = scan.landmarks_mm.T
            for axes, a, b in ((plan, x, z), (side, x, y), (back, z, y)):
                axes.plot(a, b, "o", ms=5, mfc="white", mec=TARGET, mew=1.4)
            for name, a, b in zip(PLACES, x, z, strict=True):
                plan.annotate(name.replace("_", " "), (a, b), (5, 4), textcoords="offset points",
                              fontsize=8, color=TARGET)
        for axes in (plan, side, back):
            axes.set_aspect("equal")
            axes_style(axes)
        _legend(words, scan, case.person.side)
    return figure


def save_scan_picture(case: Case, path: str | Path) -> Path:
    """Write the picture of a case's scan as a PNG file that does not exist yet.

    Raises
    ------
    InputError
        When the case has no scan, or the file exists or cannot be written.
    """
    from ..foot.landmarks import landmarks

    path = Path(path)
    if case.scan is None:
        raise InputError("there is no scan to draw", file=case.file, key="--picture",
                         hint="add [scan] to the case, or leave --picture out")
    if path.exists() or path.suffix.lower() != ".png":
        raise InputError("the picture cannot go there", key="--picture", value=str(path),
                         allowed="a .png file that does not exist yet", hint="choose another name")
    try:
        figure = scan_figure(case, landmarks(case.person.dimensions()))
        with path.open("xb") as handle, drawing():
            figure.savefig(handle, format="png", dpi=DPI)
    except OSError as problem:
        raise InputError("the picture cannot be written", key="--picture", value=str(path),
                         hint=problem.strerror or str(problem)) from None
    return path


def _spread(scan) -> np.ndarray:
    from ..scan.pose import sampled

    return sampled(scan.facets.points_mm[scan.facets.triangles], DOTS)


def _dots(axes, a, b, near) -> None:
    order = np.argsort(near)
    axes.scatter(a[order], b[order], c=near[order], s=0.6, cmap="Greys", linewidths=0,
                 vmin=near.min() - 0.6 * np.ptp(near), vmax=near.max() + 0.3 * np.ptp(near),
                 rasterized=True)


def _plan(axes, scan, foot: FootLandmarks) -> None:
    grid, facets = scan.grid, scan.facets
    nx, nz = grid.heights_mm.shape
    x, z = grid.x0_mm + grid.step_mm * np.arange(nx), grid.z0_mm + grid.step_mm * np.arange(nz)
    low, high = facets.points_mm.min(axis=0), facets.points_mm.max(axis=0)
    points = _spread(scan)
    axes.scatter(points[:, 0], points[:, 2], s=0.6, color=GRID, linewidths=0, rasterized=True)
    along = np.linspace(low[0], high[0], 900)
    with np.errstate(invalid="ignore"):
        edges = outline_z_mm(grid.margin_mm, foot, along)
    inside = (z[None, :] >= np.interp(x, along, np.nan_to_num(edges[0]))[:, None]) & (
        z[None, :] <= np.interp(x, along, np.nan_to_num(edges[1]))[:, None])
    shown = np.where(inside, grid.heights_mm, np.nan)
    levels = np.arange(0.0, np.nanmax(shown) + CONTOUR_MM, CONTOUR_MM)
    if len(levels) > 1:
        lines = axes.contour(x, z, shown.T, levels=levels, colors=QUIET, linewidths=0.5)
        axes.clabel(lines, fmt="%g", fontsize=6)
    for edge in edges:
        axes.plot(along, edge, color=TARGET, lw=1.0, ls="--")
    heads = foot.metatarsal_head_x_mm, foot.metatarsal_head_z_mm
    axes.plot(*heads, "+", color=TARGET, ms=5, mew=0.9)
    axes.plot(foot.heel_centre_x_mm, 0.0, "+", color=TARGET, ms=8, mew=0.9)
    for start, end, name in _measured_lines(scan, points):
        axes.annotate("", start, end, arrowprops={"arrowstyle": "<->", "color": LENGTH, "lw": 0.9,
                                                  "shrinkA": 0, "shrinkB": 0})
        axes.annotate(name, (0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1])), (3, 3),
                      textcoords="offset points", fontsize=8, color=LENGTH)
    if grid.is_top:
        axes.invert_yaxis()
    seen = "top, from above; medial above" if grid.is_top else "sole, from below; medial below"
    axes.set_title(f"{seen}, toes on the right", fontsize=9, loc="left")
    axes.set_ylabel("medial (−) to\nlateral (+), mm")


def _measured_lines(scan, points):
    """Yield start, end (x, z) and words of each length that was measured."""
    if not scan.measured:
        return
    low = points[points[:, 1] < SOLE_MM]
    length = float(np.ptp(low[:, 0]))
    edge = float(low[:, 2].max()) + 7.0
    yield (low[:, 0].min(), edge), (low[:, 0].max(), edge), f"{length:.0f} mm"
    heel = low[np.abs(low[:, 0] / length - HEEL_SHARE) < 0.016]
    ball = low[(low[:, 0] / length > BALL_SHARES[0]) & (low[:, 0] / length < BALL_SHARES[1])]
    for part, x in ((heel, HEEL_SHARE * length), (ball, float(ball[:, 0].mean()))):
        yield (x, part[:, 2].min()), (x, part[:, 2].max()), f"{np.ptp(part[:, 2]):.0f} mm"


def _legend(axes, scan, side: str) -> None:
    axes.axis("off")
    lines = [f"Scan of a {scan.choice.kind}, {side} side" + (
        " (mirrored: shown like a right one)" if side == "left" else ""),
        "thin lines: height above the ground, every 2 mm"]
    if scan.measured:
        lines.append("arrows: what was measured")
    axes.text(0.0, 0.95, "\n".join(lines), va="top", fontsize=8.5, transform=axes.transAxes)
    axes.text(0.0, 0.55, "dashed: outline of a device for this person\n+ heel's centre and "
              "metatarsal heads of the model's foot" + (
                  "\no landmarks from the case file" if scan.landmarks_mm is not None else ""),
              va="top", fontsize=8.5, color=TARGET, transform=axes.transAxes)
