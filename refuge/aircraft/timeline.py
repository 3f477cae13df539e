"""When each function ends, and the phases of a failure: what works, what is lost, and why."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from refuge.aircraft.parts import FUNCTIONS, STORED, Function, Load
from refuge.aircraft.power import Run, Span, first_gap, longest, shortest

INFORMATION: tuple[Function, ...] = ("attitude", "airspeed", "altitude", "engine", "fuel_feed")
"""The first three are information; when one of the last two ends, everything does (method.md 2)."""
READ_BY_LIGHT: frozenset[Function] = frozenset({"attitude", "airspeed", "altitude", "heading"})


@dataclass(frozen=True, slots=True, kw_only=True)
class FunctionEnd:
    """How long one function lasts: ``end_min`` is a number only in the state ``until``."""

    state: Literal["until", "not_limited", "absent", "unknown"]
    end_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """What works and what is lost from one event to the next; ``to_min`` ``None`` is open-ended.

    A function of unknown end is in ``unknown``: neither works nor lost.
    """

    from_min: float
    to_min: float | None
    works: tuple[Function, ...]
    lost: tuple[Function, ...]
    unknown: tuple[Function, ...]
    event: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What the failure and the flight take from functions, beyond their supply.

    ``dead_loads`` are out of action; ``dark`` is night without a torch; ``iced`` is cloud in which
    airspeed goes with pitot heat, and altitude too unless there is an ``alternate_static``.
    ``engine_min`` is how long fuel lasts, `inf` where it is not counted; loads that are shed are
    not counted after their ``credit_min``.
    """

    dead_loads: frozenset[str]
    dark: bool
    iced: bool
    alternate_static: bool
    engine_min: float
    credit_min: Mapping[str, float]


def ends_min(run: Run, around: Surroundings) -> dict[Function, float | None]:
    """Return the end of every function that the aircraft has, in minutes from the failure.

    `inf` is not limited, ``None`` not known; a function that is not in the answer is absent. Engine
    and fuel feed are always in it.
    """
    light = _longest_of(run, around, run.givers["panel_light"])
    ends: dict[Function, float | None] = {}
    for function in FUNCTIONS:
        givers = run.givers[function]
        if function in READ_BY_LIGHT and around.dark and givers:
            lit = tuple(load for load in givers if load.own_light)
            unlit = tuple(load for load in givers if not load.own_light)
            by_light = shortest((light, _longest_of(run, around, unlit)))
            ends[function] = longest((by_light, _longest_of(run, around, lit)))
        elif givers:
            ends[function] = _longest_of(run, around, givers)
    if around.iced:
        heat_min = ends.get("pitot_heat", 0.0)
        ends["airspeed"] = shortest((ends.get("airspeed", 0.0), heat_min))
        if not around.alternate_static:
            ends["altitude"] = shortest((ends.get("altitude", 0.0), heat_min))
    engine = shortest((ends.get("engine", math.inf), around.engine_min))
    feed = ends.get("fuel_feed", math.inf)
    ends |= {"engine": engine, "fuel_feed": feed}
    return {function: shortest((end, engine, feed)) for function, end in ends.items()}


def information_min(ends: Mapping[Function, float | None]) -> float | None:
    """Return the first end among information, engine and fuel feed; absent is 0, ``None`` not known."""
    return shortest(ends.get(function, 0.0) for function in INFORMATION)


def function_end(ends: Mapping[Function, float | None], function: Function) -> FunctionEnd:
    """Return the end of one function as a state and, where it has one, its minutes."""
    if function not in ends:
        return FunctionEnd(state="absent")
    end = ends[function]
    if end is None:
        return FunctionEnd(state="unknown")
    return FunctionEnd(state="not_limited") if end == math.inf else FunctionEnd(state="until", end_min=end)


def phases(
    run: Run,
    ends: Mapping[Function, float | None],
    *,
    failure: str,
    recognition_min: float,
    shed: Mapping[float, Sequence[str]],
) -> tuple[Phase, ...]:
    """Return the phases from the failure to the last end; the last one is open-ended.

    `shed` names the loads that are switched off, by when; where the file names none, an empty sequence.
    """
    events: dict[float, list[str]] = {0.0: [f"failure: {failure}"]}
    known = {function: end for function, end in ends.items() if end is not None}
    last_min = max((end for end in known.values() if end < math.inf), default=0.0)
    steps = [(recognition_min, "recognised")]
    steps += [(minute, f"shed: {', '.join(loads)}" if loads else "load shed") for minute, loads in shed.items()]
    steps += _source_events(run)
    for minute, event in steps:
        if minute <= last_min:
            events.setdefault(minute, []).append(event)
    for end in sorted({end for end in known.values() if end < math.inf}):
        lost = [function for function in known if known[function] == end]
        events.setdefault(end, []).append(f"lost: {', '.join(lost)}")
    starts = sorted(events)
    return tuple(
        Phase(
            from_min=start,
            to_min=to,
            works=tuple(function for function, end in known.items() if end > start),
            lost=tuple(function for function, end in known.items() if end <= start),
            unknown=tuple(function for function in ends if ends[function] is None),
            event="; ".join(events[start]),
        )
        for start, to in zip(starts, [*starts[1:], None], strict=True)
    )


def _source_events(run: Run) -> list[tuple[float, str]]:
    """Return when each battery that is used takes over and is empty, by id."""
    events: list[tuple[float, str]] = []
    for _, source in sorted(run.network.sources.items()):
        start, end = run.start_min(source.id), run.end_min(source.id)
        if source.kind in STORED and start is not None:
            events += [(start, f"{source.id} takes over")] if start > 0 else []
            events += [(end, f"{source.id} empty")] if end is not None and 0 < end < math.inf else []
    return events


def _longest_of(run: Run, around: Surroundings, givers: tuple[Load, ...]) -> float | None:
    """Return until when one of the givers works without a gap; ``None`` if only one of unknown end could."""
    working = [load for load in givers if load.id not in around.dead_loads]
    sure = first_gap(span for load in working for span in _counted(run, around, load))
    return None if sure == 0 and any(run.doubtful(load.id) for load in working) else sure


def _counted(run: Run, around: Surroundings, load: Load) -> list[Span]:
    limit = around.credit_min.get(load.id, math.inf)
    return [(start, min(end, limit)) for start, end in run.spans(load.id)]
