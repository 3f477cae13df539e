"""Evidence for very many airfields at many hours in one call: for maps, coverage and mornings.

It is the weather check of method.md 4 by itself, of windows that are asked rather than flown: no aircraft, no
area around, no base over ground.
"""

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from refuge.airfield import Airfield
from refuge.flight.bearing import BORROW_FORECAST_NM, FieldArrays, Near, near_pairs, requirement_pairs
from refuge.flight.evidence import Asks, answer
from refuge.flight.situation import Situation
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.station_weather import Network, network_of
from refuge.flight.verdict import UNKNOWN, Codes
from refuge.flight.weigh import Inquiry, field_inquiry
from refuge.sun import is_day

HALF_WINDOW_S = 1800.0
"""Each hour stands for half an hour to both sides of it: the least timing error of method.md 4."""
BAND_DEG = 0.6
"""More than 30 NM of latitude: no degree of it is shorter than 59.7 NM."""
AT_ONCE = 1000
"""Fields looked at together: fields x stations stay within some tens of MB."""


def evidence_by_hour(
    situation: Situation, now: datetime, hours: Sequence[datetime], *, ceiling_ft: float, visibility_sm: float
) -> Codes:
    """Return what the weather comes to at each airfield and hour, as codes of shape (airfields, hours).

    No window starts before `now`: an hour that lies wholly before it is unknown.
    """
    last = max(hours, default=now)
    network = network_of(situation, now, datetime.fromtimestamp(last.timestamp() + HALF_WINDOW_S, tz=now.tzinfo))
    at = np.array([hour.timestamp() for hour in hours], dtype=float)
    n = len(situation.airfields)
    found = np.full((n, at.size), UNKNOWN, dtype=np.int8)
    # From south to north: the fields of a block then have few stations to be near to.
    order = np.argsort([field.lat_deg for field in situation.airfields], kind="stable")
    for first in range(0, n, AT_ONCE):
        part = order[first : first + AT_ONCE]
        fields = _fields([situation.airfields[i] for i in part], network, ceiling_ft, visibility_sm)
        found[part] = _block(fields, network, now.timestamp(), at)
    return np.where(at + HALF_WINDOW_S < now.timestamp(), UNKNOWN, found).astype(np.int8)


def _fields(
    airfields: Sequence[Airfield], network: Network, ceiling_ft: float, visibility_sm: float
) -> FieldArrays:
    n = len(airfields)
    return FieldArrays(
        lat_deg=np.array([a.lat_deg for a in airfields], dtype=float),
        lon_deg=np.array([a.lon_deg for a in airfields], dtype=float),
        elevation_ft=np.array([a.elevation_ft or 0.0 for a in airfields], dtype=float),
        height_known=np.array([a.elevation_ft is not None for a in airfields], dtype=bool),
        station=np.array([network.index.get(a.station_id or "", -1) for a in airfields], dtype=np.int64),
        required_ft=np.full(n, ceiling_ft), required_sm=np.full(n, visibility_sm),
        night=np.zeros(n, dtype=bool), error_radius_nm=np.zeros(n),
    )  # fmt: skip


def _block(fields: FieldArrays, network: Network, now_s: float, at_s: Floats) -> Codes:
    """Return the codes of some fields at all hours: who bears is found once, and asked for every hour."""
    arrays, n, hours = network.arrays, fields.lat_deg.size, at_s.size
    near = _near(fields, network)
    inquiry = field_inquiry(fields, arrays, near)
    # Darkness matters only where fog may hide between station and field.
    foggy = np.zeros(n, dtype=bool)
    foggy[near.field[arrays.small_spread[near.station]]] = True
    many = _each_hour(fields, at_s, foggy)
    reports, report_ask = _repeated(inquiry, n, hours, reports=True)
    forecasts, forecast_ask = _repeated(inquiry, n, hours, reports=False)
    asked = np.tile(at_s, (n, 1)).T.ravel()
    start = np.maximum(now_s, asked - HALF_WINDOW_S)
    asks = Asks(
        start_s=start, end_s=np.maximum(start, asked + HALF_WINDOW_S),
        arrival_latest_s=np.maximum(now_s, asked), now_s=now_s,
    )  # fmt: skip
    said = answer(
        asks,
        network.weather,
        requirement_pairs(many, arrays, reports, report_ask),
        requirement_pairs(many, arrays, forecasts, forecast_ask, sensors=False),
    )
    return said.code.reshape(hours, n).T


def _near(fields: FieldArrays, network: Network) -> Near:
    """Return fields and stations within 30 NM of each other, of stations whose latitude lets them be that near."""
    arrays = network.arrays
    low, high = fields.lat_deg.min() - BAND_DEG, fields.lat_deg.max() + BAND_DEG
    band = np.flatnonzero((arrays.lat_deg >= low) & (arrays.lat_deg <= high))
    within = np.full(fields.lat_deg.shape, BORROW_FORECAST_NM)
    near = near_pairs(fields.lat_deg, fields.lon_deg, arrays.lat_deg[band], arrays.lon_deg[band], within)
    return Near(field=near.field, station=band[near.station], distance_nm=near.distance_nm)


def _each_hour(fields: FieldArrays, at_s: Floats, foggy: Bools) -> FieldArrays:
    """Return the fields once for every hour, dark or not as it is then where `foggy`: row hour x n + field."""
    hours = at_s.size

    def tiled(values: Floats) -> Floats:
        return np.tile(values, hours)

    asked = np.repeat(at_s, fields.lat_deg.size)
    lat, lon = tiled(fields.lat_deg), tiled(fields.lon_deg)
    night = np.tile(foggy, hours)
    night[night] = ~is_day(lat[night], lon[night], asked[night] - HALF_WINDOW_S, asked[night] + HALF_WINDOW_S)
    return FieldArrays(
        lat_deg=lat, lon_deg=lon, elevation_ft=tiled(fields.elevation_ft),
        height_known=np.tile(fields.height_known, hours), station=np.tile(fields.station, hours),
        required_ft=tiled(fields.required_ft), required_sm=tiled(fields.required_sm),
        night=night, error_radius_nm=np.zeros(lat.size),
    )  # fmt: skip


def _repeated(inquiry: Inquiry, n: int, hours: int, *, reports: bool) -> tuple[Near, Ints]:
    """Return the near pairs of reports or of forecasts once for every hour, and the ask of each."""
    near = inquiry.reports if reports else inquiry.forecasts
    ask = inquiry.report_ask if reports else inquiry.forecast_ask
    shift = np.repeat(np.arange(hours, dtype=np.int64) * n, near.field.size)
    return (
        Near(
            field=np.tile(near.field, hours) + shift,
            station=np.tile(near.station, hours),
            distance_nm=np.tile(near.distance_nm, hours),
        ),
        np.tile(ask, hours) + shift,
    )
