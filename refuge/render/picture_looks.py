"""What the pictures share: one hue from light to dark, dark is worse; how they are written."""

import io
from contextlib import AbstractContextManager
from functools import cache

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath

LIGHT, MIDDLE, DARK, INK = "#d9e2ec", "#93a8bd", "#3a5068", "#1b2836"
LAND, SHORE = "#f0efeb", "#8d9096"
PAPER = {"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}


def looks() -> AbstractContextManager[None]:
    """Return the settings under which pictures are drawn: SVG text stays text, and nothing differs by chance."""
    return mpl.rc_context(
        {"svg.hashsalt": "refuge", "svg.fonttype": "none", "font.size": 9, "hatch.linewidth": 0.6}
    )


def written(figure: Figure, kind: str) -> bytes:
    """Return a figure as SVG or PNG, the same bytes for the same figure."""
    buffer = io.BytesIO()
    metadata = {"Date": None, "Creator": None} if kind == "svg" else {"Software": None}
    figure.savefig(buffer, format=kind, dpi=150, metadata=metadata)
    return buffer.getvalue()


def bare(panel: Axes) -> None:
    """Take off a panel's frame and tick marks."""
    panel.tick_params(length=0, colors=INK, labelsize=8)
    for side in panel.spines.values():
        side.set_visible(False)


@cache
def _measure() -> TextToPath:
    return TextToPath()


def text_width_pt(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a text is in points."""
    font = FontProperties(size=size, weight="bold" if bold else "normal")
    width, _, _ = _measure().get_text_width_height_descent(text, font, ismath=False)
    return float(width)
