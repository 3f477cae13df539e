"""The wind at the level along the way: by hand, or from winds-aloft sites, in space, height and time.

A field gives eastward and northward components at points. There may be two of them: below the
lowest level of the sites, the wind is somewhere between that level and the surface, and the
worse of both counts (method.md 3).
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from refuge.earth import distances_nm, unit_vectors
from refuge.flight.triangle import Floats, components_kt

MAX_SITE_NM = 200.0
"""A site farther than this says nothing about a place; a proposal: winds-aloft sites of the
United States lie about 150 NM apart (common practice, no source)."""
NEAREST_SITES = 4
BLOCK, CELL_DEG = 16384, 0.25
"""So many points look for sites at once, those in a cell of so many degrees together."""
NM_PER_RAD = 3420.0
"""No radian of a great circle on WGS84 is shorter (59.7 NM a degree); a bound may only be too large."""
SLACK = 1.02
"""The longest degree is 1.1 % longer than the shortest: of two places the nearer may seem so much farther."""
FARTHEST_RAD = 1.01 * MAX_SITE_NM / NM_PER_RAD


@dataclass(frozen=True, slots=True, kw_only=True)
class Later:
    """What the sites of a field give at the later of two times, between which it is linear."""

    east_kt: Floats
    north_kt: Floats
    temperature_c: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class WindSites:
    """Winds of one kind (one level, or the surface) at sites; arrays of shape (sites,).

    ``temperature_c`` is NaN-free: ``has_temperature`` says where it holds. With ``later`` the field is one
    of two times, and whoever asks says how far between them.
    """

    lat_deg: Floats
    lon_deg: Floats
    east_kt: Floats
    north_kt: Floats
    temperature_c: Floats
    has_temperature: npt.NDArray[np.bool_]
    later: Later | None = None

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

    @property
    def speeds_kt(self) -> Floats:
        """Return the strongest wind of each site at either time; between them it is no stronger."""
        now = np.hypot(self.east_kt, self.north_kt)
        return now if self.later is None else np.maximum(now, np.hypot(self.later.east_kt, self.later.north_kt))

    def along_kt(self, course_rad: Floats) -> tuple[Floats, Floats]:
        """Return the least and the most that the wind of each site blows along courses: shape (sites, courses)."""
        east, north = np.sin(course_rad), np.cos(course_rad)
        now = np.outer(self.east_kt, east) + np.outer(self.north_kt, north)
        later = self.later
        then = now if later is None else np.outer(later.east_kt, east) + np.outer(later.north_kt, north)
        return np.minimum(now, then), np.maximum(now, then)

    def at(self, share: float) -> "WindSites":
        """Return the field of one time, `share` of the way from the earlier to the later."""
        if self.later is None:
            return self
        return replace(
            self,
            east_kt=_mixed(self.east_kt, self.later.east_kt, share),
            north_kt=_mixed(self.north_kt, self.later.north_kt, share),
            temperature_c=_mixed(self.temperature_c, self.later.temperature_c, share),
            later=None,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WindAt:
    """Winds at points; ``known`` is false where no site is near enough, and the rest is 0 there."""

    east_kt: Floats
    north_kt: Floats
    known: npt.NDArray[np.bool_]


def wind_at(sites: WindSites, lat_deg: Floats, lon_deg: Floats, share: Floats | float = 0.0) -> WindAt:
    """Return winds at points of shape (n,): the nearest sites weighed by 1 / distance squared.

    `share` says how far each point's time lies between the two of the field; without a later one it has no meaning.
    """
    shape = np.shape(lat_deg)
    if sites.is_uniform:
        return WindAt(
            east_kt=np.full(shape, sites.east_kt[0]),
            north_kt=np.full(shape, sites.north_kt[0]),
            known=np.ones(shape, dtype=bool),
        )
    near = _near_sites(sites.lat_deg, sites.lon_deg, lat_deg, lon_deg)
    east, north = near.mean(sites.east_kt), near.mean(sites.north_kt)
    if sites.later is not None:
        east = _mixed(east, near.mean(sites.later.east_kt), share)
        north = _mixed(north, near.mean(sites.later.north_kt), share)
    return WindAt(east_kt=east, north_kt=north, known=near.known)


def temperature_at(
    sites: WindSites, lat_deg: Floats, lon_deg: Floats, share: Floats | float = 0.0
) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return temperatures (C) at points from the sites that give one, and where they are known."""
    has = sites.has_temperature
    shape = np.shape(lat_deg)
    if not has.any() or sites.lat_deg.size == 0:
        return np.zeros(shape), np.zeros(shape, dtype=bool)
    near = _near_sites(sites.lat_deg[has], sites.lon_deg[has], lat_deg, lon_deg)
    celsius = near.mean(sites.temperature_c[has])
    if sites.later is not None:
        celsius = _mixed(celsius, near.mean(sites.later.temperature_c[has]), share)
    return celsius, near.known


def _mixed(earlier: Floats, later: Floats, share: Floats | float) -> Floats:
    return np.asarray((1.0 - share) * earlier + share * later)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Near:
    """The sites that count for each of n points, as pairs by point, and their weights, of sum 1 for a point."""

    point: npt.NDArray[np.int64]
    site: npt.NDArray[np.int64]
    weight: Floats
    known: npt.NDArray[np.bool_]

    def mean(self, values: Floats) -> Floats:
        """Return the weighed mean of values at sites for each point, 0 where none counts."""
        found = np.bincount(self.point, weights=self.weight * values[self.site], minlength=self.known.size)
        return np.asarray(found, dtype=float)


def _near_sites(site_lat: Floats, site_lon: Floats, lat_deg: Floats, lon_deg: Floats) -> _Near:
    """Return the nearest four sites of each point, and all that are as near as the fourth, within 200 NM.

    Candidates come from unit vectors with 1 % to spare, the distance that decides from the geodesic.
    """
    n, parts = np.size(lat_deg), []
    for begin in range(0, n, BLOCK):
        block = slice(begin, begin + BLOCK)
        point, site = _candidates(site_lat, site_lon, lat_deg[block], lon_deg[block])
        point = point + begin
        distance = distances_nm(lat_deg[point], lon_deg[point], site_lat[site], site_lon[site])
        order = np.lexsort((distance, point))
        by_point, nearer = point[order], distance[order]
        place = np.arange(order.size) - np.searchsorted(by_point, by_point)
        least = np.full(n, np.inf)
        fourth = place == NEAREST_SITES - 1
        least[by_point[fourth]] = nearer[fourth]
        used = (distance <= least[point]) & (distance <= MAX_SITE_NM)
        parts.append((point[used], site[used], distance[used]))
    if not parts:
        parts = [(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0))]
    point, site, distance = (np.concatenate(column) for column in zip(*parts, strict=True))
    # Half a mile keeps the weight of a site overhead finite; nothing else depends on it.
    raw = 1.0 / np.maximum(distance, 0.5) ** 2
    total = np.bincount(point, weights=raw, minlength=n)
    return _Near(point=point, site=site, weight=raw / total[point], known=total > 0.0)


def _candidates(
    site_lat: Floats, site_lon: Floats, lat_deg: Floats, lon_deg: Floats
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Return pairs of point and site, by the first, that hold every one that may count.

    Sites are looked for around the cells of a grid in which the points lie, then around each point.
    """
    sites, points = unit_vectors(site_lat, site_lon), unit_vectors(lat_deg, lon_deg)
    _, first, cell = np.unique(
        np.floor(lat_deg / CELL_DEG) + 1j * np.floor(lon_deg / CELL_DEG), return_index=True, return_inverse=True
    )
    # The first point of a cell stands for it: no other is farther from it than the cell is wide.
    own = points[first]
    spread = np.zeros(first.shape)
    np.maximum.at(spread, cell, np.arccos(np.clip((points * own[cell]).sum(axis=1), -1.0, 1.0)))
    cosine = own @ sites.T
    angle = np.minimum(_fourth(cosine) + 2.0 * spread, FARTHEST_RAD + spread)
    near = cosine >= np.cos(np.minimum(SLACK * angle + 1e-6, np.pi))[:, None]
    table = np.argsort(~near, axis=1, kind="stable")[:, : max(int(near.sum(axis=1).max()), 1)]
    cosine = np.einsum("pk,psk->ps", points, sites[table[cell]])
    cosine[~np.take_along_axis(near, table, axis=1)[cell]] = -2.0
    angle = np.minimum(_fourth(cosine), FARTHEST_RAD)
    point, place = np.nonzero(cosine >= np.cos(np.minimum(SLACK * angle + 1e-6, np.pi))[:, None])
    return point, table[cell[point], place]


def _fourth(cosine: Floats) -> Floats:
    """Return the angle of the fourth largest of each row of cosines; pi where there are no more than four."""
    if cosine.shape[1] <= NEAREST_SITES:
        return np.full(cosine.shape[0], np.pi)
    fourth = np.partition(cosine, cosine.shape[1] - NEAREST_SITES, axis=1)[:, -NEAREST_SITES]
    return np.arccos(np.clip(fourth, -1.0, 1.0))
