"""The runway check: length, surface, lights by night, and the wind at arrival, on arrays.

For every wind that may be met in the window some runway of the field must suit: be open, long and
hard enough as far as the minimums ask, lit by night, and across the wind by no more than they allow.
Both ends of a runway must be long enough, since the wind decides which is used. Closed runways and
water never count. The winds are those of the reports and forecasts that the field's weather rests on.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from refuge.airfield import Airfield, Runway, ends_of
from refuge.flight.arrival import Arrival
from refuge.flight.crosswind import WindRows, across_kt, tail_kt, wind_rows
from refuge.flight.evidence import REPORT_CARRIES_MIN, REPORT_WITH_NOSIG_CARRIES_MIN
from refuge.flight.minimums import Minimums
from refuge.flight.state_arrays import Bools, Floats, Ints, States
from refuge.flight.station_weather import Network
from refuge.flight.verdict import MEETS, MISSES, NOT_CHECKED, UNKNOWN, Codes, at_best_unknown, no_worse_than_unknown
from refuge.flight.weigh import Weighed
from refuge.weather.wind import KnownWind, Wind


@dataclass(frozen=True, slots=True, kw_only=True)
class Winds:
    """The winds that may be met at n fields: pairs of a field and a wind, and what is doubtful of each field.

    ``soft`` marks pairs whose miss is no more than a doubt (a report by then over an hour old);
    ``doubtful`` (n,) the fields at which the winds known may not be all.
    """

    rows: WindRows
    field: Ints
    row: Ints
    soft: Bools
    said: tuple[Wind, ...]
    doubtful: Bools


@dataclass(frozen=True, slots=True, kw_only=True)
class EndWind:
    """One end of a runway under every wind that may be met: crosswind and tailwind at the worst.

    ``None`` where heading or a wind is not known. ``code`` is the verdict on the runway itself, wind aside.
    """

    ident: str
    runway: Runway
    landing_ft: int | None
    crosswind_kt: float | None
    tailwind_kt: float | None
    code: np.int8


def runway_codes(airfields: Sequence[Airfield], minimums: Minimums, night: Bools, winds: Winds | None) -> Codes:
    """Return whether the runways of each field suit; not checked where nothing is asked and nothing is closed.

    `winds` is ``None`` where the minimums ask for no crosswind.
    """
    own = np.array([_own_code(airfield, minimums) for airfield in airfields], dtype=np.int8)
    asked = minimums.hard_surface or minimums.runway_length_ft is not None or winds is not None
    if not asked:
        return own
    fields, codes, headings = _flat(airfields, minimums, night)
    best = np.full(len(airfields), -1, dtype=np.int8)
    np.maximum.at(best, fields, codes)
    best = np.where(best < 0, UNKNOWN, best).astype(np.int8)
    if winds is not None and minimums.max_crosswind_kt is not None:
        best = np.minimum(best, _under_winds(winds, fields, codes, headings, minimums.max_crosswind_kt))
    return np.minimum(own, best).astype(np.int8)


def _own_code(airfield: Airfield, minimums: Minimums) -> np.int8:
    """Return what is said of the field as a whole: all closed or water, or private where that is left out."""
    closed = bool(airfield.runways) and all(no_runway(runway) for runway in airfield.runways or ())
    if closed or (minimums.no_private and airfield.private):
        return MISSES
    return UNKNOWN if minimums.no_private and airfield.private is None else NOT_CHECKED


def no_runway(runway: Runway) -> bool:
    """Return whether a runway never counts: closed, or water."""
    return runway.closed or runway.surface == "water"


def suits(runway: Runway, minimums: Minimums, *, night: bool) -> np.int8:
    """Return whether one runway is open, lit by night, long and hard enough; unknown where its data do not say."""
    if no_runway(runway):
        return MISSES
    codes = [MEETS]
    if minimums.hard_surface:
        codes.append({"hard": MEETS, "unknown": UNKNOWN}.get(runway.surface, MISSES))
    if minimums.runway_length_ft is not None:
        lengths = [end.landing_ft for end in runway.ends] or [runway.length_ft]
        short = any(ft is not None and ft < minimums.runway_length_ft for ft in (*lengths, runway.length_ft))
        codes.append(MISSES if short else UNKNOWN if None in lengths else MEETS)
    if night and runway.lighted is not True:
        codes.append(UNKNOWN if runway.lighted is None else MISSES)
    return np.int8(min(codes))


def _flat(airfields: Sequence[Airfield], minimums: Minimums, night: Bools) -> tuple[Ints, Codes, Floats]:
    """Return the runways of all fields: field of each, its own verdict, its heading (inf: not known)."""
    fields, codes, headings = [], [], []
    for i, airfield in enumerate(airfields):
        for runway in airfield.runways or ():
            heading = heading_of(runway)
            fields.append(i)
            codes.append(suits(runway, minimums, night=bool(night[i])))
            headings.append(np.inf if heading is None else heading)
    return (
        np.array(fields, dtype=np.int64), np.array(codes, dtype=np.int8), np.array(headings, dtype=float),
    )  # fmt: skip


def heading_of(runway: Runway) -> float | None:
    """Return the true heading of a runway: that of its first end, or the other's turned about."""
    ends = runway.ends
    if not ends:
        return runway.heading_deg_true
    first = ends[0].heading_deg_true
    if first is None and len(ends) > 1 and ends[1].heading_deg_true is not None:
        return (ends[1].heading_deg_true + 180.0) % 360.0
    return first


def _under_winds(winds: Winds, fields: Ints, codes: Codes, headings: Floats, most_kt: float) -> Codes:
    """Return for each field the worst over its winds of the best of its runways; unknown where it has no wind."""
    n = winds.doubtful.size
    count = np.bincount(fields, minlength=n)
    first = np.cumsum(count) - count
    pair = np.repeat(np.arange(winds.field.size), count[winds.field])
    offset = np.arange(pair.size) - np.repeat(
        np.cumsum(count[winds.field]) - count[winds.field], count[winds.field]
    )
    runway = first[winds.field[pair]] + offset
    known = winds.rows.known[winds.row[pair]] & np.isfinite(headings[runway])
    across = across_kt(winds.rows, winds.row[pair], np.where(known, headings[runway], 0.0))
    # A hair of arithmetic is no crosswind.
    wind = np.where(known, np.where(across <= most_kt + 1e-6, MEETS, MISSES), UNKNOWN)
    best = np.full(winds.field.shape, -1, dtype=np.int8)
    np.maximum.at(best, pair, np.minimum(codes[runway], wind).astype(np.int8))
    best = np.where(best < 0, UNKNOWN, best).astype(np.int8)
    best = np.where(winds.soft, no_worse_than_unknown(best), best)
    worst = np.full(n, MEETS, dtype=np.int8)
    np.minimum.at(worst, winds.field, best)
    nothing = np.bincount(winds.field, minlength=n) == 0
    return np.where(winds.doubtful | nothing, at_best_unknown(worst), worst).astype(np.int8)


def winds_at(network: Network, weighed: Weighed, arrival: Arrival) -> Winds:
    """Return the winds that may be met in the window of each field, by the time rules of the evidence.

    A report counts for 60 minutes, as a doubt for 120, and no longer; forecasts count throughout.
    Where a report is over an hour old by then and no forecast covers the window, where one that bears is
    silent, or where there is neither, the winds known may not be all.
    """
    facts, inquiry = network.weather.facts, weighed.inquiry
    reports = inquiry.reports
    # Each report by its own age: an older one beside it makes no younger one count less.
    minutes = (arrival.latest_s[reports.field] - facts.observed_s[reports.station]) / 60.0
    seen = _touching(network.weather.reports, reports.station, reports.field, arrival)
    foretold = _touching(network.weather.forecasts, inquiry.forecasts.station, inquiry.forecasts.field, arrival)
    fresh = facts.fresh[reports.station[seen[0]]] & (minutes[seen[0]] <= REPORT_WITH_NOSIG_CARRIES_MIN)
    field = np.concatenate([reports.field[seen[0][fresh]], inquiry.forecasts.field[foretold[0]]])
    states = [network.weather.reports.rows[int(r)].conditions.wind for r in np.unique(seen[1][fresh])]
    later = [network.weather.forecasts.rows[int(r)].conditions.wind for r in np.unique(foretold[1])]
    row = np.concatenate([_place(seen[1][fresh]), len(states) + _place(foretold[1])]).astype(np.int64)
    hour_old = minutes[seen[0][fresh]] > REPORT_CARRIES_MIN
    return Winds(
        rows=wind_rows([*states, *later]),
        field=field,
        row=row,
        soft=np.concatenate([hour_old, np.zeros(foretold[0].size, dtype=bool)]),
        said=(*states, *later),
        doubtful=_doubtful(network, weighed, arrival),
    )


def _place(rows: Ints) -> Ints:
    """Return the place of each row among the distinct ones."""
    return np.asarray(np.unique(rows, return_inverse=True)[1], dtype=np.int64)


def _touching(states: States, station: Ints, field: Ints, arrival: Arrival) -> tuple[Ints, Ints]:
    return states.touching(station, arrival.start_s[field], arrival.end_s[field])


def _doubtful(network: Network, weighed: Weighed, arrival: Arrival) -> Bools:
    facts, inquiry, answer = network.weather.facts, weighed.inquiry, weighed.answer
    n = answer.minutes_from_report.size
    silent = np.bincount(inquiry.reports.field[~facts.fresh[inquiry.reports.station]], minlength=n) > 0
    station, field = inquiry.forecasts.station, inquiry.forecasts.field
    covered = (arrival.start_s[field] >= facts.covered_from_s[station]) & (
        arrival.end_s[field] <= facts.covered_to_s[station]
    )
    uncovered = np.bincount(field[~covered], minlength=n) > 0
    old = answer.minutes_from_report > REPORT_CARRIES_MIN
    return silent | uncovered | (old & ~answer.has_forecast) | ~(answer.has_report | answer.has_forecast)


def end_winds(airfield: Airfield, i: int, minimums: Minimums, winds: Winds, *, night: bool) -> tuple[EndWind, ...]:
    """Return every end of the runways of field `i` that count, the best first."""
    mine = winds.row[winds.field == i]
    known = bool(mine.size) and bool(winds.rows.known[mine].all())
    found = []
    for runway in airfield.runways or ():
        code = suits(runway, minimums, night=night)
        for end in () if no_runway(runway) else ends_of(runway):
            across = tail = None
            if known and end.heading_deg_true is not None:
                heading = np.full(mine.shape, end.heading_deg_true)
                across = float(across_kt(winds.rows, mine, heading).max())
                tail = float(tail_kt(winds.rows, mine, heading).max())
            found.append(
                EndWind(
                    ident=end.ident, runway=runway, landing_ft=end.landing_ft, crosswind_kt=across,
                    tailwind_kt=tail, code=code,
                )
            )  # fmt: skip
    return tuple(sorted(found, key=_merit))


def _merit(end: EndWind) -> tuple[int, float, float, int]:
    """Return what orders ends, least first: suits, least crosswind, least tailwind, longest."""
    across = np.inf if end.crosswind_kt is None else max(end.crosswind_kt, 0.0)
    tail = np.inf if end.tailwind_kt is None else end.tailwind_kt
    return -int(end.code), round(across, 3), round(tail, 3), -(end.landing_ft or 0)


def worst_wind(winds: Winds, i: int) -> Wind | None:
    """Return the strongest wind that may be met at field `i`, an unknown one first; ``None`` if there is none."""
    said = [winds.said[int(row)] for row in winds.row[winds.field == i]]
    return max(said, key=_strength, default=None)


def _strength(wind: Wind) -> float:
    return max(wind.speed_kt, wind.gust_kt or 0.0) if isinstance(wind, KnownWind) else np.inf
