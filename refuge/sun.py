"""Solar altitude, day or night over a window, and the instants of rise, set and civil twilight.

Formula: USNO, "Approximate Solar Coordinates" and "Approximate Sidereal Time" (also The
Astronomical Almanac, section C, low-precision formulas for the Sun), coefficients from memory and
checked against USNO's tables: about one minute of arc within a century of 2000, which is seconds
of time. The observer stands at sea level with a free horizon.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from refuge.errors import InputError
from refuge.zulu import aware_utc

Floats = npt.NDArray[np.float64]
Instants = datetime | Sequence[datetime] | Floats | float
"""Aware instants, or seconds since 1970-01-01T00:00Z."""

RISE_SET_DEG = -0.833
"""Altitude of the sun's centre at rise and set: 34' of refraction and 16' of radius (USNO, "Rise,
Set, and Twilight Definitions")."""
CIVIL_TWILIGHT_DEG = -6.0
"""Altitude at which civil twilight begins and ends (same source; 14 CFR 1.1, night)."""

_J2000_S = datetime(2000, 1, 1, 12, tzinfo=UTC).timestamp()
_S_PER_DAY = 86_400.0
_HALF_DAY_S = _S_PER_DAY / 2
_S_PER_DEG = 240.0
"""The sun's hour angle grows by 15 degrees an hour."""
_VALID_DAYS = 36_525.0
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Stays(StrEnum):
    """The sun does not cross an altitude on that day, because it stays on this side of it."""

    ABOVE = "above"
    BELOW = "below"


@dataclass(frozen=True, slots=True, kw_only=True)
class SunDay:
    """The sun's day at one place, from one solar midnight to the next: instants, aware UTC.

    What does not happen is a value: the sun stays above (no night) or below (no day). Near the
    date line and in the far north the instants of one solar day bear different UTC dates.
    """

    dawn: datetime | Stays
    """Civil twilight begins."""
    rise: datetime | Stays
    noon: datetime
    set: datetime | Stays
    dusk: datetime | Stays
    """Civil twilight ends."""


def altitude_deg(lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, instants: Instants) -> Floats:
    """Return the altitude of the sun's centre above the true horizon, without refraction.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Places in degrees, north and east positive.
    instants : datetime, sequence of datetime, or seconds since 1970
        They broadcast with the places: ``lat[:, None]`` with T instants gives (places, T).

    Returns
    -------
    ndarray
        Degrees, in the shape that the arguments broadcast to; NaN where an argument is NaN.

    Raises
    ------
    InputError
        For a latitude beyond a pole, an instant without a zone, or one beyond 1900 to 2100.
    """
    lat_rad = np.radians(_latitude(lat_deg))
    hour_angle_rad, declination_rad = _position(np.asarray(lon_deg, dtype=np.float64), _seconds(instants))
    sine = np.sin(lat_rad) * np.sin(declination_rad)
    sine = sine + np.cos(lat_rad) * np.cos(declination_rad) * np.cos(hour_angle_rad)
    return np.asarray(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))))


def is_day(lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, start: Instants, end: Instants) -> npt.NDArray[np.bool_]:
    """Return whether the sun is up through the whole of each window: day from sunrise to sunset.

    Where an argument is NaN the answer is no: night asks for more than day.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Places in degrees, north and east positive.
    start, end : datetime, sequence of datetime, or seconds since 1970
        First and last instant of the window; they broadcast with the places.

    Raises
    ------
    InputError
        If a window ends before it starts, or as `altitude_deg` says.
    """
    start_s, end_s = _seconds(start), _seconds(end)
    if np.any(end_s < start_s):
        raise InputError("a window ends before it starts", remedy="give the first instant first")
    up = (altitude_deg(lat_deg, lon_deg, start_s) >= RISE_SET_DEG) & (
        altitude_deg(lat_deg, lon_deg, end_s) >= RISE_SET_DEG
    )
    # Between the two ends the sun is lowest at a solar midnight, if one lies in the window.
    hour_angle_rad, _ = _position(np.asarray(lon_deg, dtype=np.float64), start_s)
    midnight_s = start_s + (180.0 - np.degrees(hour_angle_rad)) * _S_PER_DEG
    while np.any(midnight_s <= end_s):
        up &= (altitude_deg(lat_deg, lon_deg, midnight_s) >= RISE_SET_DEG) | (midnight_s > end_s)
        midnight_s = midnight_s + _S_PER_DAY
    return np.asarray(up)


def sun_day(lat_deg: float, lon_deg: float, near: datetime) -> SunDay:
    """Return the sun's day at one place around the solar noon that is nearest to `near`.

    Within half a degree of a pole, where the sun crosses the horizon in a slow spiral, whether it
    is above or below at noon decides for the day.

    Raises
    ------
    InputError
        As `altitude_deg` says.
    """
    noon_s = _noon_s(lon_deg, aware_utc(near).timestamp())
    targets = np.array([CIVIL_TWILIGHT_DEG, RISE_SET_DEG, RISE_SET_DEG, CIVIL_TWILIGHT_DEG])
    midnights_s = noon_s + _HALF_DAY_S * np.array([-1.0, -1.0, 1.0, 1.0])
    above_at_noon = altitude_deg(lat_deg, lon_deg, np.full(4, noon_s)) >= targets
    above_at_midnight = altitude_deg(lat_deg, lon_deg, midnights_s) >= targets
    crossings_s = _crossings_s(lat_deg, lon_deg, targets, midnights_s, noon_s)
    dawn, rise, sunset, dusk = (
        _event(bool(noon), bool(midnight), float(crossing_s))
        for noon, midnight, crossing_s in zip(above_at_noon, above_at_midnight, crossings_s, strict=True)
    )
    return SunDay(dawn=dawn, rise=rise, noon=_instant(noon_s), set=sunset, dusk=dusk)


def _event(above_at_noon: bool, above_at_midnight: bool, crossing_s: float) -> datetime | Stays:  # noqa: FBT001
    if not above_at_noon:
        return Stays.BELOW
    return Stays.ABOVE if above_at_midnight else _instant(crossing_s)


def _crossings_s(lat_deg: float, lon_deg: float, targets: Floats, low_s: Floats, noon_s: float) -> Floats:
    """Return when the sun passes each target between a midnight and noon, by bisection to 0.1 ms."""
    below_s, above_s = low_s, np.full_like(low_s, noon_s)
    for _ in range(30):
        middle_s = (below_s + above_s) / 2
        above = altitude_deg(lat_deg, lon_deg, middle_s) >= targets
        below_s, above_s = np.where(above, below_s, middle_s), np.where(above, middle_s, above_s)
    return above_s


def _noon_s(lon_deg: float, near_s: float) -> float:
    noon_s = near_s
    for _ in range(3):  # the equation of time drifts by 30 s a day at most: the third step is below 1 ms
        hour_angle_rad, _ = _position(np.asarray(lon_deg, dtype=np.float64), np.asarray(noon_s))
        noon_s -= float(np.degrees(hour_angle_rad)) * _S_PER_DEG
    return noon_s


def _position(lon_deg: Floats, instants_s: Floats) -> tuple[Floats, Floats]:
    """Return the sun's local hour angle (-pi to pi, west positive) and declination, in radians."""
    days = (instants_s - _J2000_S) / _S_PER_DAY
    if np.any(np.abs(days) > _VALID_DAYS):
        raise InputError("no sun outside 1900 to 2100", remedy="the formula holds for a century around 2000")
    anomaly = np.radians(357.529 + 0.98560028 * days)
    longitude = np.radians(280.459 + 0.98564736 * days + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    obliquity = np.radians(23.439 - 0.00000036 * days)
    right_ascension = np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude))
    declination = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    sidereal = np.radians(15.0 * (18.697374558 + 24.06570982441908 * days) + lon_deg)
    hour_angle = np.mod(sidereal - right_ascension + np.pi, 2 * np.pi) - np.pi
    return np.asarray(hour_angle), np.asarray(declination)


def _latitude(lat_deg: npt.ArrayLike) -> Floats:
    lat = np.asarray(lat_deg, dtype=np.float64)
    if np.any(np.abs(lat) > 90.0):
        raise InputError("a latitude is beyond a pole", remedy="latitude runs from -90 to 90")
    return lat


def _seconds(instants: Instants) -> Floats:
    if isinstance(instants, datetime):
        return np.asarray(aware_utc(instants).timestamp())
    if isinstance(instants, np.ndarray | float):
        return np.asarray(instants, dtype=np.float64)
    return np.array([aware_utc(instant).timestamp() for instant in instants])


def _instant(seconds: float) -> datetime:
    return _EPOCH + timedelta(seconds=seconds)
