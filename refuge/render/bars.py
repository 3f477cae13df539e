"""Bars over minutes in plain text, one a function: what works, what is lost, what nobody knows."""

import math
from collections.abc import Iterable, Iterator

from refuge.aircraft.account import HORIZON_MIN
from refuge.aircraft.endurance import Endurance
from refuge.aircraft.timeline import FunctionEnd

CELLS = 60
MARKS_MIN = 15.0
WORKS, LOST, UNKNOWN, FURTHER = "=", ".", "?", ">"
OF_FUEL = ("engine", "fuel_feed")
LEGEND = f"{WORKS} works  {LOST} lost  {UNKNOWN} not known  {FURTHER} further than shown"


def scale_min(found: Iterable[Endurance]) -> float:
    """Return how many minutes bars must show for all ends to be seen, up to the horizon of planning."""
    ends = [end.end_min for each in found for end in each.functions.values() if end.end_min is not None]
    most = max(ends, default=0.0)
    return min(HORIZON_MIN, max(2 * MARKS_MIN, MARKS_MIN * (1 + most // MARKS_MIN)))


def words(name: str, end: FunctionEnd) -> str:
    """Return how long a function lasts, in whole minutes rounded down: never too good.

    The engine runs out of fuel: that it is not limited only means that nobody said how much there is.
    """
    if end.end_min is not None:
        return f"until {math.floor(end.end_min)} min"
    if end.state == "not_limited" and name in OF_FUEL:
        return "not limited, fuel not given"
    return end.state.replace("_", " ")


def bar(end: FunctionEnd, span_min: float) -> str:
    """Return one bar; a cell works only if the function works through all of it. Empty for what is absent."""
    if end.state == "absent":
        return ""
    if end.state == "unknown":
        return UNKNOWN * CELLS
    if end.end_min is None or end.end_min > span_min:
        return WORKS * (CELLS - 1) + FURTHER
    return (WORKS * math.floor(end.end_min / span_min * CELLS)).ljust(CELLS, LOST)


def ruler(span_min: float) -> str:
    """Return the line of minutes above bars."""
    line = ""
    for mark in range(int(span_min / MARKS_MIN) + 1):
        place = round(mark * MARKS_MIN / span_min * CELLS)
        line = line.ljust(place) + f"{mark * MARKS_MIN:g}"
    return line + " min"


def bars(found: Endurance) -> Iterator[tuple[str, str, str]]:
    """Yield a row for the ruler, then one for each function: its name, how long it lasts, its bar."""
    span = scale_min([found])
    yield "", "", ruler(span)
    for name, end in found.functions.items():
        yield name, words(name, end), bar(end, span)
