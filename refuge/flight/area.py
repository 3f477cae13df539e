"""An area, not a dot (method.md 5): how much of a circle is good, and where good weather lies around a place.

Everything is worked out in the plane of an azimuthal equidistant projection about one place: tracks and
distances from there are those of the geodesic, and at the horizon of 150 NM a length across the track is 0.03 %
too long. Polygons never hold more than they should: what is good is an inscribed polygon, what is not a
circumscribed one.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from shapely import MultiPolygon, Point, Polygon, maximum_inscribed_circle, transform, union_all
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from refuge.earth import Position, along, track_and_distance

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

SPEAKS_WITHIN_NM = 20.0
"""A station tells of a place within this: method.md 4 borrows no report from farther."""
SAMPLES = 500
CORNERS = 72
LEAST_WIDTH_NM = 5.0
"""Nothing narrower is called an area: one would not find it by dead reckoning (a proposal)."""
POLAR_DEG = 89.0
COMPASS_POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """How an error circle divides (0 to 1): nearest to a good station, to another one, and to none at all.

    ``good`` counts only what lies within 20 NM of the good station that is nearest to it.
    """

    good: float
    other: float
    untold: float


def shares(radius_nm: float, distance_nm: Floats, bearing_deg: Floats, good: Bools) -> Shares:
    """Return how a circle divides among stations at these distances and bearings from its centre."""
    if distance_nm.size == 0:
        return Shares(good=0.0, other=0.0, untold=1.0)
    # Points of equal area: radii as square roots, turned by the golden angle (common practice, no source).
    number = np.arange(SAMPLES) + 0.5
    out, turn = radius_nm * np.sqrt(number / SAMPLES), number * np.pi * (3.0 - np.sqrt(5.0))
    east, north = _plane(distance_nm, bearing_deg)
    apart = np.hypot((out * np.sin(turn))[:, None] - east[None, :], (out * np.cos(turn))[:, None] - north[None, :])
    # Of two at the same distance the one that is not good counts.
    least = apart.min(axis=1, keepdims=True)
    spoiled = ((apart <= least + 1e-9) & ~good[None, :]).any(axis=1)
    near = least[:, 0] <= SPEAKS_WITHIN_NM
    return Shares(
        good=float((near & ~spoiled).mean()), other=float((near & spoiled).mean()), untold=float((~near).mean())
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodArea:
    """One area of good weather, as seen from a place.

    ``from_nm`` is the distance to its nearest point (0: one is in it), ``width_nm`` the diameter of the largest
    circle that fits into it, whose centre is ``centre``; ``direction`` leads there. ``shape`` has degrees,
    longitude first, cut at 180 degrees; ``None`` where it comes near a pole. ``stations`` are the indices of
    those that prove it.
    """

    direction: str
    from_nm: float
    width_nm: float
    centre: Position
    shape: Polygon | MultiPolygon | None
    stations: tuple[int, ...]

    @property
    def said(self) -> str:
        """Return where it lies, in words."""
        width = f"{np.floor(self.width_nm):.0f} NM wide"
        if self.from_nm <= 0.0:
            return f"around the position, most of it {self.direction}, {width}"
        return f"{self.direction}, from {np.ceil(self.from_nm):.0f} NM on, {width}"


def good_areas(
    centre: Position, lat_deg: Floats, lon_deg: Floats, good: Bools, *, radius_nm: float
) -> tuple[GoodArea, ...]:
    """Return where, within a radius, at least one station within 20 NM is good and none is anything else.

    That is what the check of an area asks of its stations (method.md 5). Widest first.
    """
    track, distance = track_and_distance(centre, lat_deg, lon_deg)
    near = np.flatnonzero(distance <= radius_nm + 2.0 * SPEAKS_WITHIN_NM)
    discs = {int(i): _disc(centre, float(lat_deg[i]), float(lon_deg[i]), outside=not good[i]) for i in near}
    proved = union_all([discs[int(i)] for i in near if good[i]])
    spoiled = union_all([discs[int(i)] for i in near if not good[i]])
    region = proved.difference(spoiled).intersection(Point(0.0, 0.0).buffer(radius_nm))
    east, north = _plane(distance, track)
    found = []
    for part in _polygons(region):
        width, middle = _room(part)
        if width < LEAST_WIDTH_NM:
            continue
        bears = tuple(int(i) for i in near if good[i] and discs[int(i)].intersects(part))
        # A disc that only touches the edge proves nothing: nearer ones are named first.
        bears = tuple(sorted(bears, key=lambda i: (part.distance(Point(float(east[i]), float(north[i]))), i)))
        found.append(_as_seen(centre, part, width, middle, bears))
    return tuple(sorted(found, key=lambda area: (-area.width_nm, area.from_nm, area.direction)))


def _as_seen(
    centre: Position, part: Polygon, width_nm: float, middle: Point, stations: tuple[int, ...]
) -> GoodArea:
    azimuth = float(np.degrees(np.arctan2(middle.x, middle.y)) % 360.0)
    lat, lon = along(centre, np.array([azimuth]), np.array([np.hypot(middle.x, middle.y)]))
    return GoodArea(
        direction=compass_point(azimuth),
        from_nm=float(part.distance(Point(0.0, 0.0))),
        width_nm=width_nm,
        centre=Position(lat_deg=float(lat[0]), lon_deg=float(lon[0])),
        shape=_on_earth(centre, part),
        stations=stations,
    )


def compass_point(azimuth_deg: float) -> str:
    """Return the one of eight directions that is nearest to an azimuth."""
    return COMPASS_POINTS[int((azimuth_deg % 360.0 + 22.5) // 45.0) % 8]


def _plane(distance_nm: Floats, track_deg: Floats) -> tuple[Floats, Floats]:
    angle = np.radians(track_deg)
    return np.asarray(distance_nm * np.sin(angle)), np.asarray(distance_nm * np.cos(angle))


def _disc(centre: Position, lat_deg: float, lon_deg: float, *, outside: bool) -> Polygon:
    """Return the circle within which a station speaks, as a polygon in it, or around it, in the plane."""
    size = SPEAKS_WITHIN_NM / np.cos(np.pi / CORNERS) if outside else SPEAKS_WITHIN_NM
    around = np.arange(CORNERS) * 360.0 / CORNERS
    lats, lons = along(Position(lat_deg=lat_deg, lon_deg=lon_deg), around, np.full(CORNERS, size))
    track, distance = track_and_distance(centre, lats, lons)
    return Polygon(np.column_stack(_plane(distance, track)))


def _polygons(region: BaseGeometry) -> Sequence[Polygon]:
    parts = getattr(region, "geoms", [region])
    return [part for part in parts if isinstance(part, Polygon) and not part.is_empty]


def _room(part: Polygon) -> tuple[float, Point]:
    """Return diameter and centre of the largest circle that fits, never too wide."""
    line = maximum_inscribed_circle(part, tolerance=0.1)
    middle = Point(line.coords[0])
    return 2.0 * float(part.boundary.distance(middle)), middle


def _on_earth(centre: Position, part: Polygon) -> Polygon | MultiPolygon | None:
    """Return a polygon of the plane in degrees, longitude first, cut at 180 degrees; ``None`` near a pole."""

    def degrees(plane: Floats) -> Floats:
        x, y = plane[:, 0], plane[:, 1]
        lats, lons = along(centre, np.degrees(np.arctan2(x, y)), np.hypot(x, y))
        # Continuous about the centre, so that a ring does not jump at 180 degrees.
        return np.column_stack((centre.lon_deg + (lons - centre.lon_deg + 180.0) % 360.0 - 180.0, lats))

    farthest = float(np.hypot(*np.asarray(part.exterior.coords)[:, :2].T).max())
    if abs(centre.lat_deg) + farthest / 59.5 > POLAR_DEG:
        return None
    whole = transform(part, degrees)
    pieces: list[Polygon] = []
    for shift in (-360.0, 0.0, 360.0):
        moved = translate(whole, xoff=shift).intersection(_WORLD)
        pieces += _polygons(moved)
    return pieces[0] if len(pieces) == 1 else MultiPolygon(pieces)


_WORLD = Polygon([(-180.0, -90.0), (180.0, -90.0), (180.0, 90.0), (-180.0, 90.0)])
