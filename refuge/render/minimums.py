"""What the check of a minimums file found: the minimums that count, and what nobody set, as text and as JSON."""

import textwrap
from collections.abc import Iterator
from typing import Any

from refuge.aircraft.endurance import MARGIN_MIN
from refuge.flight.caution import CAUTION
from refuge.flight.minimums import FLOOR, Limits, Minimums
from refuge.render.find_json import minimums_json

WIDTH = 100
NOT_CHECKED = {
    "runway_length_ft": "runway length",
    "hard_surface": "runway surface",
    "max_crosswind_kt": "crosswind",
    "no_private": "private fields",
}
"""The minimums that are checked only where somebody sets them, and what they are called."""

TEMPLATE_ID = "the name of this file"
UNFILLED = "its id is still that of the template: look whether its figures are yours"
SHORT_RUNWAY_FT = 1000.0
"""A runway length below this reads like metres (common practice, no source)."""


def checked_minimums_json(minimums: Minimums) -> dict[str, Any]:
    """Return the minimums that count as an object: what was raised, what is not set, the caution."""
    return {
        "minimums": minimums_json(minimums) | {"margin_min": minimums.margin_min},
        "said": list(_said(minimums)),
        "not_checked": [key for key in NOT_CHECKED if getattr(minimums, key) is None],
        "caution": CAUTION,
    }


def checked_minimums_text(minimums: Minimums, where: str) -> str:
    """Return the same for a terminal: what counts by day and by night, and what is not checked."""
    night = "no flight by night is planned" if minimums.night == "not planned" else _limits(minimums.night)
    least_night = "" if FLOOR.night == "not planned" else f", by night {_limits(FLOOR.night)}"
    lines = [
        f"{minimums.id}: {where} can be used",
        "",
        f"by day           {_limits(minimums.day)}",
        f"by night         {night}",
        f"  (the floor: by day {_limits(FLOOR.day)}{least_night})",
        *(f"{name:<17}{_set(minimums, key)}" for key, name in NOT_CHECKED.items()),
        f"margin           {_margin(minimums)}",
    ]
    for text in _said(minimums):
        lines += textwrap.wrap(f"note: {text}", WIDTH, subsequent_indent="  ")
    lines += ["", *textwrap.wrap(CAUTION, WIDTH)]
    return "\n".join(lines) + "\n"


def _said(minimums: Minimums) -> Iterator[str]:
    """Yield what wants a second look, then what was raised."""
    if minimums.id == TEMPLATE_ID:
        yield UNFILLED
    length_ft = minimums.runway_length_ft
    if length_ft is not None and length_ft < SHORT_RUNWAY_FT:
        yield f"runway_length_ft of {length_ft:,.0f} ft is short for any aircraft: is it meant in metres?"
    yield from minimums.said


def _limits(limits: Limits) -> str:
    return f"ceiling {limits.ceiling_ft:,.0f} ft, visibility {limits.visibility_sm:g} SM"


def _set(minimums: Minimums, key: str) -> str:
    value = getattr(minimums, key)
    if value is None:
        return "not asked for: not checked"
    return {
        "runway_length_ft": f"{value:,.0f} ft at least",
        "hard_surface": "hard",
        "max_crosswind_kt": f"{value:g} kt at most",
        "no_private": "left out; where nobody knows whether a field is private, it is unknown",
    }[key]


def _margin(minimums: Minimums) -> str:
    if minimums.margin_min is None:
        return f"not set: the usual {MARGIN_MIN:g} min"
    return f"{minimums.margin_min:g} min in hand"
