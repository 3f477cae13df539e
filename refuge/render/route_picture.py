"""A picture of a whole flight: the way with its refuges, and under it the band of spare over time.

One hue, dark is worse, and a pattern for what is missing. No coast and no borders: the map is a grid of degrees.
This module imports matplotlib, so it is itself imported only when a picture is asked for.
"""

import io
import textwrap
from datetime import UTC, datetime
from itertools import pairwise

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from refuge.earth import along
from refuge.flight.arrival import plan_budget_min
from refuge.flight.reach import reach
from refuge.flight.route import SPARE_COUNTS_MIN, Plan, Stretch
from refuge.flight.shortlist import Shortlist
from refuge.flight.shortlist import build as shortlist_of
from refuge.flight.state_arrays import Floats
from refuge.flight.track import question_at
from refuge.render.route_json import route_summary
from refuge.sun import is_day

LIGHT, MIDDLE, DARK, INK = "#d9e2ec", "#93a8bd", "#3a5068", "#1b2836"
SIGNS = {"meets": ("s", "$\\checkmark$"), "misses": ("s", "x"), "unknown": ("D", "$?$")}
PAPER = {"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}
MOST_NAMES = 30
LEAST_NAMED_MIN = 8
"""A shorter gap has no room for words beside other marks; the band below shows it."""


def route_picture(plan: Plan, *, kind: str, minute: int | None = None) -> bytes:
    """Return an SVG or PNG of a plan; reach and verdicts are those of one minute.

    Parameters
    ----------
    plan : Plan
        The flight.
    kind : str
        ``svg`` or ``png``.
    minute : int, optional
        Whose reach is drawn: the middle of the longest gap if not given, or of the flight if it has none.
    """
    chosen = _minute(plan) if minute is None else minute
    with mpl.rc_context({"svg.hashsalt": "refuge", "svg.fonttype": "none", "font.size": 9, "hatch.linewidth": 0.6}):
        figure = Figure(figsize=(9, 7.5), layout="constrained")
        above, below = figure.subplots(2, 1, height_ratios=[5, 2])
        _map(above, plan, chosen)
        _band(below, plan)
        figure.suptitle(_title(plan), x=0.01, ha="left", fontsize=10, color=INK)
        buffer = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if kind == "svg" else {"Software": None}
        figure.savefig(buffer, format=kind, dpi=150, metadata=metadata)
    return buffer.getvalue()


def _title(plan: Plan) -> str:
    way = " - ".join(point.place for point in plan.asked.waypoints)
    return textwrap.fill(f"{way}, {plan.asked.departs:%d %b %H:%MZ}: {route_summary(plan)}", 100)


def _minute(plan: Plan) -> int:
    gap = max(plan.gaps, key=lambda each: each.to_min - each.from_min, default=None)
    return plan.track.minutes.size // 2 if gap is None else (gap.from_min + gap.to_min) // 2


def _map(panel: Axes, plan: Plan, chosen: int) -> None:
    centre = float(plan.lon_deg[plan.lon_deg.size // 2])
    found = shortlist_of(question_at(plan.asked, plan.track, chosen), plan.situation)
    outline = _outline(found)
    if outline is not None:
        panel.plot(
            _beside(outline[1], centre), outline[0], color=MIDDLE, linewidth=1.0, linestyle=(0, (4, 3)), zorder=1
        )
    for stretch in plan.stretches:
        _stretch(panel, plan, stretch, centre)
    at = found.basis.question.at
    panel.plot(
        _beside(np.array([at.lon_deg]), centre), [at.lat_deg], marker="|", markersize=14, color=INK, zorder=5
    )
    lats, lons = _fields(panel, plan, found, centre)
    around = np.concatenate([plan.lat_deg, lats, [] if outline is None else outline[0]])
    across = np.concatenate(
        [_beside(plan.lon_deg, centre), lons, [] if outline is None else _beside(outline[1], centre)]
    )
    stretch_deg = 1.0 / max(np.cos(np.radians(float(plan.lat_deg.mean()))), 0.05)
    panel.set_aspect(stretch_deg, adjustable="box")
    panel.set_xlim(across.min() - 0.2, across.max() + 0.2)
    panel.set_ylim(around.min() - 0.2, around.max() + 0.2)
    panel.grid(color=LIGHT, linewidth=0.6)
    panel.tick_params(length=0, colors=INK, labelsize=8)
    panel.xaxis.set_major_formatter(
        lambda value, _: f"{abs(_wrapped(value)):g} {'W' if _wrapped(value) < 0 else 'E'}"
    )
    panel.yaxis.set_major_formatter(lambda value, _: f"{abs(value):g} {'S' if value < 0 else 'N'}")
    for side in panel.spines.values():
        side.set_visible(False)
    text = f"dashed: in reach, and verdicts, if it fails {plan.instant(chosen):%H:%MZ} (turn at the bar)"
    panel.set_title(text, loc="left", fontsize=8, color=INK)


def _wrapped(lon_deg: float) -> float:
    return (lon_deg + 180.0) % 360.0 - 180.0


def _beside(lon_deg: Floats, centre: float) -> Floats:
    return np.asarray((np.asarray(lon_deg) - centre + 180.0) % 360.0 - 180.0 + centre)


def _stretch(panel: Axes, plan: Plan, stretch: Stretch, centre: float) -> None:
    """Draw a part of the way: full where there is a refuge, dotted in sight, barred where there is none."""
    ends = np.minimum(np.arange(stretch.from_min, stretch.to_min + 1, dtype=float), plan.track.total_min)
    lat, lon = plan.track.at(ends)
    east = _beside(lon, centre)
    if stretch.state == "refuge":
        panel.plot(east, lat, color=DARK, linewidth=2.5, zorder=3, solid_capstyle="butt")
    elif stretch.state == "visual":
        panel.plot(east, lat, color=DARK, linewidth=2.5, linestyle=(0, (1, 1.5)), zorder=3)
    else:
        panel.plot(east, lat, color=DARK, linewidth=9, zorder=2, solid_capstyle="butt")
        panel.plot(east, lat, color="white", linewidth=7, linestyle=(0, (0.25, 0.35)), zorder=3)
        if stretch.to_min - stretch.from_min < LEAST_NAMED_MIN:
            return
        middle = len(east) // 2
        label = f"no refuge, {stretch.to_min - stretch.from_min} min"
        panel.annotate(
            label, (east[middle], lat[middle]), xytext=(0, -16), textcoords="offset points", ha="center",
            fontsize=8, color=INK, bbox=PAPER, zorder=6,
        )  # fmt: skip


def _outline(found: Shortlist) -> tuple[Floats, Floats] | None:
    """Return the outline of what can be reached in the budget; ``None`` where nobody knows the budget."""
    question, basis = found.basis.question, found.basis
    budget = plan_budget_min(question.endurance, question.margin_min)
    if budget is None or not basis.arrival.descent_min.size:
        return None
    left = budget - float(basis.arrival.descent_min.min())
    bearings, miles = np.arange(0.0, 361.0, 5.0), np.arange(0.0, 300.0, 1.0)
    lat, lon = along(question.at, np.repeat(bearings, miles.size), np.tile(miles, bearings.size))
    way = reach(question.at, lat, lon, tas_kt=question.aircraft.cruise_tas_kt, winds=basis.winds.fields)
    inside = (way.latest_min.reshape(bearings.size, -1) <= left).cumprod(axis=1).sum(axis=1)
    return along(question.at, bearings, miles[np.maximum(inside - 1, 0)])


def _fields(panel: Axes, plan: Plan, found: Shortlist, centre: float) -> tuple[Floats, Floats]:
    """Draw airfields by verdict: ticked square, question in a diamond, crossed square; return where they are."""
    ever = {chance.field for chance in plan.chances}
    within = found.basis.arrival.break_out_min <= (found.basis.arrival.budget_min or 0.0)
    lats, lons = [], []
    named = 0
    for index, field in enumerate(plan.situation.airfields):
        if index not in ever and not within[index]:
            continue
        lat, lon = field.lat_deg, float(_beside(np.array([field.lon_deg]), centre)[0])
        lats.append(lat)
        lons.append(lon)
        shape, sign = {"meets": ("s", "$\\checkmark$"), "misses": ("s", "x"), "unknown": ("D", "$?$")}[
            found.word(index)
        ]
        panel.plot([lon], [lat], marker=shape, markersize=9, markerfacecolor="white", markeredgecolor=INK, zorder=4)
        panel.plot([lon], [lat], marker=sign, markersize=5, color=INK, markeredgewidth=0.8, zorder=5)
        if named < MOST_NAMES:
            named += 1
            panel.annotate(
                field.id, (lon, lat), xytext=(7, 5), textcoords="offset points", fontsize=8, color=INK, zorder=6,
                bbox=PAPER,
            )  # fmt: skip
    return np.array(lats), np.array(lons)


def _band(panel: Axes, plan: Plan) -> None:
    """Draw spare over time: the best refuge as a surface, the second as a line, gaps dark and hatched."""
    minutes = plan.track.minutes
    times = np.array([plan.instant(m).timestamp() / 60.0 for m in (*minutes.tolist(), int(minutes[-1]) + 1)])
    spare = [
        np.array([float(plan.meeting.spare_min[p[k]]) if len(p) > k else 0.0 for p in plan.ranked]) for k in (0, 1)
    ]
    top = max(float(np.minimum(spare[0], 60.0).max(initial=0.0)), SPARE_COUNTS_MIN) * 1.15
    panel.stairs(np.minimum(spare[0], top), times, fill=True, color=LIGHT, label="spare of the best refuge")
    panel.stairs(np.minimum(spare[1], top), times, color=DARK, linewidth=1.2, label="of the second")
    for stretch in plan.stretches:
        if stretch.state != "refuge":
            face, pattern = (DARK, "////") if stretch.state == "gap" else ("white", "....")
            panel.axvspan(
                times[stretch.from_min], times[stretch.to_min], facecolor=face, hatch=pattern, edgecolor=MIDDLE,
                linewidth=0, label={"gap": "no refuge", "visual": "in visual conditions"}[stretch.state],
            )  # fmt: skip
    _night(panel, plan, times, top)
    panel.axhline(SPARE_COUNTS_MIN, color=MIDDLE, linewidth=0.8, linestyle=(0, (4, 3)))
    panel.set_ylim(0, top)
    panel.set_xlim(times[0], times[-1])
    every = 15.0 if times[-1] - times[0] <= 240.0 else 60.0
    ticks = np.arange(np.ceil(times[0] / every) * every, times[-1] + 0.5, every)
    panel.set_xticks(ticks, [f"{datetime.fromtimestamp(60.0 * tick, tz=UTC):%H:%MZ}" for tick in ticks.tolist()])
    panel.set_ylabel("minutes to spare", fontsize=8, color=INK)
    panel.tick_params(length=0, colors=INK, labelsize=8)
    for side in ("top", "right", "left", "bottom"):
        panel.spines[side].set_visible(False)
    handles, labels = panel.get_legend_handles_labels()
    once = dict(zip(labels, handles, strict=True))
    panel.legend(
        once.values(), once.keys(), loc="lower left", bbox_to_anchor=(0, 1.0), ncols=4, fontsize=8, frameon=False
    )


def _night(panel: Axes, plan: Plan, times: Floats, top: float) -> None:
    """Draw day and night as a strip along the top, in letters."""
    seconds = np.array([plan.instant(m).timestamp() for m in plan.track.minutes.tolist()])
    dark = ~np.asarray(is_day(plan.lat_deg, plan.lon_deg, seconds, seconds + 60.0), dtype=bool)
    edges = [0, *(np.flatnonzero(np.diff(dark.astype(int))) + 1).tolist(), dark.size]
    for begin, end in pairwise(edges):
        night = bool(dark[begin])
        panel.axvspan(
            times[begin], times[end], ymin=0.93, facecolor=DARK if night else "white", edgecolor=MIDDLE, zorder=4
        )
        panel.text(
            (times[begin] + times[end]) / 2.0, 0.965 * top, "night" if night else "day", ha="center", va="center",
            fontsize=7, color="white" if night else INK, zorder=5,
        )  # fmt: skip
