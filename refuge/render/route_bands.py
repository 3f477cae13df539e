"""The bands under the map of a flight, on one axis of time: spare, the base over the way, and daylight."""

from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes

from refuge.flight.bases import Bases
from refuge.flight.route import SPARE_COUNTS_MIN, Plan
from refuge.flight.state_arrays import Floats
from refuge.render.picture_looks import DARK, INK, LIGHT, MIDDLE, PAPER, bare, text_width_pt

SMALL = 7.0
TICKS_MIN = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 180.0)
MOST_TICKS = 10
ROOM_FT = 2000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """The axis of time: the edges of the minutes of a flight, in minutes since the epoch; its width in points."""

    edges: Floats
    width_pt: float

    def fits(self, text: str, begin: int, end: int) -> bool:
        """Return whether a text has room between two minutes of the flight."""
        share = (self.edges[end] - self.edges[begin]) / (self.edges[-1] - self.edges[0])
        return bool(text_width_pt(text, SMALL) + 6.0 <= share * self.width_pt)

    def middle(self, begin: int, end: int) -> float:
        """Return the middle between two minutes of the flight."""
        return float(self.edges[begin] + self.edges[end]) / 2.0


def asks(plan: Plan) -> str:
    """Return what each minute of a flight asks: a failure, or the turn after one that is there already."""
    return "if it fails" if plan.asked.since_failure_min is None else "on turning"


def times_of(plan: Plan, width_pt: float) -> Times:
    """Return the axis of time of a plan."""
    start = plan.asked.departs.timestamp() / 60.0
    return Times(edges=start + np.arange(plan.track.minutes.size + 1, dtype=float), width_pt=width_pt)


def draw_spare(panel: Axes, plan: Plan, times: Times) -> None:
    """Draw the spare of the best refuge as a surface, of the second as a line, and where there is none."""
    best, second = (_spare(plan, k) for k in (0, 1))
    top = max(float(np.nanmax(np.append(best, 0.0))), SPARE_COUNTS_MIN) * 1.1 + 9.0
    panel.set_ylim(0, top)
    _on_time(panel, times)
    panel.stairs(np.nan_to_num(best), times.edges, fill=True, color=MIDDLE, alpha=0.6)
    panel.stairs(second, times.edges, baseline=None, color=INK, linewidth=1.4)
    alone = np.where(~np.isnan(best) & np.isnan(second), 0.025 * top, np.nan)
    panel.stairs(alone, times.edges, baseline=None, color=INK, linewidth=2.2, linestyle=(0, (1, 1.2)))
    lonely = ~np.isnan(alone)
    for begin, end in _runs(lonely.astype(float)):
        if lonely[begin] and times.fits("no second", begin, end):
            panel.text(
                times.middle(begin, end), 0.06 * top, "no second", ha="center", va="bottom", fontsize=SMALL,
                color=INK, zorder=6,
            )  # fmt: skip
    for stretch in plan.stretches:
        begin, end = stretch.from_min, stretch.to_min
        if stretch.state != "refuge":
            face, pattern = (DARK, "////") if stretch.state == "gap" else ("white", "....")
            panel.axvspan(
                times.edges[begin], times.edges[end], facecolor=face, hatch=pattern, edgecolor=MIDDLE, linewidth=0
            )
        text = "no refuge" if stretch.state == "gap" else f"visual{' by night' if stretch.night else ''}"
        if stretch.field is not None:
            text = plan.field(stretch.field).id
            panel.axvline(times.edges[begin], color=MIDDLE, linewidth=0.6)
        if times.fits(text, begin, end):
            panel.text(
                times.middle(begin, end), 0.97 * top, text, ha="center", va="top", fontsize=SMALL, color=INK,
                fontweight="bold", bbox=PAPER, zorder=6,
            )  # fmt: skip
    panel.axhline(SPARE_COUNTS_MIN, color=DARK, linewidth=0.8, linestyle=(0, (4, 3)), zorder=2.5)
    _aside(panel, SPARE_COUNTS_MIN, f"ranking counts\nspare up to {SPARE_COUNTS_MIN:.0f} min")
    step = 10.0 if top <= 70.0 else 30.0
    panel.set_yticks(np.arange(0.0, top, step))
    _heading(panel, f"Minutes to spare, {asks(plan)} then")


def _spare(plan: Plan, k: int) -> Floats:
    """Return the spare of the best (0) or second (1) refuge of each minute, NaN where there is none."""
    return np.array([float(plan.meeting.spare_min[p[k]]) if len(p) > k else np.nan for p in plan.ranked])


def draw_bases(panel: Axes, plan: Plan, bases: Bases, times: Times) -> None:
    """Draw what is known of the ceiling over the way, with the flight and the lowest safe height in it.

    White where it is proved that there is none, dark from a known ceiling up, crossed where nobody knows. At the
    foot there is room for the ground, once terrain is there.
    """
    after = np.append(plan.track.minutes.astype(float), plan.track.total_min)
    lowest = plan.asked.question.lowest_safe_ft_amsl
    low, high = _limits(plan, bases, lowest)
    clear, ceiling = (np.clip(each, low, high) for each in (bases.clear_ft_amsl, bases.ceiling_ft_amsl))
    panel.stairs(
        ceiling, times.edges, baseline=clear, fill=True, facecolor=LIGHT, hatch="xxx", edgecolor=MIDDLE,
        linewidth=0, zorder=1,
    )  # fmt: skip
    full = np.full(ceiling.shape, high)
    panel.stairs(full, times.edges, baseline=ceiling, fill=True, facecolor=MIDDLE, linewidth=0, zorder=1)
    known = np.where(bases.ceiling_ft_amsl <= high, bases.ceiling_ft_amsl, np.nan)
    panel.stairs(known, times.edges, baseline=None, color=DARK, linewidth=1.6, zorder=2)
    panel.plot(times.edges, plan.track.altitude_ft(after), color=INK, linewidth=1.6, zorder=4)
    asides = [(float(plan.track.cruise_ft), f"flown: {plan.track.cruise_ft:,.0f}")]
    if lowest is not None:
        panel.axhline(lowest, color=INK, linewidth=0.9, linestyle=(0, (4, 3)), zorder=3)
        asides.append((lowest, f"lowest safe: {lowest:,.0f}"))
    asides.append((low, "(ground: no\nterrain yet)"))
    _asides(panel, asides, 0.13 * (high - low))
    _base_words(panel, bases, times, low, high)
    panel.set_ylim(low, high)
    _on_time(panel, times)
    panel.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    panel.locator_params(axis="y", nbins=5)
    _heading(panel, "Ceiling over the way, ft above the sea: the lowest of every station within 20 NM")


def _limits(plan: Plan, bases: Bases, lowest_ft: float | None) -> tuple[float, float]:
    """Return from where to where the heights run: all of the flight, and of bases what is not far above it."""
    cruise = plan.track.cruise_ft
    told = [each[np.isfinite(each)] for each in (bases.clear_ft_amsl, bases.ceiling_ft_amsl)]
    heights = np.concatenate([*told, [cruise, lowest_ft or 0.0]])
    high = float(heights[heights <= 1.5 * cruise + ROOM_FT / 2.0].max()) + 0.35 * ROOM_FT
    low = min(0.0, float(heights.min()))
    return low, float(np.ceil(max(high, cruise + ROOM_FT) / 500.0) * 500.0)


def _base_words(panel: Axes, bases: Bases, times: Times, low: float, high: float) -> None:
    """Write into each run of minutes that has room what is known there."""
    for begin, end in _runs(bases.clear_ft_amsl, bases.ceiling_ft_amsl):
        clear, ceiling = float(bases.clear_ft_amsl[begin]), float(bases.ceiling_ft_amsl[begin])
        text, at, side = _said(clear, ceiling, low, high)
        if times.fits(text, begin, end):
            panel.text(
                times.middle(begin, end), at, text, ha="center", va=side, fontsize=SMALL, color=INK, bbox=PAPER,
                zorder=6,
            )  # fmt: skip


def _said(clear: float, ceiling: float, low: float, high: float) -> tuple[str, float, str]:
    gap = 0.03 * (high - low)
    if ceiling < high:
        under = "" if clear >= ceiling else "or lower: not known"
        return f"ceiling {ceiling:,.0f} {under}".strip(), ceiling + gap, "bottom"
    if clear <= low:
        return "not known", (low + high) / 2.0, "center"
    if clear >= high:
        return "no ceiling" if np.isinf(clear) else f"no ceiling below {clear:,.0f}", high - gap, "top"
    return f"no ceiling below {clear:,.0f}, above it not known", clear + gap, "bottom"


def _runs(*arrays: Floats) -> list[tuple[int, int]]:
    """Return begin and end of minutes in a row in which all stay the same."""
    turns = np.logical_or.reduce([each[1:] != each[:-1] for each in arrays])
    return list(pairwise([0, *(np.flatnonzero(turns) + 1).tolist(), arrays[0].size]))


def draw_daylight(panel: Axes, plan: Plan, times: Times) -> None:
    """Draw day and night as a strip with its letters; the hours stand under it."""
    _on_time(panel, times)
    panel.set_ylim(0, 1)
    panel.set_yticks([])
    for begin, end in _runs(plan.night.astype(float)):
        night = bool(plan.night[begin])
        text = "night" if night else "day"
        panel.axvspan(
            times.edges[begin],
            times.edges[end],
            facecolor=DARK if night else "white",
            edgecolor=MIDDLE,
            linewidth=0.8,
        )
        if times.fits(text, begin, end):
            panel.text(
                times.middle(begin, end), 0.45, text, ha="center", va="center", fontsize=SMALL,
                color="white" if night else INK,
            )  # fmt: skip
    span = float(times.edges[-1] - times.edges[0])
    every = next((each for each in TICKS_MIN if span / each <= MOST_TICKS), TICKS_MIN[-1])
    ticks = np.arange(np.ceil(times.edges[0] / every) * every, times.edges[-1] + 0.01, every)
    panel.set_xticks(ticks, [f"{datetime.fromtimestamp(60.0 * tick, tz=UTC):%H:%MZ}" for tick in ticks.tolist()])
    panel.tick_params(labelbottom=True)


def draw_minute(panel: Axes, times: Times, minute: int) -> None:
    """Mark the minute whose reach and verdicts the map shows."""
    panel.axvline(float(times.edges[minute]), color=INK, linewidth=2.0, zorder=4.5)


def _on_time(panel: Axes, times: Times) -> None:
    bare(panel)
    panel.set_xlim(times.edges[0], times.edges[-1])
    panel.set_xticks([])


def _heading(panel: Axes, text: str) -> None:
    panel.set_title(text, loc="left", fontsize=7.5, color=INK, pad=3.0)


def _asides(panel: Axes, texts: list[tuple[float, str]], apart: float) -> None:
    """Write beside lines, from the lowest up, none nearer to the one below than `apart`."""
    below = -np.inf
    for at, text in sorted(texts):
        below = max(at, below + apart * (1.0 + 0.5 * text.count("\n")))
        _aside(panel, below, text)


def _aside(panel: Axes, at: float, text: str) -> None:
    """Write beside a line, right of the panel."""
    panel.annotate(
        text, (1.0, at), xycoords=("axes fraction", "data"), xytext=(4, 0), textcoords="offset points", ha="left",
        va="center", fontsize=SMALL, color=INK, annotation_clip=False,
    )  # fmt: skip
