"""What reports and forecasts together prove for a window of arrival (method.md 4), on arrays.

An *ask* is one question to the weather: does this set of report stations and forecast stations
meet a requirement in one window. A field with its own station is one ask, a field that borrows is
one ask, and each station of the area around a field is one ask more. All are answered in one pass.

Report and forecast together, by minutes from the report to the latest arrival:

    up to 60    the report must meet, and the forecast where there is one; a report alone is enough
    60 to 120   a report that misses makes it unknown at best; a report alone only with NOSIG
    beyond      the forecast alone, unless its station's report is worse than it said for that hour,
                or that station has been heard before and is silent

A report older than 75 minutes is stale, which is the same as silent.
"""

from dataclasses import dataclass, replace

import numpy as np

from refuge.flight.state_arrays import Bools, Floats, Ints, States, judge_ceiling, judge_visibility
from refuge.flight.verdict import MEETS, MISSES, UNKNOWN, Codes, at_best_unknown, no_worse_than_unknown

REPORT_CARRIES_MIN = 60.0
REPORT_WITH_NOSIG_CARRIES_MIN = 120.0
STALE_AFTER_MIN = 75.0
PROVED_BY_ANY_TAF_FT = 1500.0
"""A TAF outside the United States and Canada need not mention a ceiling that changes above this
height (ICAO Annex 3, appendix 5; from memory)."""
PROVED_BY_ANY_TAF_SM = 3.0
"""Likewise 5 km of visibility; 4,800 m is 3 SM by AFMAN 15-111, table 8.1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StationFacts:
    """What the time rules need to know of each station; every array has shape (stations,).

    ``observed_s`` is the time of the latest report (NaN-free: 0 where ``fresh`` is false).
    ``fresh`` means there is a report that is not stale. ``silent`` means that the station was heard
    reporting before and has no fresh report. ``covered_from_s`` and ``covered_to_s`` bound what its
    forecasts cover (empty where it has none). ``full_taf`` means that its forecasts mention every
    change that matters (United States and Canada).
    """

    observed_s: Floats
    fresh: Bools
    silent: Bools
    nosig: Bools
    has_forecast: Bools
    covered_from_s: Floats
    covered_to_s: Floats
    full_taf: Bools


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs:
    """Which stations an ask rests on, and what it requires of each; arrays of shape (pairs,).

    ``required_ft`` is above the station. ``doubt_ceiling`` and ``doubt_visibility`` mark values that
    cannot be carried to the field: they can still miss, not meet. ``skip_...`` marks stations without
    a sensor for the element: they do not bear for it.
    """

    ask: Ints
    station: Ints
    required_ft: Floats
    required_sm: Floats
    doubt_ceiling: Bools
    doubt_visibility: Bools
    skip_ceiling: Bools
    skip_visibility: Bools


@dataclass(frozen=True, slots=True, kw_only=True)
class Asks:
    """The windows of asks, in seconds since the epoch; arrays of shape (asks,).

    ``arrival_latest_s`` is the latest break-out, from which the report's minutes count.
    """

    start_s: Floats
    end_s: Floats
    arrival_latest_s: Floats
    now_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The worst state of each pair: its verdict, its row and how much it lacks; shape (pairs,).

    ``row`` is -1 where no row touches the window.
    """

    code: Codes
    row: Ints
    lack: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class StationWeather:
    """All that is known of the weather at some stations: facts, and states of reports and forecasts."""

    facts: StationFacts
    reports: States
    forecasts: States


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Verdicts of asks (arrays of shape (asks,)), with the judged pairs behind them.

    ``minutes_from_report`` is what the time rule went by; ``doubtful`` where a forecast is already
    wrong, or cannot be checked because its station is silent.
    """

    code: Codes
    reports: Judged
    forecasts: Judged
    has_report: Bools
    has_forecast: Bools
    minutes_from_report: Floats
    doubtful: Bools


def judge(states: States, pairs: Pairs, start_s: Floats, end_s: Floats, *, prevailing_only: bool = False) -> Judged:
    """Return for each pair the worst state of its station that touches its window (shape (pairs,))."""
    pair, row = states.touching(pairs.station, start_s, end_s)
    if prevailing_only:
        kept = states.prevailing[row]
        pair, row = pair[kept], row[kept]
    code, lack = _judge_rows(states, pairs, pair, row)
    order = np.lexsort((-lack, code, pair))
    pair, row, code, lack = pair[order], row[order], code[order], lack[order]
    lead = np.concatenate(([True], pair[1:] != pair[:-1])) if pair.size else np.zeros(0, dtype=bool)
    result = Judged(
        code=np.full(pairs.station.shape, UNKNOWN, dtype=np.int8),
        row=np.full(pairs.station.shape, -1, dtype=np.int64),
        lack=np.ones(pairs.station.shape),
    )
    result.code[pair[lead]], result.row[pair[lead]], result.lack[pair[lead]] = code[lead], row[lead], lack[lead]
    return result


def any_with(states: States, pairs: Pairs, start_s: Floats, end_s: Floats, flag: Bools) -> Bools:
    """Return for each pair whether any of its station's states in the window carries `flag` (rows,)."""
    pair, row = states.touching(pairs.station, start_s, end_s)
    found = np.zeros(pairs.station.shape, dtype=bool)
    found[pair[flag[row]]] = True
    return found


def _judge_rows(states: States, pairs: Pairs, pair: Ints, row: Ints) -> tuple[Codes, Floats]:
    required_ft, required_sm = pairs.required_ft[pair], pairs.required_sm[pair]
    ceiling = judge_ceiling(states.ceiling_code[row], states.ceiling_ft[row], required_ft)
    visibility = judge_visibility(states.visibility_code[row], states.visibility_sm[row], required_sm)
    ceiling = np.where(pairs.doubt_ceiling[pair], at_best_unknown(ceiling), ceiling)
    visibility = np.where(pairs.doubt_visibility[pair], at_best_unknown(visibility), visibility)
    ceiling = np.where(pairs.skip_ceiling[pair], MEETS, ceiling)
    # A requirement of no visibility is one of the ceiling alone: weather is not asked either.
    ceiling_only = required_sm <= 0.0
    visibility = np.where(pairs.skip_visibility[pair] | ceiling_only, MEETS, visibility)
    violent = np.where(states.violent[row] & ~ceiling_only, MISSES, MEETS)
    code = np.minimum.reduce([ceiling, visibility, violent]).astype(np.int8)
    lack = np.maximum.reduce(
        [
            _lack(ceiling, states.ceiling_ft[row], required_ft),
            _lack(visibility, states.visibility_sm[row], required_sm),
            np.where(violent == MEETS, 0.0, 1.0),
        ]
    )
    return code, lack


def _lack(code: Codes, value: Floats, required: Floats) -> Floats:
    """Return shortfall over requirement: 0 where met, 1 where it is no number."""
    number = np.isfinite(value) & (required > 0.0) & (value < required)
    share = np.divide(required - value, required, out=np.ones_like(required), where=number)
    return np.where(code == MEETS, 0.0, np.where(number, share, 1.0))


def least_per_ask(asks: int, ask: Ints, code: Codes) -> tuple[Codes, Bools]:
    """Return the worst code of each ask's pairs (MEETS where it has none), and which asks have any."""
    result = np.full(asks, MEETS, dtype=np.int8)
    np.minimum.at(result, ask, code)
    return result, np.bincount(ask, minlength=asks) > 0


def answer(
    asks: Asks,
    weather: StationWeather,
    report_pairs: Pairs,
    forecast_pairs: Pairs,
    *,
    prevailing_only: bool = False,
) -> Answer:
    """Return the verdict of each ask from its report pairs and its forecast pairs.

    With `prevailing_only` the states that a forecast gives as temporary or probable are left out;
    that answer orders what misses, and is never a verdict.
    """
    n, facts = asks.start_s.size, weather.facts
    start, end = asks.start_s[report_pairs.ask], asks.end_s[report_pairs.ask]
    said = judge(weather.reports, report_pairs, start, end, prevailing_only=prevailing_only)
    said = replace(said, code=np.where(facts.fresh[report_pairs.station], said.code, UNKNOWN).astype(np.int8))
    report, has_report = least_per_ask(n, report_pairs.ask, said.code)
    report = _bearing(report, report_pairs, n)
    minutes, nosig = _minutes_from_report(asks, facts, report_pairs, has_report)

    near = has_report & (minutes <= REPORT_WITH_NOSIG_CARRIES_MIN)
    foretold, wrong = _forecast_codes(
        asks, weather, forecast_pairs, backed=near & (report == MEETS), prevailing_only=prevailing_only
    )
    forecast, has_forecast = least_per_ask(n, forecast_pairs.ask, foretold.code)
    forecast = _bearing(forecast, forecast_pairs, n)
    doubtful = np.zeros(n, dtype=bool)
    doubtful[forecast_pairs.ask[wrong]] = True
    code = _together(
        report=report, has_report=has_report, forecast=forecast, has_forecast=has_forecast, doubtful=doubtful,
        minutes=minutes, nosig=nosig,
    )  # fmt: skip
    return Answer(
        code=code, reports=said, forecasts=foretold, has_report=has_report, has_forecast=has_forecast,
        minutes_from_report=minutes, doubtful=doubtful,
    )  # fmt: skip


def _minutes_from_report(asks: Asks, facts: StationFacts, pairs: Pairs, has_report: Bools) -> tuple[Floats, Bools]:
    """Return for each ask the minutes from its oldest report to the latest arrival, and whether all say NOSIG.

    Where there is no fresh report the minutes count from now: that is how far ahead the arrival is.
    """
    n = asks.start_s.size
    ahead = (asks.arrival_latest_s - asks.now_s) / 60.0
    fresh = facts.fresh[pairs.station]
    since = (asks.arrival_latest_s[pairs.ask] - facts.observed_s[pairs.station]) / 60.0
    minutes = np.full(n, -np.inf)
    np.maximum.at(minutes, pairs.ask, np.where(fresh, since, ahead[pairs.ask]))
    nosig = np.ones(n, dtype=bool)
    np.logical_and.at(nosig, pairs.ask, facts.nosig[pairs.station] & fresh)
    return np.where(has_report, minutes, ahead), nosig & has_report


def _bearing(code: Codes, pairs: Pairs, asks: int) -> Codes:
    """Return `code`, unknown at best where no station of an ask bears for the ceiling, or for the visibility."""
    any_pair = np.bincount(pairs.ask, minlength=asks) > 0
    ceiling = np.bincount(pairs.ask[~pairs.skip_ceiling], minlength=asks) > 0
    visibility = np.bincount(pairs.ask[~pairs.skip_visibility], minlength=asks) > 0
    return np.where(any_pair & ~(ceiling & visibility), at_best_unknown(code), code).astype(np.int8)


def _forecast_codes(
    asks: Asks, weather: StationWeather, pairs: Pairs, *, backed: Bools, prevailing_only: bool
) -> tuple[Judged, Bools]:
    """Return what the forecasts say of each pair, and which of them are wrong already or cannot be checked.

    `backed` (asks,) says where the latest report meets and bears on the arrival, so that a forecast
    which need not mention every change is not alone.
    """
    facts, forecasts, station = weather.facts, weather.forecasts, pairs.station
    start, end = asks.start_s[pairs.ask], asks.end_s[pairs.ask]
    judged = judge(forecasts, pairs, start, end, prevailing_only=prevailing_only)
    covered = (start >= facts.covered_from_s[station]) & (end <= facts.covered_to_s[station])
    may_hide_changes = ~facts.full_taf[station] & ~backed[pairs.ask]
    bare_ceiling = any_with(forecasts, pairs, start, end, ~forecasts.proves_ceiling)
    bare_visibility = any_with(forecasts, pairs, start, end, ~forecasts.proves_visibility)
    unproved = ((pairs.required_ft > PROVED_BY_ANY_TAF_FT) & bare_ceiling) | (
        (pairs.required_sm > PROVED_BY_ANY_TAF_SM) & bare_visibility
    )
    doubt = ~covered | (may_hide_changes & unproved)
    code = np.where(doubt, at_best_unknown(judged.code), judged.code).astype(np.int8)

    observed = facts.observed_s[station]
    now_says = judge(weather.reports, pairs, observed, observed)
    said_then = judge(forecasts, pairs, observed, observed)
    wrong = facts.fresh[station] & (now_says.code == MISSES) & (said_then.code == MEETS)
    return replace(judged, code=code), np.asarray(wrong | facts.silent[station])


def _together(
    *, report: Codes, has_report: Bools, forecast: Codes, has_forecast: Bools, doubtful: Bools, minutes: Floats,
    nosig: Bools,
) -> Codes:  # fmt: skip
    """Return the verdict of asks by the rule at the head of this module."""
    known_forecast = np.where(has_forecast, forecast, MEETS).astype(np.int8)
    softened = no_worse_than_unknown(report)
    alone = np.where(nosig, softened, at_best_unknown(softened))
    first_hour = np.minimum(report, known_forecast)
    second_hour = np.where(has_forecast, np.minimum(softened, known_forecast), alone)
    unreported = np.minimum(UNKNOWN, known_forecast)
    later = np.where(has_forecast, np.where(doubtful, at_best_unknown(forecast), forecast), UNKNOWN)
    return np.select(
        [minutes > REPORT_WITH_NOSIG_CARRIES_MIN, ~has_report, minutes <= REPORT_CARRIES_MIN],
        [later, unreported, first_hour],
        second_hour,
    ).astype(np.int8)
