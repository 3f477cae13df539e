"""The wind at the level along the way: by hand, or from winds-aloft sites, in space and height.

A field gives eastward and northward components at points. There may be two of them: below the
lowest level of the sites, the wind is somewhere between that level and the surface, and the
worse of both counts (method.md 3).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from refuge.earth import distances_nm
from refuge.flight.triangle import Floats, components_kt

MAX_SITE_NM = 200.0
"""A site farther than this says nothing about a place; a proposal: winds-aloft sites of the
United States lie about 150 NM apart (common practice, no source)."""
NEAREST_SITES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class WindSites:
    """Winds of one kind (one level, or the surface) at sites; arrays of shape (sites,).

    ``temperature_c`` is NaN-free: ``has_temperature`` says where it holds.
    """

    lat_deg: Floats
    lon_deg: Floats
    east_kt: Floats
    north_kt: Floats
    temperature_c: Floats
    has_temperature: npt.NDArray[np.bool_]

    @classmethod
    def uniform(cls, dir_deg_true: float, speed_kt: float) -> "WindSites":
        """Return the field of one wind everywhere: no positions, one value."""
        east, north = components_kt(dir_deg_true, speed_kt)
        none = np.zeros(0)
        return cls(
            lat_deg=none, lon_deg=none, east_kt=np.atleast_1d(east), north_kt=np.atleast_1d(north),
            temperature_c=np.zeros(1), has_temperature=np.zeros(1, dtype=bool),
        )  # fmt: skip

    @property
    def is_uniform(self) -> bool:
        """Whether this is one wind everywhere."""
        return self.lat_deg.size == 0 and self.east_kt.size == 1


@dataclass(frozen=True, slots=True, kw_only=True)
class WindAt:
    """Winds at points; ``known`` is false where no site is near enough, and the rest is 0 there."""

    east_kt: Floats
    north_kt: Floats
    known: npt.NDArray[np.bool_]


def wind_at(sites: WindSites, lat_deg: Floats, lon_deg: Floats) -> WindAt:
    """Return winds at points of shape (n,): the nearest sites weighed by 1 / distance squared."""
    shape = np.shape(lat_deg)
    if sites.is_uniform:
        return WindAt(
            east_kt=np.full(shape, sites.east_kt[0]),
            north_kt=np.full(shape, sites.north_kt[0]),
            known=np.ones(shape, dtype=bool),
        )
    if sites.lat_deg.size == 0:
        return WindAt(east_kt=np.zeros(shape), north_kt=np.zeros(shape), known=np.zeros(shape, dtype=bool))
    weights, known = _weights(sites.lat_deg, sites.lon_deg, lat_deg, lon_deg)
    return WindAt(east_kt=weights @ sites.east_kt, north_kt=weights @ sites.north_kt, known=known)


def temperature_at(sites: WindSites, lat_deg: Floats, lon_deg: Floats) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return temperatures (C) at points from the sites that give one, and where they are known."""
    has = sites.has_temperature
    shape = np.shape(lat_deg)
    if not has.any() or sites.lat_deg.size == 0:
        return np.zeros(shape), np.zeros(shape, dtype=bool)
    weights, known = _weights(sites.lat_deg[has], sites.lon_deg[has], lat_deg, lon_deg)
    return weights @ sites.temperature_c[has], known


def _weights(
    site_lat: Floats, site_lon: Floats, lat_deg: Floats, lon_deg: Floats
) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return weights of shape (points, sites), each row summing to 1, and which points have a site."""
    distance = distances_nm(np.ravel(lat_deg)[:, None], np.ravel(lon_deg)[:, None], site_lat, site_lon)
    nearest = np.sort(distance, axis=1)[:, min(NEAREST_SITES, distance.shape[1]) - 1 :][:, :1]
    used = (distance <= nearest) & (distance <= MAX_SITE_NM)
    # Half a mile keeps the weight of a site overhead finite; nothing else depends on it.
    raw = np.where(used, 1.0 / np.maximum(distance, 0.5) ** 2, 0.0)
    total = raw.sum(axis=1, keepdims=True)
    known = total[:, 0] > 0.0
    return np.divide(raw, total, out=np.zeros_like(raw), where=total > 0.0), known
