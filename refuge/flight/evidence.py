"""What reports and forecasts together prove for a window of arrival (method.md 4), on arrays.

An *ask* is one question to the weather: does this set of report stations and forecast stations
meet a requirement in one window. A field with its own station is one ask, a field that borrows is
one ask, and each station of the area around a field is one ask more. All are answered in one pass.

Report and forecast together, by minutes from each report to the latest arrival:

    up to 60    the report must meet, and the forecast where there is one; a report alone is enough
    60 to 120   a report that misses makes it unknown at best; a report alone only with NOSIG
    beyond      the forecast alone

Each report counts by its own age: an older one beside it makes no younger one count less. Where the
forecast carries the answer (a report is older than 60 minutes by then), it is doubtful, and proves
nothing, if its station's report now does not bear out what it said for the same hour, if that station
has been heard before and is silent, or, within two hours, if that station does not report at all.
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

    ``observed_s`` is the time of the latest report, never after now (NaN-free: 0 where ``fresh`` is false).
    ``fresh`` means there is a report that is not stale. ``silent`` means that the station was heard
    reporting before and has no fresh report. ``covered_from_s`` and ``covered_to_s`` bound what its
    forecasts cover (empty where it has none). ``full_taf`` means that its forecasts mention every
    change that matters (United States and Canada). ``ever_ceiling`` and ``ever_visibility`` say whether
    its reports ever gave that element: it has a sensor.
    """

    observed_s: Floats
    fresh: Bools
    silent: Bools
    nosig: Bools
    has_forecast: Bools
    covered_from_s: Floats
    covered_to_s: Floats
    full_taf: Bools
    ever_ceiling: Bools
    ever_visibility: Bools


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs:
    """Which stations an ask rests on, and what it requires of each; arrays of shape (pairs,).

    ``required_ft`` is above the station. ``doubt_ceiling`` and ``doubt_visibility`` mark values that
    cannot be carried to the field: they can still miss, not meet. ``skip_...`` marks stations without
    a sensor for the element: their reports do not bear for it. Forecasts need no sensor.
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

    ``arrival_latest_s`` is the latest break-out of a flight that leaves on time, to which a report's minutes count;
    one that is planned may come ``late_by_min`` later: what holds at either time counts, the worse of both.
    """

    start_s: Floats
    end_s: Floats
    arrival_latest_s: Floats
    now_s: float
    late_by_min: float = 0.0


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

    ``minutes_from_report`` counts from the oldest report to the latest arrival, slip included; ``doubtful`` where a
    forecast is already wrong, or cannot be checked because its station is silent. ``bears_ceiling`` and
    ``bears_visibility`` say whether anything in the ask tells of that element.
    """

    code: Codes
    reports: Judged
    forecasts: Judged
    has_report: Bools
    has_forecast: Bools
    minutes_from_report: Floats
    doubtful: Bools
    bears_ceiling: Bools
    bears_visibility: Bools


def judge(states: States, pairs: Pairs, start_s: Floats, end_s: Floats, *, prevailing_only: bool = False) -> Judged:
    """Return for each pair the worst state of its station that touches its window (shape (pairs,))."""
    pair, row = states.touching(pairs.station, start_s, end_s)
    if prevailing_only:
        kept = states.prevailing[row]
        pair, row = pair[kept], row[kept]
    code, lack = judge_rows(states, pairs, pair, row)
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


def judge_rows(states: States, pairs: Pairs, pair: Ints, row: Ints) -> tuple[Codes, Floats]:
    """Return verdict and lack of rows of states, each for a pair that asks it (shape (rows asked,))."""
    ceiling, visibility, violent = _elements(states, pairs, pair, row)
    code = np.minimum.reduce([ceiling, visibility, violent]).astype(np.int8)
    lack = np.maximum.reduce(
        [
            _lack(ceiling, states.ceiling_ft[row], pairs.required_ft[pair]),
            _lack(visibility, states.visibility_sm[row], pairs.required_sm[pair]),
            np.where(violent == MEETS, 0.0, 1.0),
        ]
    )
    return code, lack


def _elements(states: States, pairs: Pairs, pair: Ints, row: Ints) -> tuple[Codes, Codes, Codes]:
    """Return the verdicts of rows on ceiling, visibility and violent weather."""
    required_sm = pairs.required_sm[pair]
    ceiling = judge_ceiling(states.ceiling_code[row], states.ceiling_ft[row], pairs.required_ft[pair])
    visibility = judge_visibility(states.visibility_code[row], states.visibility_sm[row], required_sm)
    ceiling = np.where(pairs.required_ft[pair] > states.proved_ft[row], at_best_unknown(ceiling), ceiling)
    visibility = np.where(required_sm > states.proved_sm[row], at_best_unknown(visibility), visibility)
    ceiling = np.where(pairs.doubt_ceiling[pair], at_best_unknown(ceiling), ceiling)
    visibility = np.where(pairs.doubt_visibility[pair], at_best_unknown(visibility), visibility)
    ceiling = np.where(pairs.skip_ceiling[pair], MEETS, ceiling)
    # A requirement of no visibility is one of the ceiling alone: weather is not asked either.
    ceiling_only = required_sm <= 0.0
    visibility = np.where(pairs.skip_visibility[pair] | ceiling_only, MEETS, visibility)
    violent = np.where(states.violent[row] & ~ceiling_only, MISSES, MEETS)
    return ceiling.astype(np.int8), visibility.astype(np.int8), violent.astype(np.int8)


def _worst_elements(states: States, pairs: Pairs, at_s: Floats) -> tuple[Codes, Codes, Codes]:
    """Return for each pair the worst of each element at an instant; unknown where no state speaks of it."""
    pair, row = states.touching(pairs.station, at_s, at_s)
    worst = []
    for codes in _elements(states, pairs, pair, row):
        least, any_row = least_per_ask(pairs.station.size, pair, codes)
        worst.append(np.where(any_row, least, UNKNOWN).astype(np.int8))
    return worst[0], worst[1], worst[2]


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
    must_bear: bool = True,
    prevailing_only: bool = False,
) -> Answer:
    """Return the verdict of each ask from its report pairs and its forecast pairs.

    With `must_bear` an ask of which nothing tells of the ceiling, or of the visibility, is unknown at
    best; an ask that is one of several may leave that to the others. With `prevailing_only` the
    states that a forecast gives as temporary or probable are left out; that answer orders what
    misses, and is never a verdict.
    """
    n, facts = asks.start_s.size, weather.facts
    said = _report_codes(asks, weather, report_pairs, prevailing_only=prevailing_only)
    minutes = _minutes_from_report(asks, facts, report_pairs)
    has_report = np.bincount(report_pairs.ask, minlength=n) > 0
    oldest = np.where(has_report, -np.inf, (asks.arrival_latest_s - asks.now_s) / 60.0)
    np.maximum.at(oldest, report_pairs.ask, minutes)

    # No slip is longer than the hour between the limits: what lies between the two times is as one of them.
    times = (minutes, minutes + asks.late_by_min)
    backed = np.logical_and.reduce([_backed(n, report_pairs, said.code, each) for each in times])
    foretold = _forecast_codes(asks, weather, forecast_pairs, backed=backed, prevailing_only=prevailing_only)
    latest = oldest + asks.late_by_min
    doubt = _doubtful(asks, weather, forecast_pairs) & (latest > REPORT_CARRIES_MIN)[forecast_pairs.ask]
    relied = np.where(doubt, at_best_unknown(foretold.code), foretold.code).astype(np.int8)
    forecast, has_forecast = least_per_ask(n, forecast_pairs.ask, relied)
    nosig, beside = (facts.nosig & facts.fresh)[report_pairs.station], has_forecast[report_pairs.ask]
    counted = [_counted(said.code, each, nosig=nosig, has_forecast=beside) for each in times]
    report, _ = least_per_ask(n, report_pairs.ask, np.minimum.reduce(counted))
    nothing = ~has_report & (~has_forecast | (oldest <= REPORT_WITH_NOSIG_CARRIES_MIN))
    code = np.minimum.reduce([report, forecast, np.where(nothing, UNKNOWN, MEETS)]).astype(np.int8)

    ceiling, visibility = _bearing(
        report_pairs, n, by_forecast=has_forecast & (oldest > REPORT_WITH_NOSIG_CARRIES_MIN)
    )
    if must_bear:
        code = np.where(ceiling & visibility, code, at_best_unknown(code)).astype(np.int8)
    return Answer(
        code=code, reports=said, forecasts=foretold, has_report=has_report, has_forecast=has_forecast,
        minutes_from_report=latest, doubtful=np.bincount(forecast_pairs.ask[doubt], minlength=n) > 0,
        bears_ceiling=ceiling, bears_visibility=visibility,
    )  # fmt: skip


def _report_codes(asks: Asks, weather: StationWeather, pairs: Pairs, *, prevailing_only: bool) -> Judged:
    """Return what the reports say of each pair; unknown where there is none that is fresh."""
    start, end = asks.start_s[pairs.ask], asks.end_s[pairs.ask]
    said = judge(weather.reports, pairs, start, end, prevailing_only=prevailing_only)
    code = np.where(weather.facts.fresh[pairs.station], said.code, UNKNOWN)
    return replace(said, code=code.astype(np.int8))


def _bearing(pairs: Pairs, asks: int, *, by_forecast: Bools) -> tuple[Bools, Bools]:
    """Return which asks are told of the ceiling, and of the visibility: by a sensor, or by a forecast alone."""
    ceiling = np.bincount(pairs.ask[~pairs.skip_ceiling], minlength=asks) > 0
    visibility = np.bincount(pairs.ask[~pairs.skip_visibility], minlength=asks) > 0
    return by_forecast | ceiling, by_forecast | visibility


def _minutes_from_report(asks: Asks, facts: StationFacts, pairs: Pairs) -> Floats:
    """Return for each pair the minutes from its report to the latest arrival.

    Where there is no fresh report the minutes count from now: that is how far ahead the arrival is.
    """
    since = np.where(facts.fresh[pairs.station], facts.observed_s[pairs.station], asks.now_s)
    return np.asarray((asks.arrival_latest_s[pairs.ask] - since) / 60.0)


def _counted(code: Codes, minutes: Floats, *, nosig: Bools, has_forecast: Bools) -> Codes:
    """Return what each report comes to, by the rule at the head of this module."""
    softened = no_worse_than_unknown(code)
    second_hour = np.where(has_forecast | nosig, softened, at_best_unknown(softened))
    beyond = np.where(has_forecast, MEETS, UNKNOWN)
    return np.select(
        [minutes <= REPORT_CARRIES_MIN, minutes <= REPORT_WITH_NOSIG_CARRIES_MIN], [code, second_hour], beyond
    ).astype(np.int8)


def _backed(asks: int, pairs: Pairs, code: Codes, minutes: Floats) -> Bools:
    """Return where reports near enough in time all meet and tell of both elements: no forecast is alone there."""
    near = minutes <= REPORT_WITH_NOSIG_CARRIES_MIN
    worst, any_near = least_per_ask(asks, pairs.ask[near], code[near])
    ceiling = np.bincount(pairs.ask[near & ~pairs.skip_ceiling], minlength=asks) > 0
    visibility = np.bincount(pairs.ask[near & ~pairs.skip_visibility], minlength=asks) > 0
    return np.asarray(any_near & (worst == MEETS) & ceiling & visibility)


def _forecast_codes(
    asks: Asks, weather: StationWeather, pairs: Pairs, *, backed: Bools, prevailing_only: bool
) -> Judged:
    """Return what the forecasts say of each pair.

    `backed` (asks,) says where the latest report meets and bears on the arrival, so that a forecast
    which need not mention every change is not alone.
    """
    facts, forecasts, station = weather.facts, weather.forecasts, pairs.station
    start, end = asks.start_s[pairs.ask], asks.end_s[pairs.ask]
    judged = judge(forecasts, pairs, start, end, prevailing_only=prevailing_only)
    covered = (start >= facts.covered_from_s[station]) & (end <= facts.covered_to_s[station])
    may_hide_changes = ~facts.full_taf[station] & ~backed[pairs.ask]
    if not may_hide_changes.any():
        code = np.where(covered, judged.code, at_best_unknown(judged.code)).astype(np.int8)
        return replace(judged, code=code)
    bare_ceiling = any_with(forecasts, pairs, start, end, ~forecasts.proves_ceiling)
    bare_visibility = any_with(forecasts, pairs, start, end, ~forecasts.proves_visibility)
    unproved = ((pairs.required_ft > PROVED_BY_ANY_TAF_FT) & bare_ceiling) | (
        (pairs.required_sm > PROVED_BY_ANY_TAF_SM) & bare_visibility
    )
    doubt = ~covered | (may_hide_changes & unproved)
    code = np.where(doubt, at_best_unknown(judged.code), judged.code).astype(np.int8)
    return replace(judged, code=code)


def _doubtful(asks: Asks, weather: StationWeather, pairs: Pairs) -> Bools:
    """Return which forecasts are wrong already, or cannot be checked (shape (pairs,)).

    A forecast is borne out by its station's report if, element by element, the report meets or the
    forecast did not say so either. What the report leaves unknown bears out nothing, unless the station
    has no sensor for it.
    """
    facts, station = weather.facts, pairs.station
    observed = facts.observed_s[station]
    borne_out = np.ones(station.shape, dtype=bool)
    sensors = (facts.ever_ceiling[station], facts.ever_visibility[station], np.ones(station.shape, dtype=bool))
    now_says = _worst_elements(weather.reports, pairs, observed)
    said_then = _worst_elements(weather.forecasts, pairs, observed)
    for report, forecast, sensor in zip(now_says, said_then, sensors, strict=True):
        borne_out &= (report == MEETS) | (forecast == MISSES) | ~sensor
    within = asks.arrival_latest_s[pairs.ask] - asks.now_s <= 60.0 * REPORT_WITH_NOSIG_CARRIES_MIN
    fresh = facts.fresh[station]
    return np.asarray((fresh & ~borne_out) | facts.silent[station] | (~fresh & within))
