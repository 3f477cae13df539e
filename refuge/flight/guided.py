"""Station guidance as states of the weather: what it proves, and over which time (method.md 4, issue 6).

Guidance stands where a TAF would, at stations of which no TAF was ever heard; it never takes the place of
one. It is judged as a forecast is, and further:

    Blend        one value out of many that are possible: it proves a ceiling or a visibility only up to the
                 greatest minimum whose chance of being missed is given as under 10 %
    thunder      a chance of 30 % or more counts as if it came true (a TAF's PROB30 does); from 10 %, and where
                 nobody knows, nothing is proved
    freezing     a chance of 30 % or more of freezing rain or pellets likewise; from 10 %, and where nobody
                 knows, it stays open whether some falls
    first hour   counts from the run on, at most one hour before it: until then the report says more
    a hole       what neither LAMP nor the Blend covers from end to end is not covered
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from refuge.flight.situation import Guided
from refuge.flight.state_arrays import StateRow
from refuge.weather.conditions import Conditions
from refuge.weather.guidance_states import FAMILIES, LIMIT_PERCENT, GuidanceState, guidance_states

AS_IF_TRUE_PERCENT = 30
BEFORE_FIRST = timedelta(minutes=60)


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """States of one station's guidance, and from when to when (seconds) one kind of it covers without a hole."""

    rows: tuple[StateRow, ...]
    from_s: float
    to_s: float


NOT_COVERED = Covered(rows=(), from_s=np.inf, to_s=-np.inf)


def guided_rows(station: int, guided: Guided | None, first: datetime, last: datetime) -> Covered:
    """Return the states that a station's guidance allows from `first` to `last`."""
    if guided is None or not guided.blocks:
        return NOT_COVERED
    found = [
        state
        for state in guidance_states(guided.blocks, first, last, unreadable=guided.unreadable)
        if state.product is not None
    ]
    rows: list[StateRow] = []
    spans: list[tuple[float, float]] = []
    for family in FAMILIES.values():
        own = _from_the_run([state for state in found if state.product in family], first)
        rows += [_row(station, state) for state in own]
        spans += _whole([(state.state.start.timestamp(), state.state.end.timestamp()) for state in own])
    if guided.unreadable or not spans:
        return replace(NOT_COVERED, rows=tuple(rows))
    start, end = max(spans, key=lambda span: span[1] - span[0])
    return Covered(rows=tuple(rows), from_s=start, to_s=end)


def _from_the_run(states: Sequence[GuidanceState], first: datetime) -> list[GuidanceState]:
    """Return states of which the first begins with the run, or an hour before the hour that it is for."""
    begin = min((state.state.start for state in states), default=first)
    if begin <= first:
        return list(states)
    return [
        replace(state, state=replace(state.state, start=max(begin - BEFORE_FIRST, state.based_on, first)))
        if state.state.start == begin and state.based_on is not None and state.based_on < begin
        else state
        for state in states
    ]


def _whole(spans: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """Yield the times that spans cover without a hole."""
    run: tuple[float, float] | None = None
    for start, end in sorted(spans):
        if run is not None and start <= run[1]:
            run = (run[0], max(run[1], end))
            continue
        if run is not None:
            yield run
        run = (start, end)
    if run is not None:
        yield run


def _row(station: int, found: GuidanceState) -> StateRow:
    state, thunder, freezing = found.state, found.thunder_percent, found.freezing_percent
    nothing = thunder is None or AS_IF_TRUE_PERCENT > thunder >= LIMIT_PERCENT
    return StateRow(
        station=station,
        start=state.start.timestamp(),
        end=state.end.timestamp(),
        conditions=_as_if_true(state.conditions, thunder, freezing),
        label=state.label,
        prevailing=state.prevailing,
        proved_ft=-np.inf if nothing else _proved(found, found.ceiling_chances),
        proved_sm=-np.inf if nothing else _proved(found, found.visibility_chances),
        freezing_open=freezing is None or AS_IF_TRUE_PERCENT > freezing >= LIMIT_PERCENT,
    )


def _proved(found: GuidanceState, chances: Sequence[tuple[float, int]]) -> float:
    """Return up to which minimum a value counts: the greatest whose chance of being missed is under the limit."""
    if not found.deterministic:
        return np.inf
    return max((limit for limit, percent in chances if percent < LIMIT_PERCENT), default=-np.inf)


def _as_if_true(conditions: Conditions, thunder: int | None, freezing: int | None) -> Conditions:
    more = [
        word
        for word, percent in (("TS", thunder), ("FZRA", freezing))
        if percent is not None and percent >= AS_IF_TRUE_PERCENT
    ]
    return replace(conditions, weather=(*conditions.weather, *more)) if more else conditions
