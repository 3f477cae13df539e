"""A map of coverage: one mark an airfield, its shape and shade for the kind of evidence.

This module imports matplotlib, so it is itself imported only when a picture is asked for.
"""

import textwrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from refuge.coast import Coast, Line
from refuge.flight.caution import CAUTION
from refuge.flight.coverage import KINDS, Coverage
from refuge.flight.state_arrays import Floats
from refuge.render.picture_looks import DARK, INK, LIGHT, MIDDLE, SHORE, bare, looks, written

MARKS = (
    ("o", LIGHT),
    ("D", "#b3c4d5"),
    ("s", "#8fa5bb"),
    ("^", "#6f88a1"),
    ("P", "#526c86"),
    ("v", DARK),
    ("x", INK),
)
"""From the best to nothing: each has a shape of its own, and dark is worse."""
OUTLINED = 3
"""The palest are edged, or they would be lost on white."""
TITLE_IN, LEGEND_IN, FOOT_IN, FOOT_LETTERS = 0.34, 0.62, 0.42, 175
AROUND_DEG = 300.0
"""What reaches farther around than this is the world, and begins at 180 degrees west."""
ROOM_DEG = 0.5


def coverage_picture(found: Coverage, *, region: str, now: str, kind: str, coast: Coast) -> bytes:
    """Return an SVG or PNG map of the usable airfields of a region by their evidence."""
    lat = np.array([a.lat_deg for a in found.airfields], dtype=float)[found.usable]
    lon = np.array([a.lon_deg for a in found.airfields], dtype=float)[found.usable]
    centre = _centre(lon)
    lon = _about(lon, centre)
    with looks():
        middle = float(np.median(lat)) if lat.size else 0.0
        west, east, south, north = _bounds(lat, lon)
        aspect = 1.0 / max(0.2, float(np.cos(np.radians(middle))))
        high = float(np.clip(10.0 * aspect * (north - south) / (east - west), 2.0, 8.0))
        high += 0.6 + TITLE_IN + LEGEND_IN + FOOT_IN
        figure = Figure(figsize=(11, high))
        below, above = (LEGEND_IN + FOOT_IN) / high, TITLE_IN / high
        figure.set_layout_engine("constrained", rect=(0.0, below, 1.0, 1.0 - below - above))
        axes = figure.subplots()
        bare(axes)
        lines = [part for line in (*coast.coasts, *coast.borders) for part in _flat(line, centre)]
        axes.add_collection(LineCollection(lines, colors=SHORE, linewidths=0.5, zorder=0.5), autolim=False)
        for k in range(len(KINDS)):
            mine = found.kind[found.usable] == k
            mark, colour = MARKS[k]
            axes.plot(
                lon[mine], lat[mine], linestyle="none", marker=mark, markersize=3.2, color=colour,
                markeredgecolor=MIDDLE if k < OUTLINED else colour, markeredgewidth=1.0 if mark == "x" else 0.5,
                zorder=2.0 + 0.1 * k, label=f"{KINDS[k]} ({int(mine.sum()):,})",
            )  # fmt: skip
        axes.set_xlim(west, east)
        axes.set_ylim(south, north)
        axes.set_aspect(aspect)
        _degrees(axes)
        _words(figure, high, f"{region}: airfields with 2,000 ft of hard runway, by evidence, as of {now}", coast)
        return written(figure, kind)


def _words(figure: Figure, high: float, title: str, coast: Coast) -> None:
    """Write the title above the map, and below it what each mark means, whose map it is, and the caution."""
    figure.text(0.01, 1.0 - 0.1 / high, title, fontsize=11, color=INK, va="top")
    at = (0.5, FOOT_IN / high)
    figure.legend(loc="lower center", bbox_to_anchor=at, ncols=3, fontsize=8, frameon=False, markerscale=1.6)
    foot = "\n".join(textwrap.wrap(f"Map: {coast.said}; no chart. {CAUTION}", FOOT_LETTERS))
    figure.text(0.01, 0.08 / high, foot, fontsize=7.5, color=INK, va="bottom")


def _centre(lon_deg: Floats) -> float:
    """Return the meridian in the middle of them all, so that 180 degrees tears none off; 0 for the world."""
    if not lon_deg.size:
        return 0.0
    centre = float(np.degrees(np.angle(np.exp(1j * np.radians(lon_deg)).mean())))
    return 0.0 if np.ptp(_about(lon_deg, centre)) > AROUND_DEG else centre


def _about(lon_deg: Floats, centre: float) -> Floats:
    return np.asarray(centre + (lon_deg - centre + 180.0) % 360.0 - 180.0)


def _bounds(lat: Floats, lon: Floats) -> tuple[float, float, float, float]:
    if not lat.size:
        return -180.0, 180.0, -90.0, 90.0
    west, east = float(lon.min()) - ROOM_DEG, float(lon.max()) + ROOM_DEG
    if east - west > AROUND_DEG:
        west, east = -180.0, 180.0
    return west, east, max(float(lat.min()) - ROOM_DEG, -90.0), min(float(lat.max()) + ROOM_DEG, 90.0)


def _flat(line: Line, centre: float) -> list[Line]:
    """Return a line on a flat map about a meridian, cut where it leaves the map at one side."""
    flat = np.column_stack((_about(line[:, 0], centre), line[:, 1]))
    cuts = np.flatnonzero(np.abs(np.diff(flat[:, 0])) > 180.0) + 1
    return [part for part in np.split(flat, cuts) if len(part) > 1]


def _degrees(axes: Axes) -> None:
    axes.set_axisbelow(True)
    axes.grid(color=LIGHT, linewidth=0.6, zorder=0.3)
    axes.xaxis.set_major_formatter(
        lambda value, _: (
            f"{abs((value + 180.0) % 360.0 - 180.0):g} {'W' if (value + 180.0) % 360.0 < 180.0 else 'E'}"
        )
    )
    axes.yaxis.set_major_formatter(lambda value, _: f"{abs(value):g} {'S' if value < 0 else 'N'}")
