"""Colours and drawing settings of every picture, and how a figure becomes part of a page."""

from __future__ import annotations

import base64
import io
import re
import warnings
from contextlib import contextmanager

INK, QUIET, GRID = "#1f2a33", "#6b7780", "#d9dee2"
BONE, DEVICE, CABLE, TARGET, PRESSURE = "#fbfaf6", "#a9b8c2", "#17697a", "#0b3fa8", "#5b3f7a"
BONE3D, SKIN = "#e9e2d0", "#c9a58c"
"""Bones and skin in space, where light makes them paler or darker."""
SLACK_N = 0.5
"""Cables below this are drawn as slack."""

CONDITIONS = ("#3c444b", "#0f6f9c", "#b4511a", "#3b7a34", "#7d4a98", "#8a6d00", "#a02c55",
              "#30736e")
LINES = ("-", "--", "-.", ":", (0, (6, 1.5)), (0, (3, 1, 1, 1)), (0, (5, 3)), (0, (1, 1)))

_SETTINGS = {
    "font.family": "sans-serif", "font.size": 9.0, "text.color": INK, "axes.edgecolor": QUIET,
    "axes.labelcolor": INK, "xtick.color": INK, "ytick.color": INK, "axes.linewidth": 0.7,
    "text.parse_math": False, "svg.fonttype": "none", "svg.hashsalt": "fefoot", "axes.grid": False,
}


@contextmanager
def drawing():
    """Apply the settings; a sign that the font lacks is drawn as a box without a warning."""
    import matplotlib

    with matplotlib.rc_context(_SETTINGS), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*")
        yield


def condition_style(index: int) -> dict:
    """Return colour and line of a condition by its place in the case."""
    return {"color": CONDITIONS[index % len(CONDITIONS)],
            "linestyle": LINES[index % len(LINES)]}


def stress_map():
    """Return the colour map of stress: light to dark, even steps for the eye, no hue bands."""
    from matplotlib import colormaps
    from matplotlib.colors import ListedColormap

    return ListedColormap(colormaps["magma_r"]([0.02 + 0.8 * i / 255 for i in range(256)]),
                          name="stress")


def difference_map():
    """Return the colour map of a difference: blue below, brown above, pale in the middle."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list(
        "difference", ["#0a4a78", "#5b9bc4", "#f4f2ee", "#c98a4e", "#7d3a08"])


def axes_style(axes) -> None:
    """Give axes light spines and a quiet grid."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.grid(True, color=GRID, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(length=2.5, width=0.6, labelsize=8)


def png_uri(figure, dpi: int = 130) -> str:
    """Return a figure as a data URI holding a PNG; the same figure gives the same bytes."""
    stream = io.BytesIO()
    with drawing():
        figure.savefig(stream, format="png", dpi=dpi, metadata={"Software": None})
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode("ascii")


def svg_uri(figure) -> str:
    """Return a figure as a data URI holding an SVG without metadata; see `png_uri`."""
    stream = io.StringIO()
    with drawing():
        figure.savefig(stream, format="svg", metadata={"Date": None})
    text = re.sub(r"<metadata>.*?</metadata>", "", stream.getvalue(), flags=re.DOTALL)
    text = text[text.index("<svg"):]
    return "data:image/svg+xml;base64," + base64.b64encode(text.encode()).decode("ascii")
