"""The earth's magnetic field by the World Magnetic Model, on arrays: which way a compass points.

Source: NOAA NCEI and BGS, "The US/UK World Magnetic Model for 2025-2030: Technical Report", section
1.2 (equations as in its predecessors); the coefficients are handed in as a value. Functions of
colatitude are divided by its sine before they are summed, so that nothing is singular at the poles:
there the values are the limits along the meridian that the longitude names.
"""

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from refuge.errors import InputError

Floats = npt.NDArray[np.float64]

REFERENCE_RADIUS_M = 6_371_200.0
"""Geomagnetic reference radius of the model (technical report, section 1.2)."""
_SEMI_MAJOR_M = 6_378_137.0
_FLATTENING = 1.0 / 298.257223563
_ECCENTRICITY_2 = _FLATTENING * (2.0 - _FLATTENING)
"""WGS84 (NGA.STND.0036), on which the model's geodetic latitudes and heights are."""
BLACKOUT_NT, CAUTION_NT = 2000.0, 6000.0
"""Horizontal field below which a compass is not to be used, and below which it is erratic
(technical report: blackout zone, caution zone)."""
_DEGREE = 12
_VALID_YEARS = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MagneticModel:
    """Gauss coefficients of an epoch and their yearly change (nT, nT a year).

    Arrays have shape (13, 13) and are indexed [n, m]; what is not of degree 1 to 12 and order 0 to n is 0.
    """

    name: str
    epoch: float
    g_nt: Floats
    h_nt: Floats
    g_nt_a_year: Floats
    h_nt_a_year: Floats

    def __post_init__(self) -> None:
        """Refuse arrays of another shape, and numbers that are none."""
        arrays = self.g_nt, self.h_nt, self.g_nt_a_year, self.h_nt_a_year
        if any(a.shape != (_DEGREE + 1, _DEGREE + 1) or not np.isfinite(a).all() for a in arrays):
            raise InputError("the coefficients of the magnetic model are not complete", where=self.name)

    @property
    def last_year(self) -> float:
        """Return the decimal year in which the model ends."""
        return self.epoch + _VALID_YEARS

    def covers(self, year: float) -> bool:
        """Return whether a decimal year is within the model's dates."""
        return self.epoch <= year <= self.last_year


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """Magnetic field at n places, by components: geographic north, east and down (nT)."""

    north_nt: Floats
    east_nt: Floats
    down_nt: Floats

    @property
    def horizontal_nt(self) -> Floats:
        """Return the horizontal intensity, which is what turns a compass."""
        return np.hypot(self.north_nt, self.east_nt)

    @property
    def total_nt(self) -> Floats:
        """Return the total intensity."""
        return np.hypot(self.horizontal_nt, self.down_nt)

    @property
    def declination_deg(self) -> Floats:
        """Return declination (the pilot's variation), east positive, -180 to 180."""
        return np.degrees(np.arctan2(self.east_nt, self.north_nt))

    @property
    def inclination_deg(self) -> Floats:
        """Return inclination (dip), down positive, -90 to 90."""
        return np.degrees(np.arctan2(self.down_nt, self.horizontal_nt))


def decimal_year(instant: datetime) -> float:
    """Return an instant as a decimal year: 2026.5 is the middle of 2026."""
    start = datetime(instant.year, 1, 1, tzinfo=UTC)
    return instant.year + (instant - start) / (datetime(instant.year + 1, 1, 1, tzinfo=UTC) - start)


def field_at(
    model: MagneticModel, lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, height_m: npt.ArrayLike, year: float
) -> Field:
    """Return the magnetic field at places on or above WGS84 in a decimal year.

    Places and heights (metres above the ellipsoid) broadcast. Outside the model's dates the yearly
    change is carried on; whoever shows the value has to say so (`MagneticModel.covers`).

    Raises
    ------
    InputError
        If a latitude is beyond a pole, or a number is not finite.
    """
    lat, lon, height = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (lat_deg, lon_deg, height_m)))
    if not (np.isfinite(lon).all() and np.isfinite(height).all() and (np.abs(lat) <= 90.0).all()):
        raise InputError("a place for the magnetic model is none", remedy="latitude runs from -90 to 90")
    years = year - model.epoch
    g, h = model.g_nt + years * model.g_nt_a_year, model.h_nt + years * model.h_nt_a_year
    phi = np.radians(lat)
    radius, phi_c = _geocentric(phi, height)
    north, east, down = _synthesis(g, h, phi_c, np.radians(lon), REFERENCE_RADIUS_M / radius)
    # From geocentric to geodetic north and down (technical report, equation 17).
    cos, sin = np.cos(phi_c - phi), np.sin(phi_c - phi)
    return Field(north_nt=north * cos - down * sin, east_nt=east, down_nt=north * sin + down * cos)


def _geocentric(phi: Floats, height_m: Floats) -> tuple[Floats, Floats]:
    """Return radius (m) and geocentric latitude (radians) of places on the ellipsoid (equations 7 and 8)."""
    normal = _SEMI_MAJOR_M / np.sqrt(1.0 - _ECCENTRICITY_2 * np.sin(phi) ** 2)
    across = (normal + height_m) * np.cos(phi)
    up = (normal * (1.0 - _ECCENTRICITY_2) + height_m) * np.sin(phi)
    return np.hypot(across, up), np.arctan2(up, across)


def _synthesis(g: Floats, h: Floats, phi: Floats, lon: Floats, ratio: Floats) -> tuple[Floats, Floats, Floats]:
    """Return geocentric north, east and down (nT) as the sums of equations 10 to 12."""
    sin, cos = np.cos(phi), np.sin(phi)  # of the colatitude
    north, east, down = np.zeros_like(phi), np.zeros_like(phi), np.zeros_like(phi)
    for m in range(_DEGREE + 1):
        cos_m, sin_m = np.cos(m * lon), np.sin(m * lon)
        for n, value, over_sin, slope in _legendre(m, sin, cos):
            power = ratio ** (n + 2)
            along = power * (g[n, m] * cos_m + h[n, m] * sin_m)
            north += along * slope
            east += power * m * (g[n, m] * sin_m - h[n, m] * cos_m) * over_sin
            down -= (n + 1) * along * value
    return north, east, down


def _legendre(m: int, sin: Floats, cos: Floats) -> list[tuple[int, Floats, Floats, Floats]]:
    """Return n, the function, the function over the sine, and its derivative, for n = max(m, 1) to 12.

    Schmidt semi-normalised Legendre functions of order m and of the colatitude whose sine and cosine
    are given, by recursion in n from the sectoral one. The second is 0 where m is 0, and finite
    at the poles, where the sine is not to be divided by.
    """
    norm = float(np.prod([np.sqrt((2 * k - 1) / (2 * k)) for k in range(2, m + 1)]))
    over = np.zeros_like(sin) if m == 0 else norm * sin ** (m - 1)
    value = np.ones_like(sin) if m == 0 else over * sin
    slope = m * over * cos
    zero = np.zeros_like(sin)
    before = zero, zero, zero
    found = [] if m == 0 else [(m, value, over, slope)]
    for n in range(m + 1, _DEGREE + 1):
        back, scale = np.sqrt((n - 1) ** 2 - m**2), np.sqrt(n**2 - m**2)
        step = 2 * n - 1
        now = (
            (step * cos * value - back * before[0]) / scale,
            (step * cos * over - back * before[1]) / scale,
            (step * (cos * slope - sin * value) - back * before[2]) / scale,
        )
        before, (value, over, slope) = (value, over, slope), now
        found.append((n, value, over, slope))
    return found
