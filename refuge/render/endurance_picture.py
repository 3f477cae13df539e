"""A picture of an endurance: one bar a function over minutes. One hue, dark is lost, with letters and a pattern.

This module imports matplotlib, so it is itself imported only when a picture is asked for.
"""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from refuge.aircraft.endurance import Endurance, budget_min
from refuge.aircraft.timeline import FunctionEnd
from refuge.render.bars import scale_min, words
from refuge.render.picture_looks import DARK, INK, LIGHT, MIDDLE, looks, written

WORKS, LOST = LIGHT, DARK
BAR = 0.62
PAPER = {"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none"}
INFORMATION = ("attitude", "airspeed", "altitude")


def endurance_picture(shown: Sequence[tuple[str, Endurance]], *, margin_min: float, kind: str) -> bytes:
    """Return an SVG or PNG of one endurance, or of two above one another on the same minutes.

    Parameters
    ----------
    shown : sequence of (str, Endurance)
        What each is called, and what it is.
    margin_min : float
        Minutes kept in hand, for the mark of the budget.
    kind : str
        ``svg`` or ``png``.
    """
    rows = [[name for name, end in found.functions.items() if end.state != "absent"] for _, found in shown]
    with looks():
        figure = Figure(figsize=(9, sum(0.30 * len(each) + 1.25 for each in rows)), layout="constrained")
        heights = [len(each) + 3 for each in rows]
        panels = figure.subplots(len(shown), 1, squeeze=False, height_ratios=heights)[:, 0]
        span = scale_min([found for _, found in shown])
        for panel, (label, found), names in zip(panels, shown, rows, strict=True):
            _panel(panel, label, found, names, span)
            _marks(panel, found, margin_min, span)
        return written(figure, kind)


def _panel(panel: Axes, label: str, found: Endurance, names: Sequence[str], span_min: float) -> None:
    functions = {str(name): end for name, end in found.functions.items()}
    for row, name in enumerate(names):
        _bar(panel, row, functions[name], span_min, clear_min=found.recognition_min)
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
    panel.set_title(_title(label, found), loc="left", fontsize=10, color=INK)


def _title(label: str, found: Endurance) -> str:
    if found.information_min is None:
        return f"{label}: how long information lasts is UNKNOWN"
    text = f"{label}: information lasts {int(found.information_min)} min ({found.limited_by})"
    return text if found.dependable else f"{text} - NOT DEPENDABLE"


def _bar(panel: Axes, row: int, end: FunctionEnd, span_min: float, *, clear_min: float) -> None:
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
    text = words(end) if end.end_min is None or end.end_min <= span_min else f"{words(end)}, past this picture"
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
            panel.axvline(minute, color=INK, linewidth=0.9, linestyle=(0, (4, 3)), zorder=3)
            gap = 0.005 * span_min if side == "left" else -0.005 * span_min
            panel.text(minute + gap, height, text, ha=side, va="center", fontsize=8, color=INK, bbox=PAPER)
