"""The brief of a roster as JSON and as text."""

import math
import textwrap
from collections.abc import Iterator
from typing import Any

from refuge.flight.briefing import BadRow, Brief, Line
from refuge.flight.caution import CAUTION
from refuge.flight.phrases import clock
from refuge.flight.route import GAP_BUDGET_MIN
from refuge.render.find_text import age
from refuge.zulu import iso

WIDTH = 100
_WIDEST = 20
"""A longer name of a flight or an aircraft is cut, and a ~ says so."""
KEY = (
    "+: gaps within the gap budget of {budget:g} min, x: over it, look again; endurance: until attitude, airspeed"
    " or altitude is lost, derated (? not to be depended on); gap: minutes at which a failure finds no refuge,"
    " those in visual conditions left out; best refuge: best for so many minutes; what breaks it: after the way"
    " and its level, the longest gap and what is in the way, or what a flight without a gap hangs on."
)


def brief_json(found: Brief) -> dict[str, Any]:
    """Return the brief as JSON values: lines in order, and the rows that could not be used."""
    return {
        "as_of": iso(found.as_of),
        "data_as_of": None if found.data_as_of is None else iso(found.data_as_of),
        "warnings": list(found.warnings),
        "lines": [_line_json(line) for line in found.lines],
        "bad_rows": [
            {"line": row.line, "flight": row.flight, "reason": row.reason, "past": row.past} for row in found.bad
        ],
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
        "aircraft_id": line.aircraft_id,
        "altitude_ft": round(plan.asked.question.altitude_ft, 2),
        "altitude_given": plan.asked.question.altitude_given,
        "lowest_safe_ft": plan.asked.question.lowest_safe_ft_amsl,
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
    """Return the brief as text: as of when, bad rows, then what wants a second look, then the rest."""
    return "\n".join(_lines(found)) + "\n"


def _lines(found: Brief) -> Iterator[str]:
    yield f"Brief as of {iso(found.as_of)}"
    if found.data_as_of is not None:
        yield f"Newest bulletin received {clock(found.data_as_of)}, {age(found.data_as_of, found.as_of)} before"
    for warning in found.warnings:
        yield from textwrap.wrap(f"WARNING: {warning}", WIDTH)
    yield ""
    for row in sorted(found.bad, key=lambda row: row.past):
        yield from _bad(row)
    if found.bad:
        yield ""
    if found.lines:
        yield from _table(found.lines)
    else:
        yield "No flight could be worked out." if found.bad else "The roster has no flight."
    yield ""
    yield from textwrap.wrap(CAUTION, WIDTH)


def _bad(row: BadRow) -> Iterator[str]:
    head = f"! line {row.line} {row.flight}".rstrip() + ":"
    if len(row.faults) < 2:
        yield from textwrap.wrap(f"{head} {row.reason}", WIDTH, subsequent_indent="    ")
        return
    yield head
    for fault in row.faults:
        yield from textwrap.wrap(f"    - {fault}", WIDTH, subsequent_indent="      ")


def _table(lines: tuple[Line, ...]) -> Iterator[str]:
    flights = _width("flight", [line.flight for line in lines])
    aircraft = _width("aircraft", [line.aircraft_id for line in lines])
    names = f"{'flight':<{flights}}  {'aircraft':<{aircraft}}"
    yield f"  {names}  departs    endurance  gap min  best refuge   way, level: what breaks it"
    for line in lines:
        yield from _line(line, flights, aircraft)
    yield ""
    yield from textwrap.wrap(KEY.format(budget=GAP_BUDGET_MIN), WIDTH)


def _width(head: str, names: list[str]) -> int:
    return min(max(len(head), *(len(name) for name in names)), _WIDEST)


def _cut(name: str, width: int) -> str:
    return name if len(name) <= width else name[: width - 1] + "~"


def _line(line: Line, flights: int, aircraft: int) -> Iterator[str]:
    plan, information = line.plan, line.plan.endurance.information_min
    lasts = "unknown" if information is None else f"{math.floor(information)} min"
    if information is not None and not plan.endurance.dependable:
        lasts += "?"
    best = "none" if line.best is None else f"{line.best} {line.best_min} min"
    mark = "+" if plan.within_budget else "x"
    head = (
        f"{mark} {_cut(line.flight, flights):<{flights}}  {_cut(line.aircraft_id, aircraft):<{aircraft}}"
        f"  {plan.asked.departs:%d %H:%MZ}  {lasts:>9}  {plan.gap_min:>7}  {best:<12}  "
    )
    worst = f"{_way(line)}: "
    if line.worst is not None:
        worst += f"{plan.instant(line.worst.from_min):%H:%MZ} to {plan.instant(line.worst.to_min):%H:%MZ}: "
    night = plan.visual_night_min
    dark = f"; {night} min in visual conditions by night" if night and plan.chances else ""
    yield from textwrap.wrap(head + worst + line.breaks + dark, WIDTH, subsequent_indent=" " * 8)


def _way(line: Line) -> str:
    """Return what tells two flights of one name apart: the way and the level, and what nobody gave."""
    question = line.plan.asked.question
    level = f"{question.altitude_ft:,.0f} ft" + ("" if question.altitude_given else " (assumed, none was given)")
    lowest = "" if question.lowest_safe_ft_amsl is not None else ", lowest safe height not given"
    return f"{'-'.join(line.places)} {level}{lowest}"
