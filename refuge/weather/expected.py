"""What to expect at a station over a window, from the forecasts known by then.

The newest forecast speaks from its start on; before it its predecessor does, and so back. A
cancelled forecast, or one that is missing (NIL), ends the row: nothing older comes back.
Verdicts are taken for each state by itself (``Expected.states``); the merged conditions, the
worst of each element, are for showing.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import reduce

from refuge.errors import InputError
from refuge.weather.conditions import Conditions
from refuge.weather.reports import Forecast, Unreadable
from refuge.weather.sky import UnknownCeiling, UnknownVisibility
from refuge.weather.states import State, nothing_known, states
from refuge.weather.wind import UnknownWind
from refuge.weather.worse import worse_ceiling, worse_visibility, worse_wind
from refuge.zulu import aware_utc, resolve_ddhhmm

__all__ = ["Expected", "State", "expected", "speakers", "states", "states_of", "worst_of"]

_STAMP = re.compile(r"(?<!\S)(\d\d)(\d\d)(\d\d)Z(?!\S)", re.ASCII)
_BEFORE_ALL = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Conditions to expect at a station from `start` to `end`, both included.

    ``prevailing`` is the worst of the base, FM and settled BECMG states in force in the window,
    element by element; ``adverse`` takes TEMPO, PROB, INTER and running BECMG besides, and what
    no forecast speaks of. ``complete`` is false where a part of the window has no forecast.
    ``states`` are the states merged; ``why`` says in words what the answer rests on.
    """

    station: str
    start: datetime
    end: datetime
    prevailing: Conditions
    adverse: Conditions
    complete: bool
    groups_used: tuple[str, ...]
    why: tuple[str, ...]
    states: tuple[State, ...]


def expected(forecasts: Sequence[Forecast], station: str, start: datetime, end: datetime) -> Expected:
    """Return what `forecasts` lead to expect at `station` between `start` and `end`.

    Parameters
    ----------
    forecasts : sequence of Forecast
        Those received by the time of the question, in the order of receipt, of any stations.

    Raises
    ------
    InputError
        If the window ends before it starts, or a time has no zone.
    """
    start, end = aware_utc(start), aware_utc(end)
    own = [forecast for forecast in forecasts if forecast.station == station]
    found = states_of(own, start, end)
    settled = [state for state in found if state.prevailing]
    reason = found[0].label if found and not settled else "no forecast speaks of this time"
    return Expected(
        station=station,
        start=start,
        end=end,
        prevailing=worst_of([state.conditions for state in settled], reason),
        adverse=worst_of([state.conditions for state in found], reason),
        complete=not any(state.outside for state in found),
        groups_used=tuple(dict.fromkeys(name for state in found for name in state.groups)),
        why=_why(own, found, start, end),
        states=found,
    )


def states_of(forecasts: Sequence[Forecast], start: datetime, end: datetime) -> tuple[State, ...]:
    """Return every state that may be met in the window, by one station's forecasts together.

    `forecasts` come in the order of receipt. There is always at least one state; a stretch of
    the window without forecast gives one that is unknown and marked ``outside``.
    """
    start, end = aware_utc(start), aware_utc(end)
    if end < start:
        raise InputError(f"the window ends ({end:%d%H%M}Z) before it starts ({start:%d%H%M}Z)")
    found: list[State] = []
    spoken_from: datetime | None = None
    for forecast, since, until in speakers(forecasts):
        if since > end or (until is not None and until <= start):
            spoken_from = since
            continue
        first, last = max(start, since), end if until is None else min(end, until)
        found.extend(_until(states(forecast, first, last), until))
        spoken_from = since
    if spoken_from is None or start < spoken_from:
        when = "of this station" if spoken_from is None else f"before {spoken_from:%d%H%M}Z"
        found.append(nothing_known(f"no forecast {when}", start, end))
    return tuple(dict.fromkeys(found))


def worst_of(many: Sequence[Conditions], reason: str) -> Conditions:
    """Return the worst of each element over `many`; all unknown for `reason` where there is none.

    Weather and cloud groups are gathered, each once. For showing: the worst ceiling and the
    worst visibility may belong to different states.
    """
    if not many:
        return Conditions(
            ceiling=UnknownCeiling(reason=reason),
            visibility=UnknownVisibility(reason=reason),
            wind=UnknownWind(reason=reason),
        )
    return Conditions(
        ceiling=reduce(worse_ceiling, (c.ceiling for c in many)),
        visibility=reduce(worse_visibility, (c.visibility for c in many)),
        wind=reduce(worse_wind, (c.wind for c in many)),
        weather=tuple(dict.fromkeys(word for c in many for word in c.weather)),
        layers=tuple(dict.fromkeys(layer for c in many for layer in c.layers)),
    )


def speakers(forecasts: Sequence[Forecast]) -> Iterator[tuple[Forecast, datetime, datetime | None]]:
    """Yield each forecast, newest first, with the time from and until which it speaks.

    The newest by time of issue; of one time a cancellation, then a correction or amendment,
    then the one received later. A cancelled or missing forecast speaks of all that is left.
    """
    until: datetime | None = None
    numbered = sorted(enumerate(forecasts), key=lambda pair: (_newness(pair[1]), pair[0]), reverse=True)
    for _, forecast in numbered:
        since = forecast.valid_from
        if forecast.cancelled or forecast.nil or since is None:
            yield forecast, _BEFORE_ALL, until
            return
        if until is None or since < until:
            yield forecast, since, until
            until = since


def as_missing(text: Unreadable, *, received_at: datetime) -> Forecast | None:
    """Return what an unreadable text of a known station stands for: a forecast of which nothing is known.

    It may be the amendment that makes everything worse, so it ends the row as NIL does, from the
    time of issue that it gives, else from its receipt. ``None`` if it names no station.
    """
    if text.kind != "TAF" or text.station is None:
        return None
    stamp = _STAMP.search(text.raw)
    issued_at = resolve_ddhhmm(*(int(n) for n in stamp.groups()), near=received_at) if stamp else None
    return Forecast(
        raw=text.raw,
        station=text.station,
        issued_at=issued_at or received_at,
        valid_from=None,
        valid_to=None,
        nil=True,
        remarks=f"could not be read: {text.error}",
    )


def _newness(forecast: Forecast) -> tuple[datetime, bool, bool]:
    return (
        forecast.issued_at,
        forecast.cancelled or forecast.nil,
        forecast.amended or forecast.corrected,
    )


def _until(found: Sequence[State], until: datetime | None) -> Iterator[State]:
    """Yield the states that begin before a newer forecast takes over, ended there."""
    for state in found:
        if until is None or state.outside:
            yield state
        elif state.start < until:
            yield replace(state, end=min(state.end, until))


def _why(own: Sequence[Forecast], found: Sequence[State], start: datetime, end: datetime) -> tuple[str, ...]:
    """Return what the answer rests on, in words: forecasts used, gaps, doubts, marks."""
    lines: list[str] = []
    for forecast, since, until in speakers(own):
        if since <= end and (until is None or until > start):
            lines.append(_named(forecast))
            if forecast.not_scheduled:
                lines.append("AMD NOT SKED: it is not kept up to date")
    lines += [f"{state.label}: unknown there" for state in found if state.outside]
    for state in found:
        if state.label.endswith(" running"):
            lines.append(f"{state.label}: worse counts at once, better only from its end")
        lines += [
            f"{what} of {state.label} unknown: {element.reason}"
            for what, element in (
                ("ceiling", state.conditions.ceiling),
                ("visibility", state.conditions.visibility),
            )
            if isinstance(element, UnknownCeiling | UnknownVisibility) and not state.outside
        ]
    return tuple(dict.fromkeys(lines))


def _named(forecast: Forecast) -> str:
    marks = [("amended", forecast.amended), ("corrected", forecast.corrected), ("cancelled", forecast.cancelled)]
    words = [word for word, holds in [*marks, ("NIL", forecast.nil)] if holds]
    if forecast.nil and forecast.remarks:
        words.append(forecast.remarks)
    mark = f" ({', '.join(words)})" if words else ""
    valid = ""
    if forecast.valid_from is not None and forecast.valid_to is not None:
        valid = f", valid {forecast.valid_from:%d%H%M}Z to {forecast.valid_to:%d%H%M}Z"
    return f"forecast of {forecast.issued_at:%d%H%M}Z{mark}{valid}"
