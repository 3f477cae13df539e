"""What bars an airfield from meeting at certain hours, known before anything else of an arrival is.

An airfield meets only if every forecast that speaks of it, and of each station around it, meets in the whole
window; and beyond two hours only if there is such a forecast for each (refuge.flight.evidence). Both hang on
the airfield and the hour alone, so they are worked out once for many flights. Bars are judged by the least that
any hour asks, by day or by night: they leave in too much, never too little, and what they leave in is judged
in full.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from refuge.flight.arrival import Window
from refuge.flight.basis import Shared, night_limits
from refuge.flight.bearing import (
    AREA_NM,
    BORROW_FORECAST_NM,
    FieldArrays,
    base_pairs,
    near_pairs,
    requirement_pairs,
)
from refuge.flight.checks import PRESSURE_ALLOWANCE_FT
from refuge.flight.evidence import REPORT_WITH_NOSIG_CARRIES_MIN, Pairs, judge_rows
from refuge.flight.light import never_lit
from refuge.flight.question import Question
from refuge.flight.situation import Situation
from refuge.flight.state_arrays import Bools, Floats, Ints, States
from refuge.flight.verdict import MEETS
from refuge.flight.weigh import Inquiry, area_inquiry_of, far_above, field_inquiry, kept_of
from refuge.sun import is_day


@dataclass(frozen=True, slots=True, kw_only=True)
class Bars:
    """The periods that bar each airfield, and which airfields nothing is known of beyond two hours.

    ``first[f]`` and ``count[f]`` give the periods of airfield f: they begin at ``start_s``, and end before
    ``end_s``. The others have shape (fields,): what is never lit bars the night.
    """

    lat_deg: Floats
    lon_deg: Floats
    first: Ints
    count: Ints
    start_s: Floats
    end_s: Floats
    no_forecast: Bools
    no_light: Bools
    now_s: float

    def barred(self, at: Ints, window: Window) -> Bools:
        """Return which arrivals at airfields `at` cannot meet, by their windows."""
        count = self.count[at]
        row = np.repeat(np.arange(at.size), count)
        offset = np.arange(row.size) - np.repeat(np.cumsum(count) - count, count)
        bar = self.first[at][row] + offset
        touches = (self.start_s[bar] <= window.end_s[row]) & (self.end_s[bar] > window.start_s[row])
        found = self.no_forecast[at] & ((window.latest_s - self.now_s) / 60.0 > REPORT_WITH_NOSIG_CARRIES_MIN)
        found[row[touches]] = True
        return found

    def dark(self, at: Ints, window: Window) -> Bools:
        """Return which arrivals at airfields `at` fall in the night of one that is never lit."""
        unlit = np.flatnonzero(self.no_light[at])
        lat, lon = self.lat_deg[at[unlit]], self.lon_deg[at[unlit]]
        found = np.zeros(at.shape, dtype=bool)
        found[unlit] = ~is_day(lat, lon, window.earliest_s[unlit], window.landed_s[unlit])
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class BarsByLimits:
    """The bars of one situation, worked out once for each set of limits that is asked for."""

    situation: Situation
    shared: Shared
    known: dict[tuple[float | None, ...], Bars] = field(default_factory=dict)

    def of(self, question: Question) -> Bars:
        """Return the bars of a question."""
        day, night = question.minimums.day, night_limits(question)
        least_ft, least_sm = min(day.ceiling_ft, night.ceiling_ft), min(day.visibility_sm, night.visibility_sm)
        lowest, now_s = question.lowest_safe_ft_amsl, question.now.timestamp()
        planned = question.minimums.night != "not planned"
        key = (least_ft, least_sm, lowest, now_s, planned)
        if key not in self.known:
            fields = _fields(self.situation, self.shared, least_ft, least_sm)
            unlit = np.array([not planned or never_lit(a) for a in self.situation.airfields], dtype=bool)
            self.known[key] = replace(_bars(fields, self.shared, lowest, now_s), no_light=unlit)
        return self.known[key]


def _fields(situation: Situation, shared: Shared, least_ft: float, least_sm: float) -> FieldArrays:
    airfields, index = situation.airfields, shared.network.index
    n = len(airfields)
    return FieldArrays(
        lat_deg=np.array([a.lat_deg for a in airfields], dtype=float),
        lon_deg=np.array([a.lon_deg for a in airfields], dtype=float),
        elevation_ft=np.array([0.0 if a.elevation_ft is None else a.elevation_ft for a in airfields], dtype=float),
        height_known=np.array([a.elevation_ft is not None for a in airfields], dtype=bool),
        station=np.array([index.get(a.station_id or "", -1) for a in airfields], dtype=np.int64),
        required_ft=np.full(n, float(least_ft)),
        required_sm=np.full(n, float(least_sm)),
        night=np.zeros(n, dtype=bool),
        error_radius_nm=np.full(n, AREA_NM),
    )


def _bars(fields: FieldArrays, shared: Shared, lowest_ft: float | None, now_s: float) -> Bars:
    """Return what bars each of some airfields, by the asks that `weigh` puts with the smallest error radius."""
    n, told = fields.lat_deg.size, shared.network.weather.forecasts
    no_forecast, spoilt = np.zeros(n, dtype=bool), []
    for inquiry, pairs in _asked(fields, shared, lowest_ft):
        answered = np.bincount(inquiry.forecast_ask, minlength=inquiry.field.size) > 0
        no_forecast[inquiry.field[~answered]] = True
        spoilt.append(_spoilt(told, inquiry.forecasts.field, pairs))
    at, start_s, end_s = (np.concatenate(column) for column in zip(*spoilt, strict=True))
    at, start_s, end_s = _joined(at, start_s, end_s)
    count = np.bincount(at, minlength=n).astype(np.int64)
    return Bars(
        lat_deg=fields.lat_deg, lon_deg=fields.lon_deg,
        first=(np.cumsum(count) - count).astype(np.int64), count=count, start_s=start_s, end_s=end_s,
        no_forecast=no_forecast, no_light=np.zeros(n, dtype=bool), now_s=now_s,
    )  # fmt: skip


def _asked(fields: FieldArrays, shared: Shared, lowest_ft: float | None) -> Iterator[tuple[Inquiry, Pairs]]:
    """Yield what `weigh` asks of forecasts: for the field, for the stations around, and for the base over them."""
    stations, links, n = shared.network.arrays, shared.links, fields.lat_deg.size
    near = near_pairs(
        fields.lat_deg, fields.lon_deg, stations.lat_deg, stations.lon_deg, np.full(n, BORROW_FORECAST_NM)
    )
    own = field_inquiry(fields, stations, near)
    yield own, requirement_pairs(fields, stations, own.forecasts, own.forecast_ask, sensors=False)
    around = kept_of(near, near.distance_nm <= AREA_NM)
    low = kept_of(around, ~far_above(fields, stations, around))
    area = area_inquiry_of(low, links, stations.reports)
    via = low.station[area.forecast_ask]
    yield area, requirement_pairs(fields, stations, area.forecasts, area.forecast_ask, sensors=False, via=via)
    if lowest_ft is not None:
        over, least_ft = area_inquiry_of(around, links, stations.reports), lowest_ft + PRESSURE_ALLOWANCE_FT
        yield over, base_pairs(fields, stations, over.forecasts, over.forecast_ask, least_ft, sensors=False)


def _spoilt(told: States, at: Ints, pairs: Pairs) -> tuple[Ints, Floats, Floats]:
    """Return airfield, start and end of every state that does not meet what a pair asks."""
    ever = np.full(at.shape, np.inf)
    pair, row = told.touching(pairs.station, -ever, ever)
    code, _ = judge_rows(told, pairs, pair, row)
    bad = code != MEETS
    return at[pair[bad]], told.start[row[bad]], told.end[row[bad]]


def _joined(at: Ints, start_s: Floats, end_s: Floats) -> tuple[Ints, Floats, Floats]:
    """Return periods by airfield, those joined that overlap or follow each other without a break."""
    if not at.size:
        return at, start_s, end_s
    order = np.lexsort((start_s, at))
    at, start_s = at[order], start_s[order]
    ends, rank = np.unique(end_s[order], return_inverse=True)
    # The latest end so far of the same airfield: ranks of ends, with airfields so far apart that none mix.
    so_far = np.maximum.accumulate(rank + at * ends.size)
    latest = ends[so_far - at * ends.size]
    new = np.concatenate(([True], (at[1:] != at[:-1]) | (start_s[1:] > latest[:-1])))
    last = np.concatenate((np.flatnonzero(new)[1:] - 1, [at.size - 1]))
    return at[new], start_s[new], latest[last]
