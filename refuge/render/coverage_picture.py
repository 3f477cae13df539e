"""A map of coverage: one mark an airfield, its shape and shade for the kind of evidence.

This module imports matplotlib, so it is itself imported only when a picture is asked for.
"""

import io

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure

from refuge.flight.coverage import KINDS, Coverage

MARKS = (("o", "#1b2836"), ("o", "#3a5068"), ("s", "#5b7590"), ("^", "#5b7590"), ("^", "#93a8bd"), ("v", "#b4b4b4"),
         ("x", "#b00020"))  # fmt: skip
"""From the best to nothing: told apart by shape as well as by shade."""


def coverage_picture(found: Coverage, *, region: str, now: str, kind: str) -> bytes:
    """Return an SVG or PNG map of the usable airfields of a region by their evidence."""
    lat = np.array([a.lat_deg for a in found.airfields], dtype=float)
    lon = np.array([a.lon_deg for a in found.airfields], dtype=float)
    if lon.size:
        # About the middle of them all, so that what lies across 180 degrees is not torn off.
        turn = np.exp(1j * np.radians(lon)).mean()
        centre = float(np.degrees(np.angle(turn)))
        lon = centre + (lon - centre + 180.0) % 360.0 - 180.0
    with mpl.rc_context({"svg.hashsalt": "refuge", "svg.fonttype": "none", "font.size": 9}):
        middle = float(np.median(lat[found.usable])) if found.usable.any() else 0.0
        figure = Figure(figsize=(11, 8), layout="constrained")
        axes = figure.subplots()
        for k in range(len(KINDS)):
            mine = found.usable & (found.kind == k)
            mark, colour = MARKS[k]
            axes.scatter(
                lon[mine], lat[mine], s=9, marker=mark, color=colour, linewidths=0.8,
                label=f"{KINDS[k]} ({int(mine.sum()):,})",
            )  # fmt: skip
        axes.set_aspect(1.0 / max(0.2, float(np.cos(np.radians(middle)))))
        axes.xaxis.set_major_formatter(lambda value, _: f"{(value + 180.0) % 360.0 - 180.0:g}")
        axes.set_title(f"{region}: airfields with 2,000 ft of hard runway, by evidence, as of {now}", loc="left")
        axes.set_xlabel("longitude, degrees")
        axes.set_ylabel("latitude, degrees")
        figure.legend(loc="outside lower center", ncols=3, fontsize=8, frameon=False)
        buffer = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if kind == "svg" else {"Software": None}
        figure.savefig(buffer, format=kind, dpi=130, metadata=metadata)
    return buffer.getvalue()
