"""States of the weather as arrays: one row a state, so that thousands of windows are judged at once.

A row is one complete state of the weather at one station over one period: the latest report, a
state of its trend, or a state of its forecast (refuge.weather.expected). A row is judged against
a required ceiling (feet above that station) and visibility; the worst row in a window decides.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

from refuge.flight.verdict import MEETS, MISSES, UNKNOWN, Codes
from refuge.weather.conditions import Conditions
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

ALWAYS = (-np.inf, np.inf)
AT, NONE, NOT_KNOWN = np.int8(0), np.int8(1), np.int8(2)
EXACT, AT_LEAST, LESS_THAN, NO_VISIBILITY = np.int8(0), np.int8(1), np.int8(2), np.int8(3)

OPEN_VISIBILITY_SM = 6.0
"""P6SM, 9999, CAVOK and 10SM satisfy any visibility minimum up to this (method.md 4)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StateRow:
    """One state before it becomes a row: where, when, what, and how it is called.

    ``proved_ft`` and ``proved_sm`` are the greatest minimums that it may prove: what is one value out of many
    that are possible proves less than it says. ``freezing_open`` leaves open whether freezing rain falls.
    """

    station: int
    start: float
    end: float
    conditions: Conditions
    label: str
    prevailing: bool
    proved_ft: float = np.inf
    proved_sm: float = np.inf
    freezing_open: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class States:
    """Rows of states, grouped by station; every array but ``first`` and ``count`` has shape (rows,).

    ``first[s]`` and ``count[s]`` give the rows of station s. Times are seconds since the epoch.
    ``ceiling_ft`` is the height where there is a ceiling, the height below which there is none
    (inf: the whole sky), or the most that an unknown one can be (inf: anything).
    """

    rows: tuple[StateRow, ...]
    first: Ints
    count: Ints
    start: Floats
    end: Floats
    ceiling_code: Codes
    ceiling_ft: Floats
    cloud_ft: Floats
    visibility_code: Codes
    visibility_sm: Floats
    violent: Bools
    freezing: Bools
    convective: Bools
    prevailing: Bools
    proves_ceiling: Bools
    proves_visibility: Bools
    proved_ft: Floats
    proved_sm: Floats
    freezing_open: Bools

    def touching(self, station: Ints, start_s: Floats, end_s: Floats) -> tuple[Ints, Ints]:
        """Return every (pair, row) such that the row is a state of that pair's station in its window.

        The three arguments have shape (pairs,). A state counts if it starts by the window's end and
        ends after its start: periods are half-open, windows closed.
        """
        count = self.count[station]
        pair = np.repeat(np.arange(station.size), count)
        offset = np.arange(pair.size) - np.repeat(np.cumsum(count) - count, count)
        row = self.first[station][pair] + offset
        touches = (self.start[row] <= end_s[pair]) & (self.end[row] > start_s[pair])
        return pair[touches], row[touches]


def build_states(rows: Iterable[StateRow], stations: int) -> States:
    """Return rows as arrays, sorted by station (0 <= station < `stations`)."""
    ordered = tuple(sorted(rows, key=lambda row: row.station))
    index = np.array([row.station for row in ordered], dtype=np.int64)
    count = np.bincount(index, minlength=stations).astype(np.int64)
    ceilings = [ceiling_code(row.conditions.ceiling) for row in ordered]
    visibilities = [visibility_code(row.conditions.visibility) for row in ordered]
    return States(
        rows=ordered,
        first=np.concatenate(([0], np.cumsum(count)[:-1])).astype(np.int64) if stations else np.zeros(0, np.int64),
        count=count,
        start=np.array([row.start for row in ordered], dtype=float),
        end=np.array([row.end for row in ordered], dtype=float),
        ceiling_code=np.array([code for code, _ in ceilings], dtype=np.int8),
        ceiling_ft=np.array([ft for _, ft in ceilings], dtype=float),
        cloud_ft=np.array([lowest_cloud_ft(row.conditions) for row in ordered], dtype=float),
        visibility_code=np.array([code for code, _ in visibilities], dtype=np.int8),
        visibility_sm=np.array([sm for _, sm in visibilities], dtype=float),
        violent=_flags(ordered, is_violent),
        freezing=_flags(ordered, is_freezing),
        convective=_flags(ordered, is_convective),
        prevailing=np.array([row.prevailing for row in ordered], dtype=bool),
        proves_ceiling=_flags(ordered, _proves_ceiling),
        proves_visibility=_flags(ordered, _proves_visibility),
        proved_ft=np.array([row.proved_ft for row in ordered], dtype=float),
        proved_sm=np.array([row.proved_sm for row in ordered], dtype=float),
        freezing_open=np.array([row.freezing_open for row in ordered], dtype=bool),
    )


def _flags(rows: Sequence[StateRow], test: Callable[[Conditions], bool]) -> Bools:
    return np.array([test(row.conditions) for row in rows], dtype=bool)


def ceiling_code(ceiling: Ceiling) -> tuple[np.int8, float]:
    """Return code and height of a ceiling, as `States` holds them."""
    match ceiling:
        case CeilingAt(ft_agl=ft):
            return AT, float(ft)
        case NoCeiling(none_below_ft=below):
            return NONE, np.inf if below is None else float(below)
        case UnknownCeiling(obscured=True):
            # VV///: the sky is hidden, so a ceiling exists, and it is of the lowest category (decoding.md).
            return AT, 0.0
        case UnknownCeiling(at_best_ft_agl=best):
            return NOT_KNOWN, np.inf if best is None else float(best)


def visibility_code(visibility: Visibility) -> tuple[np.int8, float]:
    """Return code and value of a visibility, as `States` holds them."""
    match visibility:
        case KnownVisibility(sm=sm, bound=Bound.EXACTLY):
            return EXACT, sm
        case KnownVisibility(sm=sm, bound=Bound.AT_LEAST):
            return AT_LEAST, sm
        case KnownVisibility(sm=sm):
            return LESS_THAN, sm
        case UnknownVisibility(at_best_sm=best):
            return NO_VISIBILITY, np.inf if best is None else best


def lowest_cloud_ft(conditions: Conditions) -> float:
    """Return the lowest cloud of any amount (feet above the station): 0 if its height is not told, inf for none."""
    return min((float(layer.base_ft_agl or 0) for layer in conditions.layers), default=np.inf)


def is_violent(conditions: Conditions) -> bool:
    """Return whether a thunderstorm, squall, funnel cloud or hail is in these conditions."""
    return any(
        not word.startswith(("VC", "RE")) and any(sign in word for sign in ("TS", "SQ", "FC", "GR", "GS"))
        for word in conditions.weather
    )


def is_freezing(conditions: Conditions) -> bool:
    """Return whether freezing rain or drizzle, unidentified freezing precipitation or ice pellets fall."""
    return any(
        "PL" in word or ("FZ" in word and any(kind in word for kind in ("RA", "DZ", "UP")))
        for word in conditions.weather
    )


def is_convective(conditions: Conditions) -> bool:
    """Return whether a storm or funnel cloud nearby, CB or TCU lowers the certainty of these conditions."""
    return any(layer.convective for layer in conditions.layers) or any(
        word.startswith("VC") and ("TS" in word or "FC" in word) for word in conditions.weather
    )


def _proves_ceiling(conditions: Conditions) -> bool:
    ceiling = conditions.ceiling
    return isinstance(ceiling, NoCeiling) and ceiling.evidence in {"CAVOK", "NSC"}


def _proves_visibility(conditions: Conditions) -> bool:
    ceiling, visibility = conditions.ceiling, conditions.visibility
    open_ = isinstance(visibility, KnownVisibility) and visibility.bound is Bound.AT_LEAST
    # A change that gives another visibility ends CAVOK, although the ceiling stays as it was.
    return open_ and isinstance(ceiling, NoCeiling) and ceiling.evidence == "CAVOK"


def judge_ceiling(code: Codes, ft: Floats, required_ft: Floats) -> Codes:
    """Return verdicts of ceilings against required heights, element by element."""
    enough = ft >= required_ft
    at = np.where(enough, MEETS, MISSES)
    none = np.where(enough, MEETS, UNKNOWN)
    not_known = np.where(enough, UNKNOWN, MISSES)
    return np.select([code == AT, code == NONE], [at, none], not_known).astype(np.int8)


def judge_visibility(code: Codes, sm: Floats, required_sm: Floats) -> Codes:
    """Return verdicts of visibilities against required ones, element by element.

    A value that stands for "this or more" satisfies any minimum from `OPEN_VISIBILITY_SM` up: the
    report cannot say more, and the answer names it.
    """
    enough = sm >= required_sm
    exact = np.where(enough | (sm >= 10.0), MEETS, MISSES)
    at_least = np.where(enough | (sm >= OPEN_VISIBILITY_SM), MEETS, UNKNOWN)
    less = np.where(sm <= required_sm, MISSES, UNKNOWN)
    not_known = np.where(enough, UNKNOWN, MISSES)
    return np.select(
        [code == EXACT, code == AT_LEAST, code == LESS_THAN], [exact, at_least, less], not_known
    ).astype(np.int8)


def seconds(instant: datetime) -> float:
    """Return seconds since the epoch of an aware instant."""
    return instant.timestamp()


def judge_one(conditions: Conditions, required_ft: float, required_sm: float) -> tuple[np.int8, np.int8]:
    """Return the verdicts on ceiling and visibility of one state: the array rule on arrays of one."""
    ceiling, ft = ceiling_code(conditions.ceiling)
    visibility, sm = visibility_code(conditions.visibility)
    return (
        judge_ceiling(np.array([ceiling]), np.array([ft]), np.array([required_ft]))[0],
        judge_visibility(np.array([visibility]), np.array([sm]), np.array([required_sm]))[0],
    )
