"""An endurance as JSON and as text."""

import math
import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import FlightState, failure_text
from refuge.aircraft.comparison import Change
from refuge.aircraft.endurance import Endurance, budget_min
from refuge.aircraft.parts import Function
from refuge.aircraft.timeline import Phase
from refuge.flight.caution import CAUTION
from refuge.render.bars import LEGEND, bars

WIDTH = 100
WORDS_WIDE = 14
"""How wide the columns beside the bars may be, so that these and their minutes fit into the width."""


def endurance_json(found: Endurance, *, margin_min: float) -> dict[str, Any]:
    """Return the object of interface.md, `refuge endurance`, to the letter, and some keys besides."""
    return {
        "information_min": _minutes(found.information_min),
        "nominal_min": _minutes(found.nominal_min),
        "limited_by": found.limited_by,
        "limited_why": found.limited_why,
        "recognition_min": _minutes(found.recognition_min),
        "margin_min": _minutes(margin_min),
        "budget_min": _minutes(budget_min(found, margin_min)),
        "dependable": found.dependable,
        "functions": {
            name: {"state": end.state, "min": _minutes(end.end_min)} for name, end in found.functions.items()
        },
        "phases": [_phase_json(phase) for phase in found.phases],
        "assumptions": list(found.assumptions),
        "warnings": list(found.warnings),
        "as_if_dry_min": None if found.dry is None else _minutes(found.dry.information_min),
        "caution": CAUTION,
    }


def answer_json(
    found: Endurance,
    *,
    margin_min: float,
    others: Sequence[tuple[str, Endurance]],
    changes: Sequence[Change],
    compared: tuple[str, Endurance] | None = None,
) -> dict[str, Any]:
    """Return the object of `endurance_json`, with other failures, small changes, and what it is compared with.

    ``compared`` is null, or such an object of the other aircraft or state, with its ``name``.
    """
    second = (
        None if compared is None else {"name": compared[0], **endurance_json(compared[1], margin_min=margin_min)}
    )
    return {
        **endurance_json(found, margin_min=margin_min),
        "other_failures": {
            name: {
                "information_min": _minutes(other.information_min),
                "limited_by": other.limited_by,
                "limited_why": other.limited_why,
                "dependable": other.dependable,
            }
            for name, other in others
        },
        "sensitivity": [{"what": change.what, "minutes": _minutes(change.minutes)} for change in changes],
        "compared": second,
    }


def endurance_text(
    aircraft: Aircraft,
    found: Endurance,
    *,
    failure: str,
    margin_min: float,
    others: Sequence[tuple[str, Endurance]] = (),
    changes: Sequence[Change] = (),
) -> str:
    """Return the answer for a terminal: what limits, bars, phases, other failures, and the small print."""
    lines = [
        f"{aircraft.id} ({aircraft.name}), failure: {failure}",
        "",
        *headline(found, margin_min),
        "",
        "How long each function lasts:",
        *_table([*bars(found)], widest=WORDS_WIDE),
        f"  ({LEGEND})",
        "",
        "What happens:",
        *_table([("from", "to", "event", "still works"), *_phase_rows(found.phases)]),
        *notes("Other failures", [_other(name, other) for name, other in others]),
        *notes("What would change it", [f"{change.what}: {change.minutes:+.1f} min" for change in changes]),
        *notes("Warnings", found.warnings),
        *notes("Assumptions", found.assumptions),
        "",
        *textwrap.wrap(CAUTION, WIDTH),
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _minutes(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _whole(value: float) -> str:
    """Return whole minutes, rounded down: never too good."""
    return str(math.floor(value))


def _phase_json(phase: Phase) -> dict[str, Any]:
    return {
        "from_min": _minutes(phase.from_min),
        "to_min": _minutes(phase.to_min),
        "works": list(phase.works),
        "lost": list(phase.lost),
        "unknown": list(phase.unknown),
        "event": phase.event,
    }


def headline(found: Endurance, margin_min: float) -> Iterator[str]:
    """Yield how long information lasts, why no longer, and what is left of it to plan on."""
    budget = budget_min(found, margin_min)
    if found.information_min is None or budget is None:
        yield from textwrap.wrap(f"Information lasts: UNKNOWN - {found.limited_why}", WIDTH)
        return
    if not found.dependable:
        yield "NOT DEPENDABLE: nothing may be planned on this endurance"
    why = f"{found.limited_by}: {found.limited_why}"
    least = "at least " if found.more_with_fuel else ""
    yield f"Information lasts {least}{_whole(found.information_min)} min ({why}){_nominal(found)}"
    less = f"less {found.recognition_min:g} min to recognise and {margin_min:g} min of margin"
    yield f"Budget {minutes_left(budget)}: {less}"


def conditions_text(aircraft: Aircraft, state: FlightState) -> str:
    """Return under which conditions an endurance holds, in one sentence: what was not given is named too."""
    by_night = f"by night, {'a torch aboard' if state.torch else 'no torch'}"
    said = [
        f"{aircraft.id} ({aircraft.name}), failure: {failure_text(state.failure)}, on {state.on:%d %b %Y}",
        "outside temperature not given" if state.oat_c is None else f"outside {state.oat_c:+g} C",
        "stood in: not given" if state.soak_c is None else f"stood in {state.soak_c:+g} C",
        by_night if state.night else "by day",
        "fuel not given" if state.fuel_min is None else f"fuel for {state.fuel_min:g} min",
    ]
    if state.icing:
        said.append("in cloud that asks for pitot heat")
    if state.flown_min:
        said.append(f"{state.flown_min:g} min flown before")
    if state.shed_min is not None:
        said.append(f"shed from {state.shed_min:g} min on")
    if state.not_shed:
        said.append(f"NOT shed: {', '.join(sorted(state.not_shed))}")
    return "; ".join(said)


def minutes_left(budget_min: float) -> str:
    """Return a budget in whole minutes, rounded down; none where recognition and margin take all there is."""
    return "no time" if budget_min < 0 else f"{_whole(budget_min)} min"


def gone_words(found: Endurance, aircraft: Aircraft) -> str:
    """Return what takes the first minutes: noticing the failure, or all that has gone by since."""
    word = "gone by" if found.recognition_min > aircraft.recognition_min else "to notice"
    return f"{found.recognition_min:.0f} {word}"


def _nominal(found: Endurance) -> str:
    if found.nominal_min is None or found.nominal_min == found.information_min:
        return ""
    return f"; {_whole(found.nominal_min)} min before derating"


def _other(failure: str, found: Endurance) -> str:
    if found.information_min is None:
        return f"{failure}: UNKNOWN - {found.limited_why}"
    doubt = "" if found.dependable else ", NOT DEPENDABLE"
    why = f"{found.limited_by}: {found.limited_why}"
    least = "at least " if found.more_with_fuel else ""
    return f"{failure}: information lasts {least}{_whole(found.information_min)} min ({why}){doubt}"


def _phase_rows(phases: Sequence[Phase]) -> Iterator[tuple[str, ...]]:
    before: tuple[Function, ...] | None = None
    for phase in phases:
        to = "" if phase.to_min is None else _whole(phase.to_min)
        works = "the same" if phase.works == before else ", ".join(_spoken(phase.works)) or "nothing"
        yield _whole(phase.from_min), to, phase.event.replace("_", " "), works
        before = phase.works


def _spoken(names: Sequence[Function]) -> list[str]:
    return [name.replace("_", " ") for name in names]


def _table(rows: Sequence[Sequence[str]], widest: int = 38) -> Iterator[str]:
    """Yield rows in columns, all but the last at most so wide; what is longer wraps below itself."""
    last = len(rows[0]) - 1
    widths = [min(widest, max(len(row[column]) for row in rows)) for column in range(last)]
    widths.append(WIDTH - 2 - sum(widths) - 2 * last)
    for row in rows:
        cells = [textwrap.wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)]
        for line in range(max(map(len, cells))):
            parts = [
                (cell[line] if line < len(cell) else "").ljust(width)
                for cell, width in zip(cells, widths, strict=True)
            ]
            yield "  " + "  ".join(parts)


def notes(title: str, lines: Sequence[str]) -> Iterator[str]:
    """Yield a list under its title, nothing if it is empty."""
    if lines:
        yield ""
        yield f"{title}:"
    for note in lines:
        yield from textwrap.wrap(note, WIDTH, initial_indent="  - ", subsequent_indent="    ")
