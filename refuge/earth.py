"""Positions and geodesics on WGS84; every geodesic of the project is pyproj's.

Angles in degrees, north and east positive, distances in nautical miles. Array arguments
broadcast as NumPy does.
"""

import re
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from pyproj import Geod

from refuge.errors import InputError
from refuge.units import M_PER_NM

Floats = npt.NDArray[np.float64]

WGS84 = Geod(ellps="WGS84")

_LEAST_M_PER_DEG_LAT = 110_500.0
"""No degree of latitude on WGS84 is shorter than 110,574 m (NGA TR 8350.2, from memory); a safe
bound below it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """A point on WGS84: latitude -90..90, longitude -180..180, degrees, north and east positive."""

    lat_deg: float
    lon_deg: float

    def __post_init__(self) -> None:
        """Refuse what is no position; nothing is clamped or wrapped."""
        if not (-90.0 <= self.lat_deg <= 90.0 and -180.0 <= self.lon_deg <= 180.0):
            raise InputError(
                f"{self.lat_deg}, {self.lon_deg} is no position",
                remedy="latitude runs from -90 to 90 and longitude from -180 to 180",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """Points on WGS84, each one start of a pair: arrays of shape (n,), degrees as in `Position`."""

    lat_deg: Floats
    lon_deg: Floats


_SIGNED = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*,\s*([+-]?\d+(?:\.\d+)?)$")
_LETTERED = re.compile(
    r"(\d+(?:\.\d+)?)(?:[\s°]+(\d+(?:\.\d+)?)['\s]*)?\s*([NS])\s*[,\s]\s*"
    r"(\d+(?:\.\d+)?)(?:[\s°]+(\d+(?:\.\d+)?)['\s]*)?\s*([EW])$",
    re.IGNORECASE,
)


def parse_position(text: str) -> Position | None:
    """Return the position that a text names, or ``None`` if it has not the form of one.

    Forms: ``-33.9,151.2``, ``33.9S,151.2E``, ``33 54.0 S 151 12.0 E``.

    Raises
    ------
    InputError
        If it has the form, but is no place on earth.
    """
    text = text.strip()
    if match := _SIGNED.match(text):
        return Position(lat_deg=float(match[1]), lon_deg=float(match[2]))
    if match := _LETTERED.match(text):
        lat = _degrees(match[1], match[2], south_or_west=match[3].upper() == "S")
        lon = _degrees(match[4], match[5], south_or_west=match[6].upper() == "W")
        return Position(lat_deg=lat, lon_deg=lon)
    return None


def _degrees(whole: str, minutes: str | None, *, south_or_west: bool) -> float:
    if minutes is not None and float(minutes) >= 60.0:
        raise InputError(f"{minutes} is no number of minutes", remedy="minutes run from 0 to below 60")
    if minutes is not None and "." in whole:
        raise InputError(f"{whole} {minutes} is no latitude or longitude", remedy="minutes follow whole degrees")
    value = float(whole) + float(minutes or 0.0) / 60.0
    return -value if south_or_west else value


def unit_vectors(lat_deg: Floats, lon_deg: Floats) -> Floats:
    """Return points as unit vectors, by latitude and longitude alone: shape (n, 3), for bounds on angles."""
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    return np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=-1)


def track_and_distance(
    start: Position | Points, lat_deg: Floats | list[float], lon_deg: Floats | list[float]
) -> tuple[Floats, Floats]:
    """Return initial tracks (degrees true, 0 <= track < 360) and distances (NM) from `start`.

    `start` is one for all, or one for each. `lat_deg` and `lon_deg` are arrays of shape (n,); so are both
    results. At zero distance the track is whatever the geodesic gives and means nothing.
    """
    lats = np.asarray(lat_deg, dtype=float)
    lons = np.asarray(lon_deg, dtype=float)
    forward, _, metres = WGS84.inv(
        np.full(lats.shape, start.lon_deg), np.full(lats.shape, start.lat_deg), lons, lats
    )
    return _compass(forward), np.asarray(metres) / M_PER_NM


def distances_nm(lat1_deg: Floats, lon1_deg: Floats, lat2_deg: Floats, lon2_deg: Floats) -> Floats:
    """Return distances in NM between pairs of points; the four arrays broadcast."""
    lat1, lon1, lat2, lon2 = np.broadcast_arrays(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    _, _, metres = WGS84.inv(lon1, lat1, lon2, lat2)
    return np.asarray(metres) / M_PER_NM


def courses_deg_true(lat1_deg: Floats, lon1_deg: Floats, lat2_deg: Floats, lon2_deg: Floats) -> Floats:
    """Return initial courses (degrees true, 0 <= course < 360) from one point of each pair to the other."""
    forward, _, _ = WGS84.inv(lon1_deg, lat1_deg, lon2_deg, lat2_deg)
    return _compass(forward)


def _compass(azimuth_deg: npt.ArrayLike) -> Floats:
    """Return azimuths as 0 <= course < 360; twice, for of a tiny negative one the first remainder is 360 itself."""
    return np.asarray(azimuth_deg, dtype=float) % 360.0 % 360.0


def along(start: Position | Points, track_deg_true: Floats, distance_nm: Floats) -> tuple[Floats, Floats]:
    """Return latitudes and longitudes at these distances (NM) along initial tracks from `start`."""
    track, distance = np.broadcast_arrays(track_deg_true, distance_nm)
    lon, lat, _ = WGS84.fwd(
        np.full(track.shape, start.lon_deg), np.full(track.shape, start.lat_deg), track, distance * M_PER_NM
    )
    return np.asarray(lat), np.asarray(lon)


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box of latitude and longitude; ``lon_west > lon_east`` means that it crosses 180 degrees."""

    lat_south_deg: float
    lat_north_deg: float
    lon_west_deg: float
    lon_east_deg: float


def box_around(centre: Position, radius_nm: float) -> Box:
    """Return a box that holds every point within `radius_nm` of `centre`, with some to spare.

    It is a filter before the geodesic, so it may only be too large. Where it would hold a pole,
    or more than half of a parallel, it takes all longitudes.
    """
    half_lat = radius_nm * M_PER_NM / _LEAST_M_PER_DEG_LAT
    south, north = centre.lat_deg - half_lat, centre.lat_deg + half_lat
    widest = max(abs(south), abs(north))
    # One per cent covers the flattening; a sphere's parallels differ from WGS84's by less.
    half_lon = 1.01 * half_lat / np.cos(np.radians(widest)) if widest < 89.0 else 180.0
    if half_lon >= 90.0:
        return Box(
            lat_south_deg=max(south, -90.0), lat_north_deg=min(north, 90.0), lon_west_deg=-180.0, lon_east_deg=180.0
        )
    west, east = centre.lon_deg - half_lon, centre.lon_deg + half_lon
    return Box(
        lat_south_deg=south,
        lat_north_deg=north,
        lon_west_deg=float(west + 360.0 if west < -180.0 else west),
        lon_east_deg=float(east - 360.0 if east > 180.0 else east),
    )
