"""What to expect at a station over a window, as JSON and as text."""

import json
import textwrap
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from refuge.flight.caution import CAUTION
from refuge.flight.phrases import ceiling_phrase, visibility_phrase, wind_phrase
from refuge.weather.conditions import Conditions
from refuge.weather.expected import Expected, State
from refuge.weather.record import conditions_record
from refuge.zulu import iso

WIDTH = 100


def expect_json(found: Expected) -> dict[str, Any]:
    """Return the object of interface.md, `refuge expect`, to the letter, and some keys besides."""
    return {
        "station": found.station,
        "from": iso(found.start),
        "to": iso(found.end),
        "prevailing": conditions_record(found.prevailing),
        "adverse": conditions_record(found.adverse),
        "complete": found.complete,
        "groups_used": list(found.groups_used),
        "why": list(found.why),
        "states": [_state_json(state) for state in found.states],
        "caution": CAUTION,
    }


def expect_lines(found: Expected) -> str:
    """Return the answer as the lines of JSON that every door gives."""
    return json.dumps(expect_json(found), indent=2, ensure_ascii=False) + "\n"


def expect_text(found: Expected) -> str:
    """Return the answer for a terminal: the two lines that count, each state, why, and the caution."""
    lines = [
        f"{found.station}, {_instant(found.start)} to {_instant(found.end)}, from forecasts alone",
        "",
        *_entry("prevailing", found.prevailing),
        *_entry("adverse", found.adverse),
    ]
    if not found.complete:
        lines += ["", "NOT COMPLETE: a part of this time has no forecast, and counts as unknown."]
    known = [state for state in found.states if not state.outside]
    if known:
        lines += ["", "Each state that may be met:"]
        for state in known:
            lines += _entry(f"{state.label}, {state.start:%d%H%M}Z to {state.end:%d%H%M}Z", state.conditions)
    lines += ["", "Why:", *(line for text in found.why for line in _wrapped(text, "  "))]
    lines += ["", *textwrap.wrap(CAUTION, WIDTH)]
    return "\n".join(lines) + "\n"


def _state_json(state: State) -> dict[str, Any]:
    return {
        "label": state.label,
        "from": iso(state.start),
        "to": iso(state.end),
        "prevailing": state.prevailing,
        "outside": state.outside,
        "groups": list(state.groups),
        "conditions": conditions_record(state.conditions),
    }


def _entry(name: str, conditions: Conditions) -> Iterator[str]:
    """Yield one state: its name and category, and under it the elements."""
    yield f"  {name}: {conditions_record(conditions)['category']}"
    parts = [
        ceiling_phrase(conditions.ceiling),
        visibility_phrase(conditions.visibility),
        f"wind {wind_phrase(conditions.wind).removeprefix('wind ')}",
        *([" ".join(conditions.weather)] if conditions.weather else []),
    ]
    yield from _wrapped(", ".join(parts), "    ")


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")


def _instant(when: datetime) -> str:
    return f"{when:%Y-%m-%d %H:%MZ}"
