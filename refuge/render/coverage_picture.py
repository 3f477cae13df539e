"""A map of coverage: one mark an airfield, its shape and shade for the kind of evidence.

This module imports matplotlib, so it is itself imported only when a picture is asked for.
"""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from refuge.coast import Coast, Line
from refuge.flight.coverage import KINDS, Coverage
from refuge.flight.state_arrays import Floats
from refuge.render.picture_looks import DARK, INK, LIGHT, MIDDLE, SHORE, bare, looks, written

MARKS = (
    ("o", MIDDLE),
    ("o", "#7d95ad"),
    ("s", "#6a829b"),
    ("^", "#556d86"),
    ("^", "#475d75"),
    ("v", DARK),
    ("x", INK),
)
"""From the best to nothing: told apart by shape as well as by shade, and dark is worse."""
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
        figure = Figure(figsize=(11, high + 1.2), layout="constrained")
        axes = figure.subplots()
        bare(axes)
        lines = [part for line in (*coast.coasts, *coast.borders) for part in _flat(line, centre)]
        axes.add_collection(LineCollection(lines, colors=SHORE, linewidths=0.5, zorder=0.5), autolim=False)
        for k in range(len(KINDS)):
            mine = found.kind[found.usable] == k
            mark, colour = MARKS[k]
            axes.plot(
                lon[mine], lat[mine], linestyle="none", marker=mark, markersize=3.2, color=colour,
                zorder=2.0 + 0.1 * k, label=f"{KINDS[k]} ({int(mine.sum()):,})",
            )  # fmt: skip
        axes.set_xlim(west, east)
        axes.set_ylim(south, north)
        axes.set_aspect(aspect)
        _degrees(axes)
        axes.set_title(f"{region}: airfields with 2,000 ft of hard runway, by evidence, as of {now}", loc="left")
        figure.legend(loc="outside lower center", ncols=3, fontsize=8, frameon=False, markerscale=1.6)
        return written(figure, kind)


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
