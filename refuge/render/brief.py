"""The brief of a roster as JSON and as text."""

import textwrap
from collections.abc import Iterator
from typing import Any

from refuge.flight.briefing import Brief, Line
from refuge.flight.caution import CAUTION
from refuge.zulu import iso

WIDTH = 100


def brief_json(found: Brief) -> dict[str, Any]:
    """Return the brief as JSON values: lines in order, and the rows that could not be used."""
    return {
        "data_as_of": None if found.data_as_of is None else iso(found.data_as_of),
        "lines": [_line_json(line) for line in found.lines],
        "bad_rows": [{"line": row.line, "flight": row.flight, "reason": row.reason} for row in found.bad],
        "caution": CAUTION,
    }


def _line_json(line: Line) -> dict[str, Any]:
    plan, worst = line.plan, line.worst
    information = plan.endurance.information_min
    return {
        "line": line.line,
        "flight": line.flight,
        "route": list(line.places),
        "departs": iso(plan.asked.departs),
        "aircraft": line.aircraft,
        "endurance_min": None if information is None else round(information, 2),
        "dependable": plan.endurance.dependable,
        "total_min": round(plan.track.total_min, 2),
        "gap_min": plan.gap_min,
        "visual_min": plan.visual_min,
        "within_gap_budget": plan.within_budget,
        "worst_gap": None
        if worst is None
        else {
            "from": iso(plan.instant(worst.from_min)),
            "to": iso(plan.instant(worst.to_min)),
            "minutes": worst.to_min - worst.from_min,
            "lat": round(float(plan.lat_deg[worst.from_min]), 5),
            "lon": round(float(plan.lon_deg[worst.from_min]), 5),
        },
        "best_refuge": None if line.best is None else {"id": line.best, "best_for_min": line.best_min},
        "breaks": line.breaks,
    }


def brief_text(found: Brief) -> str:
    """Return the brief as text: bad rows, then what wants a second look, then the rest."""
    return "\n".join(_lines(found)) + "\n"


def _lines(found: Brief) -> Iterator[str]:
    for row in found.bad:
        text = f"! line {row.line} {row.flight}: {row.reason}"
        yield from textwrap.wrap(text, WIDTH, subsequent_indent="    ")
    if found.bad:
        yield ""
    yield "  flight      aircraft      departs    endurance  gap min  best refuge   what breaks it"
    for line in found.lines:
        yield from _line(line)
    yield ""
    yield from textwrap.wrap(CAUTION, WIDTH)


def _line(line: Line) -> Iterator[str]:
    plan, information = line.plan, line.plan.endurance.information_min
    lasts = "unknown" if information is None else f"{information:.0f} min"
    if information is not None and not plan.endurance.dependable:
        lasts += "?"
    best = "none" if line.best is None else f"{line.best} {line.best_min} min"
    mark = "+" if plan.within_budget else "x"
    head = (
        f"{mark} {line.flight:<10.10}  {line.aircraft:<12.12}  {plan.asked.departs:%d %H:%MZ}"
        f"  {lasts:>9}  {plan.gap_min:>7}  {best:<12}  "
    )
    worst = ""
    if line.worst is not None:
        worst = f"{plan.instant(line.worst.from_min):%H:%MZ} to {plan.instant(line.worst.to_min):%H:%MZ}: "
    yield from textwrap.wrap(head + worst + line.breaks, WIDTH, subsequent_indent=" " * 8)
