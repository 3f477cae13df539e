"""Minutes in visual conditions: below the base and with visibility, by the evidence that a refuge rests on.

Every station within 20 NM must give a base 500 ft above the aircraft (14 CFR 91.155) and the floor's visibility
at that minute, departure slip and timing error included; one at least must tell. Unknown is not visual.
"""

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from refuge.flight.arrival import timing_error_min
from refuge.flight.basis import Shared
from refuge.flight.bearing import AREA_NM, FieldArrays, base_pairs, near_pairs
from refuge.flight.evidence import Asks, Pairs, answer
from refuge.flight.minimums import FLOOR
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.verdict import Codes
from refuge.flight.weigh import Inquiry, area_inquiry_of, over_fields
from refuge.sun import is_day

BELOW_BASE_FT = 500.0
"""Distance below clouds in controlled airspace: 14 CFR 91.155 (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Overhead:
    """What n places along a way ask of the stations within 20 NM of each, at their times."""

    places: FieldArrays
    inquiry: Inquiry
    asks: Asks

    def said(self, shared: Shared, least_base_ft_amsl: Floats, *, seeing: bool) -> Codes:
        """Return whether the base is at least so high at each place; `seeing`: and the floor's visibility there."""
        stations, inquiry, n = shared.network.arrays, self.inquiry, self.places.lat_deg.size
        reports = base_pairs(self.places, stations, inquiry.reports, inquiry.report_ask, least_base_ft_amsl)
        forecasts = base_pairs(
            self.places, stations, inquiry.forecasts, inquiry.forecast_ask, least_base_ft_amsl, sensors=False
        )
        if seeing:
            blind = ~stations.ever_visibility[reports.station]
            reports = _seeing(reports, self.places, inquiry.reports.field, blind)
            none = np.zeros(forecasts.station.shape, dtype=bool)
            forecasts = _seeing(forecasts, self.places, inquiry.forecasts.field, none)
        answered = answer(self.asks, shared.network.weather, reports, forecasts, must_bear=False)
        return over_fields(n, inquiry.field, answered)


def overhead(
    shared: Shared, lat_deg: Floats, lon_deg: Floats, *, at_s: Floats, slip_min: float, now: datetime
) -> Overhead:
    """Return what n places ask at their times (seconds since the epoch), slip and timing error included."""
    n, now_s = lat_deg.size, now.timestamp()
    stations = shared.network.arrays
    near = near_pairs(lat_deg, lon_deg, stations.lat_deg, stations.lon_deg, np.full(n, AREA_NM))
    inquiry = area_inquiry_of(near, shared.links, stations.reports)
    pad = 60.0 * timing_error_min((at_s - now_s) / 60.0 + slip_min)
    start, end = np.maximum(now_s, at_s - pad), at_s + 60.0 * slip_min + pad
    night = ~is_day(lat_deg, lon_deg, start, np.maximum(start, end))
    by_night = FLOOR.day if FLOOR.night == "not planned" else FLOOR.night
    places = FieldArrays(
        lat_deg=lat_deg, lon_deg=lon_deg, elevation_ft=np.zeros(n), height_known=np.zeros(n, dtype=bool),
        station=np.full(n, -1, dtype=np.int64), required_ft=np.zeros(n),
        required_sm=np.where(night, by_night.visibility_sm, FLOOR.day.visibility_sm).astype(float),
        night=night, error_radius_nm=np.full(n, AREA_NM),
    )  # fmt: skip
    asks = Asks(
        start_s=start[inquiry.field], end_s=np.maximum(start, end)[inquiry.field],
        arrival_latest_s=at_s[inquiry.field], now_s=now_s, late_by_min=slip_min,
    )  # fmt: skip
    return Overhead(places=places, inquiry=inquiry, asks=asks)


def visual_codes(
    shared: Shared,
    lat_deg: Floats,
    lon_deg: Floats,
    *,
    altitude_ft: Floats,
    at_s: Floats,
    slip_min: float,
    now: datetime,
) -> Codes:
    """Return whether the aircraft is in visual conditions at n places and times (seconds since the epoch)."""
    asked = overhead(shared, lat_deg, lon_deg, at_s=at_s, slip_min=slip_min, now=now)
    return asked.said(shared, altitude_ft + BELOW_BASE_FT, seeing=True)


def _seeing(pairs: Pairs, places: FieldArrays, field: Ints, skip: Bools) -> Pairs:
    """Return pairs that ask for a base, asking for the visibility besides."""
    return replace(pairs, required_sm=places.required_sm[field], skip_visibility=skip)
