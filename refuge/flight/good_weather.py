"""Where the weather is good at one instant: every station judged by itself, and the areas they prove."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from refuge.flight.area import GoodArea, good_areas
from refuge.flight.arrival import LANDING_MIN, timing_error_min
from refuge.flight.basis import Basis, night_limits
from refuge.flight.bearing import FieldArrays, Near, requirement_pairs
from refuge.flight.evidence import Asks, answer
from refuge.flight.minimums import Limits
from refuge.flight.state_arrays import Floats
from refuge.flight.station_weather import Network
from refuge.flight.verdict import MEETS, Codes
from refuge.flight.weigh import area_inquiry_of, forecast_links
from refuge.sun import is_day

LOOK_AROUND_NM = 150.0
"""The horizon of planning (method.md 2)."""
WITHOUT_BUDGET = timedelta(minutes=60)


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodWeather:
    """The areas of good weather around a place at an instant, and how many stations spoke for them."""

    when: datetime
    areas: tuple[GoodArea, ...]
    stations: int
    good: int
    names: tuple[str, ...]


def good_weather(basis: Basis, when: datetime | None = None) -> GoodWeather:
    """Return where the weather is good around the position asked, by the minimums asked.

    The instant is when one must be below the cloud at the latest, if none is given.
    """
    question, network = basis.question, basis.network
    when = latest_break_out(basis) if when is None else when
    codes = station_codes(network, when.timestamp(), question.now.timestamp(), question.minimums.day,
                          night_limits(question))  # fmt: skip
    good = codes == MEETS
    arrays = network.arrays
    areas = good_areas(question.at, arrays.lat_deg, arrays.lon_deg, good, radius_nm=LOOK_AROUND_NM)
    return GoodWeather(
        when=when,
        areas=areas,
        stations=int(good.size),
        good=int(good.sum()),
        names=tuple(station.id for station in network.stations),
    )


def latest_break_out(basis: Basis) -> datetime:
    """Return when one must be below the cloud at the latest; an hour from the turn where nobody knows."""
    turn = basis.question.fails_at + timedelta(minutes=basis.question.endurance.recognition_min)
    budget = basis.arrival.budget_min
    return turn + (WITHOUT_BUDGET if budget is None else timedelta(minutes=max(budget, 0.0)))


def station_codes(network: Network, when_s: float, now_s: float, day: Limits, night: Limits) -> Codes:
    """Return what each station comes to at an instant, its window widened as that of an arrival is.

    Each is asked like a station of the area around a field (method.md 5): its own report, and its own
    forecast or those that it borrows. Shape (stations,).
    """
    stations, n = network.arrays, network.arrays.lat_deg.size
    pad_s = 60.0 * float(timing_error_min(np.array([(when_s - now_s) / 60.0]))[0])
    start, end = max(now_s, when_s - pad_s), max(now_s, when_s + 60.0 * LANDING_MIN + pad_s)
    dark = ~is_day(stations.lat_deg, stations.lon_deg, np.full(n, when_s), np.full(n, when_s + 60.0 * LANDING_MIN))
    fields = FieldArrays(
        lat_deg=stations.lat_deg, lon_deg=stations.lon_deg, elevation_ft=stations.elevation_ft,
        height_known=stations.height_known, station=np.arange(n),
        required_ft=_either(dark, night.ceiling_ft, day.ceiling_ft),
        required_sm=_either(dark, night.visibility_sm, day.visibility_sm), night=dark, error_radius_nm=np.zeros(n),
    )  # fmt: skip
    itself = Near(field=np.arange(n), station=np.arange(n), distance_nm=np.zeros(n))
    inquiry = area_inquiry_of(itself, forecast_links(stations), stations.reports)
    asks = Asks(start_s=np.full(n, start), end_s=np.full(n, end), arrival_latest_s=np.full(n, when_s), now_s=now_s)
    return answer(
        asks,
        network.weather,
        requirement_pairs(fields, stations, inquiry.reports, inquiry.report_ask),
        requirement_pairs(
            fields, stations, inquiry.forecasts, inquiry.forecast_ask, sensors=False, via=inquiry.forecast_ask
        ),
    ).code


def _either(dark: np.ndarray[tuple[int, ...], np.dtype[np.bool_]], night: float, day: float) -> Floats:
    return np.where(dark, night, day).astype(float)
