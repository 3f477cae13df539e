"""A picture of an endurance: one bar a function over minutes. One hue, dark is lost, with letters and a pattern.

This module imports matplotlib, so it is itself imported only when a picture is asked for.
"""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from refuge.aircraft.endurance import Endurance, budget_min
from refuge.aircraft.timeline import FunctionEnd
from refuge.flight.caution import CAUTION
from refuge.render.bars import scale_min, words
from refuge.render.endurance import headline
from refuge.render.picture_looks import DARK, INK, LIGHT, MIDDLE, looks, written

WORKS, LOST = LIGHT, DARK
BAR = 0.62
PAPER = {"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none"}
INFORMATION = ("attitude", "airspeed", "altitude")
WIDE_IN, FOOT_IN = 9.0, 0.14
TITLE_LETTERS, FOOT_LETTERS = 120, 170
MOST_WARNINGS = 6
"""More do not fit under the bars; the first are those that say why nothing may be planned."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One endurance with its name, and the conditions under which it holds."""

    label: str
    found: Endurance
    conditions: str


def endurance_picture(shown: Sequence[Drawn], *, margin_min: float, kind: str) -> bytes:
    """Return an SVG or PNG of one endurance, or of two above one another on the same minutes.

    Parameters
    ----------
    shown : sequence of Drawn
        What each is called, what it is, and under which conditions.
    margin_min : float
        Minutes kept in hand, for the mark of the budget.
    kind : str
        ``svg`` or ``png``.
    """
    rows = [[name for name, end in each.found.functions.items() if end.state != "absent"] for each in shown]
    titles, foot = [_title(each, margin_min, alone=len(shown) == 1) for each in shown], _foot(shown)
    with looks():
        lower = FOOT_IN * len(foot) + 0.1
        sizes = zip(rows, titles, strict=True)
        high = lower + sum(0.30 * len(names) + 0.17 * len(title) + 1.05 for names, title in sizes)
        figure = Figure(figsize=(WIDE_IN, high))
        figure.set_layout_engine("constrained", rect=(0.0, lower / high, 1.0, 1.0 - lower / high))
        heights = [len(each) + 3 for each in rows]
        panels = figure.subplots(len(shown), 1, squeeze=False, height_ratios=heights)[:, 0]
        span = scale_min([each.found for each in shown])
        for panel, each, names, title in zip(panels, shown, rows, titles, strict=True):
            _panel(panel, each.found, names, span)
            panel.set_title("\n".join(title), loc="left", fontsize=8.5, color=INK, x=0.0)
            _marks(panel, each.found, margin_min, span)
        figure.text(0.01, 0.06 / high, "\n".join(foot), fontsize=7, color=INK, va="bottom")
        return written(figure, kind)


def _foot(shown: Sequence[Drawn]) -> list[str]:
    """Return the lines at the foot: the warnings that must be read first, those of each, and the caution."""
    lines: list[str] = []
    for each in shown:
        warnings = list(each.found.warnings)
        head = "Warnings" if len(shown) == 1 else f"Warnings for {each.label}"
        told, more = warnings[:MOST_WARNINGS], len(warnings) - MOST_WARNINGS
        said = "; ".join([*told, *([f"and {more} more, which the text has"] if more > 0 else [])])
        lines += textwrap.wrap(f"{head}: {said}", FOOT_LETTERS) if warnings else []
    return [*lines, *textwrap.wrap(CAUTION, FOOT_LETTERS)]


def _title(each: Drawn, margin_min: float, *, alone: bool) -> list[str]:
    """Return the lines above the bars: how long, what limits it, the budget, and under which conditions."""
    head, *rest = headline(each.found, margin_min)
    named = textwrap.wrap(head if alone else f"{each.label}: {head}", TITLE_LETTERS)
    return [*named, *rest, *textwrap.wrap(each.conditions, TITLE_LETTERS)]


def _panel(panel: Axes, found: Endurance, names: Sequence[str], span_min: float) -> None:
    functions = {str(name): end for name, end in found.functions.items()}
    for row, name in enumerate(names):
        _bar(panel, row, name, functions[name], span_min, clear_min=found.recognition_min)
    panel.set_yticks(range(len(names)), [name.replace("_", " ") for name in names])
    for tick, name in zip(panel.get_yticklabels(), names, strict=True):
        tick.set_fontweight("bold" if name in INFORMATION else "normal")
    panel.set_ylim(len(names) - 0.4, -1.6)
    panel.set_xlim(0, span_min)
    panel.set_xticks([15 * each for each in range(int(span_min / 15) + 1)])
    panel.set_xlabel("minutes after the failure")
    panel.tick_params(length=0, colors=INK)
    for side in ("top", "right", "left", "bottom"):
        panel.spines[side].set_visible(False)


def _bar(panel: Axes, row: int, name: str, end: FunctionEnd, span_min: float, *, clear_min: float) -> None:
    """Draw one function: light while it works, dark and hatched when it is lost, crossed where nobody knows."""
    if end.state == "unknown":
        panel.barh(row, span_min, height=BAR, color=MIDDLE, hatch="xx", edgecolor=WORKS, linewidth=0)
        _letters(panel, span_min / 2, row, "? not known", ground=MIDDLE, left=False)
        return
    until = span_min if end.end_min is None else min(end.end_min, span_min)
    panel.barh(row, until, height=BAR, color=WORKS)
    if until < span_min:
        panel.barh(
            row, span_min - until, left=until, height=BAR, color=LOST, hatch="////", edgecolor=MIDDLE, linewidth=0
        )
    past = "" if end.end_min is None or end.end_min <= span_min else ", past this picture"
    text = words(name, end) + past
    gap = 0.01 * span_min
    if until >= clear_min + 0.16 * span_min:  # room for the words past the line that marks recognition
        _letters(panel, clear_min + gap, row, text, ground=WORKS)
        if span_min - until > 0.06 * span_min:
            _letters(panel, until + gap, row, "lost", ground=LOST)
    else:
        text = "lost at once" if until == 0 else text
        _letters(panel, max(until, clear_min) + gap, row, text, ground=LOST)


def _letters(panel: Axes, at: float, row: int, text: str, *, ground: str, left: bool = True) -> None:
    """Write on a bar, over its own colour, so that neither pattern nor marks run through the letters."""
    box = {"boxstyle": "square,pad=0.15", "facecolor": ground, "edgecolor": "none"}
    panel.text(
        at, row, text, ha="left" if left else "center", va="center", fontsize=8, zorder=4,
        color="white" if ground == LOST else INK, bbox=box,
    )  # fmt: skip


def _marks(panel: Axes, found: Endurance, margin_min: float, span_min: float) -> None:
    """Mark recognition and the last minute of the budget, counted from the failure."""
    budget = budget_min(found, margin_min)
    marks = [(found.recognition_min, "recognised", "left", -0.75)]
    if budget is not None:
        last = found.recognition_min + budget
        side = "right" if last > span_min / 2 else "left"
        marks.append((last, f"the budget of {int(budget)} min ends", side, -1.2))
    for minute, text, side, height in marks:
        if minute <= span_min:
            low = panel.get_ylim()[0]
            panel.plot([minute, minute], [low, height], color=INK, linewidth=0.9, linestyle=(0, (4, 3)), zorder=3)
            gap = 0.005 * span_min if side == "left" else -0.005 * span_min
            panel.text(
                minute + gap, height, text, ha=side, va="center", fontsize=8, color=INK, bbox=PAPER, zorder=5
            )
