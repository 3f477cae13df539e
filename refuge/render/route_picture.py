"""A picture of a whole flight: a map of the way and its refuges, and under it the bands over time.

One hue, dark is worse, a pattern for what is missing or not known. This module imports matplotlib, so it is itself
imported only when a picture is asked for.
"""

import textwrap
from collections.abc import Iterator
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.legend_handler import HandlerTuple
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from refuge.coast import Coast
from refuge.flight.bases import bases_along
from refuge.flight.basis import shared_of
from refuge.flight.caution import CAUTION
from refuge.flight.route import Plan
from refuge.flight.shortlist import build as shortlist_of
from refuge.flight.track import question_at
from refuge.render.dry import pitot_heat_text
from refuge.render.picture_looks import DARK, INK, LIGHT, MIDDLE, looks, written
from refuge.render.route_bands import asks, draw_bases, draw_daylight, draw_minute, draw_spare, times_of
from refuge.render.route_json import route_summary
from refuge.render.route_map import SIGNS, SIZE_PT, SMALL_PT, RouteMap, draw_map, route_map
from refuge.render.route_text import basis_lines

WIDE = 9.0
LEFT, RIGHT, ASIDE = 0.62, 0.12, 1.15
"""Margins in inches; the bands leave some room for words at their right."""
LOWEST, HIGHEST = 3.0, 4.6
"""How high a map may be, inches."""


def route_picture(plan: Plan, *, kind: str, coast: Coast, minute: int | None = None) -> bytes:
    """Return an SVG or PNG of a plan; reach and verdicts are those of one minute.

    Parameters
    ----------
    plan : Plan
        The flight.
    kind : str
        ``svg`` or ``png``.
    coast : Coast
        What the map shows of land and borders.
    minute : int, optional
        Whose reach and verdicts are drawn: the middle of the longest gap if not given, or of the flight if it has
        none.
    """
    chosen = _minute(plan) if minute is None else minute
    found = shortlist_of(question_at(plan.asked, plan.track, chosen), plan.situation)
    wide = WIDE - LEFT - RIGHT
    shown = route_map(
        plan, found, chosen=chosen, width_pt=72.0 * wide, least_pt=72.0 * LOWEST, most_pt=72.0 * HIGHEST
    )
    with looks():
        title, foot, map_high = _title(plan), _foot(plan, coast), shown.frame.height_pt / 72.0
        said = [line for each in _said(plan, shown, chosen) for line in textwrap.wrap(each, 125)]
        upper, lower = 0.14 + 0.17 * len(title) + 0.15 * len(said), 0.12 + 0.125 * len(foot)
        high = upper + map_high + 3.95 + lower
        figure = Figure(figsize=(WIDE, high))
        figure.text(LEFT / WIDE, 1.0 - 0.08 / high, "\n".join(title), fontsize=10, color=INK, va="top")
        panels = _Panels(figure, high)
        draw_map(panels.add(upper, map_high, wide), shown, coast)
        figure.text(LEFT / WIDE, 1.0 - (upper - 0.05) / high, "\n".join(said), fontsize=8, color=INK, va="bottom")
        _legend(panels.add(upper + map_high + 0.28, 0.95, wide), plan, shown, chosen)
        _bands(panels, upper + map_high + 1.4, plan, chosen)
        figure.text(LEFT / WIDE, 0.08 / high, "\n".join(foot), fontsize=6.5, color=INK, va="bottom")
        return written(figure, kind)


class _Panels:
    """Places panels on a figure, in inches from its upper edge."""

    def __init__(self, figure: Figure, high: float) -> None:
        self._figure, self._high = figure, high

    def add(self, below: float, high: float, wide: float) -> Axes:
        bottom = (self._high - below - high) / self._high
        return self._figure.add_axes((LEFT / WIDE, bottom, wide / WIDE, high / self._high))


def _minute(plan: Plan) -> int:
    gap = max(plan.gaps, key=lambda each: each.to_min - each.from_min, default=None)
    return plan.track.minutes.size // 2 if gap is None else (gap.from_min + gap.to_min) // 2


def _title(plan: Plan) -> list[str]:
    """Return the lines at the top: the flight, and what it comes to."""
    question = plan.asked.question
    way = " - ".join(point.place for point in plan.asked.waypoints)
    what = f"{way}, {plan.asked.departs:%d %b %H:%MZ}, {question.altitude_ft:,.0f} ft in {question.aircraft.id}"
    return textwrap.wrap(f"{what}: {route_summary(plan)}", 105)


def _said(plan: Plan, shown: RouteMap, chosen: int) -> Iterator[str]:
    """Yield what stands above the map: what the flight rests on, what pitot heat costs, and what the map shows."""
    yield from basis_lines(plan)
    shortened = plan.shortened
    if shortened.dry is not None:
        yield f"{pitot_heat_text(shortened, shortened.dry, alone=False)} (not\u00a0drawn)"
    since = "from here" if plan.asked.airborne else "after departure"
    text = f"Map: verdicts and reach {asks(plan)} {plan.instant(chosen):%H:%MZ}, {chosen} min {since}"
    yield text + ("; how far one gets then is not known, or nowhere" if shown.outline is None else "")


def _bands(panels: _Panels, below: float, plan: Plan, chosen: int) -> None:
    """Draw the bands one under another, from `below` inches on."""
    wide = WIDE - LEFT - ASIDE
    times = times_of(plan, 72.0 * wide)
    bases = bases_along(plan.asked, plan.track, shared_of(plan.situation, plan.asked.question.now))
    spare, base, light = (
        panels.add(below, 0.9, wide), panels.add(below + 1.12, 1.05, wide), panels.add(below + 2.2, 0.16, wide)
    )  # fmt: skip
    draw_spare(spare, plan, times)
    draw_bases(base, plan, bases, times)
    draw_daylight(light, plan, times)
    for panel in (spare, base):
        draw_minute(panel, times, chosen)


def _foot(plan: Plan, coast: Coast) -> list[str]:
    """Return the lines at the foot: how old it is, whose map, and the caution."""
    as_of = plan.situation.data_as_of
    newest = "no bulletin at all" if as_of is None else f"newest bulletin received {as_of:%d %b %Y %H:%MZ}"
    now = plan.asked.question.now
    text = f"Asked as of {now:%d %b %Y %H:%MZ}, {newest}. Map: {coast.said}; no chart."
    return [*textwrap.wrap(text, 150), *textwrap.wrap(CAUTION, 150)]


def _verdict_mark(word: str, *, small: bool = False, heavy: bool = False) -> tuple[Artist, ...]:
    shape, sign = SIGNS[word]
    size, edge = (SMALL_PT, MIDDLE) if small else (SIZE_PT, INK)
    outer = Line2D(
        [], [], linestyle="none", marker=shape, markersize=size, markerfacecolor="white", markeredgecolor=edge,
        markeredgewidth=2.2 if heavy else 1.0,
    )  # fmt: skip
    inner = Line2D([], [], linestyle="none", marker=sign, markersize=0.55 * size, color=edge, markeredgewidth=0.8)
    return (outer, inner)


def _legend(panel: Axes, plan: Plan, shown: RouteMap, chosen: int) -> None:
    """Explain every mark of the map and of the bands."""
    panel.axis("off")
    gap = (
        Line2D([], [], color=DARK, linewidth=9, solid_capstyle="butt"),
        Line2D([], [], color="white", linewidth=7, linestyle=(0, (0.25, 0.35))),
    )
    at = f"{plan.instant(chosen):%H:%MZ}"
    rows: list[tuple[Any, str]] = [
        (_verdict_mark("meets"), "meets: a refuge"),
        (_verdict_mark("misses"), "misses"),
        (_verdict_mark("unknown"), "unknown: never counts as a refuge"),
        (_verdict_mark("misses", heavy=True), "heavy: the best refuge of a stretch"),
        (_verdict_mark("misses", small=True), "pale: not known to be in reach then"),
        (Line2D([], [], color=DARK, linewidth=1.0, linestyle=(0, (4, 3))), f"in reach {asks(plan)} {at}"),
        (Line2D([], [], color=INK, marker="|", markersize=11, markeredgewidth=2, linestyle="none"),
         f"map: it turns here; bands: {at}"),
        (Line2D([], [], color=DARK, linewidth=2.5), "way with a refuge (to which)"),
        (Line2D([], [], color=DARK, linewidth=2.5, linestyle=(0, (1, 1.5))), "way in visual conditions"),
        (gap, "way without a refuge"),
        (Patch(facecolor=MIDDLE, alpha=0.6), "spare of the best refuge"),
        (Line2D([], [], color=INK, linewidth=1.4), "spare of the second; dotted: no second"),
        (Patch(facecolor=MIDDLE), "cloud: from the lowest ceiling up"),
        (Patch(facecolor=LIGHT, hatch="xxx", edgecolor=MIDDLE, linewidth=0), "ceiling not known"),
        (Patch(facecolor="white", edgecolor=MIDDLE), "no ceiling in 20 NM, proved"),
    ]  # fmt: skip
    if shown.outline is None:
        rows.pop(5)
    panel.legend(
        [mark for mark, _ in rows], [text for _, text in rows], loc="upper left", bbox_to_anchor=(0.0, 1.0),
        ncols=3, fontsize=7.5, frameon=False, borderaxespad=0.0, borderpad=0.0, handlelength=2.6, labelspacing=0.45,
        columnspacing=2.0, handler_map={tuple: HandlerTuple(ndivide=1)},
    )  # fmt: skip
