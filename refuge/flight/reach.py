"""Minutes to many places at once: nominal, earliest and latest, with the wind along the way.

Limits and allowances are those of method.md 3: groundspeed less (more) max(5 % of the wind, 10 kt)
for the latest (earliest) arrival; error radius max(3 NM, 10 % of the distance flown without
navigation) plus 10 kt x hours of wind error. The 5 % is AC 120-42B's wind factor, the 10 % the
navigator's flight test of 14 CFR part 63; the other numbers are proposals.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from refuge.earth import Points, Position, along, courses_deg_true, track_and_distance
from refuge.flight.triangle import Bools, Floats, solve, wind_from_components
from refuge.flight.winds import WindSites, wind_at

WIND_ERROR_SHARE = 0.05
WIND_ERROR_KT = 10.0
LEAST_ERROR_RADIUS_NM = 3.0
ERROR_SHARE_OF_DISTANCE = 0.10
HORIZON_NM = 150.0
"""Planning looks no farther (method.md 2)."""
SLACK_MIN = 1e-6
STEPS = 6
"""Steps along the way in a wind that differs from place to place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How to get to n places; every array has shape (n,).

    Minutes count from the turn to overhead; inf is never, and ``reachable`` its mask.
    ``wind_known`` is false where no wind is known for some part of the way: the minutes there are
    those without wind and prove nothing. ``wca_deg`` and ``gs_kt`` are those of the first step,
    which the pilot sets out with.
    """

    track_deg_true: Floats
    distance_nm: Floats
    heading_deg_true: Floats
    gs_kt: Floats
    minutes: Floats
    earliest_min: Floats
    latest_min: Floats
    reachable: Bools
    wind_known: Bools

    def taken(self, rows: npt.NDArray[np.int64]) -> "Reach":
        """Return some of the ways."""
        return Reach(**{part.name: getattr(self, part.name)[rows] for part in fields(self)})


def minutes_at(distance_nm: npt.ArrayLike, gs_kt: npt.ArrayLike) -> Floats:
    """Return minutes for distances at groundspeeds; inf where the groundspeed is not positive."""
    distance, gs = np.broadcast_arrays(np.asarray(distance_nm, dtype=float), np.asarray(gs_kt, dtype=float))
    minutes = np.divide(60.0 * distance, gs, out=np.full(gs.shape, np.inf), where=gs > 0.0)
    return np.asarray(np.where(distance == 0.0, 0.0, minutes))


def wind_error_kt(wind_kt: npt.ArrayLike) -> Floats:
    """Return how much the groundspeed may be off (kt) in winds of this speed."""
    return np.maximum(WIND_ERROR_SHARE * np.asarray(wind_kt, dtype=float), WIND_ERROR_KT)


def error_radius_nm(distance_nm: npt.ArrayLike, hours: npt.ArrayLike) -> Floats:
    """Return 95 % error radii (NM) after this distance and time flown without navigation."""
    distance = np.asarray(distance_nm, dtype=float)
    grown = np.maximum(LEAST_ERROR_RADIUS_NM, ERROR_SHARE_OF_DISTANCE * distance)
    return np.asarray(grown + WIND_ERROR_KT * np.asarray(hours, dtype=float))


def reach(
    start: Position | Points,
    lat_deg: Floats,
    lon_deg: Floats,
    *,
    tas_kt: float,
    winds: Sequence[WindSites],
    share: Floats | float = 0.0,
    limit: "Limit | None" = None,
) -> Reach:
    """Return headings and minutes from `start` (one, or one each) to n places in the worse of several wind fields.

    In one uniform wind this is the closed form; otherwise the wind is integrated in steps along
    the geodesic. Of two fields (the lowest level and the surface) the slower counts for nominal
    and latest, the faster for earliest. `share` says when, between the two times of fields that have two.
    With a `limit` a way that is sure to take longer is not worked out to its end: it comes back as never reached.
    """
    track, distance = track_and_distance(start, lat_deg, lon_deg)
    legs = {field.is_uniform: _legs(start, track, distance, 1 if field.is_uniform else STEPS) for field in winds}
    shares, left = np.broadcast_to(np.asarray(share, dtype=float), distance.shape), np.arange(distance.size)
    results = []
    for field in winds:
        results.append(_in_field(legs[field.is_uniform], tas_kt, field, share=shares, left=left, limit=limit))
        if limit is not None:  # of two fields the slower counts
            left = left[results[-1].latest_min[left] <= limit.most_min[left] + SLACK_MIN]
    slowest = np.argmax([result.latest_min for result in results], axis=0)

    def pick(name: str) -> npt.NDArray[np.float64]:
        return np.asarray(np.choose(slowest, [getattr(result, name) for result in results]))

    return Reach(
        track_deg_true=track,
        distance_nm=distance,
        heading_deg_true=pick("heading_deg_true"),
        gs_kt=pick("gs_kt"),
        minutes=np.maximum.reduce([result.minutes for result in results]),
        earliest_min=np.minimum.reduce([result.earliest_min for result in results]),
        latest_min=np.maximum.reduce([result.latest_min for result in results]),
        reachable=np.logical_and.reduce([np.isfinite(result.latest_min) for result in results]),
        wind_known=np.logical_and.reduce([result.wind_known for result in results]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Leg:
    """One step of the ways: where its middle lies, its course, and how long it is; arrays of shape (n,)."""

    lat_deg: Floats
    lon_deg: Floats
    course_deg_true: Floats
    length_nm: Floats


def _legs(start: Position | Points, track: Floats, distance: Floats, steps: int) -> list[_Leg]:
    """Return the ways in steps of the same length."""
    length = distance / steps
    middles = [along(start, track, (step + 0.5) * length) for step in range(steps)]
    courses = [track] if steps == 1 else _courses(start, track, length, steps)
    return [
        _Leg(lat_deg=lat, lon_deg=lon, course_deg_true=course, length_nm=length)
        for (lat, lon), course in zip(middles, courses, strict=True)
    ]


def _courses(start: Position | Points, track: Floats, length: Floats, steps: int) -> list[Floats]:
    """Return the course of each step: the geodesic's turns along the way."""
    edges = [along(start, track, step * length) for step in range(steps + 1)]
    return [np.where(length > 0.0, courses_deg_true(*one, *two), track) for one, two in pairwise(edges)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """How long a way may take, and a groundspeed that its latest arrival cannot exceed; arrays of shape (n,)."""

    most_min: Floats
    fastest_kt: Floats

    def taken(self, rows: npt.NDArray[np.int64]) -> "Limit":
        """Return those of some ways."""
        return Limit(most_min=self.most_min[rows], fastest_kt=self.fastest_kt[rows])


@dataclass(frozen=True, slots=True, kw_only=True)
class _InField:
    heading_deg_true: Floats
    gs_kt: Floats
    minutes: Floats
    earliest_min: Floats
    latest_min: Floats
    wind_known: Bools


def _in_field(
    legs: Sequence[_Leg],
    tas_kt: float,
    field: WindSites,
    *,
    share: Floats,
    left: npt.NDArray[np.int64],
    limit: Limit | None,
) -> _InField:
    """Return minutes in one field, heading and groundspeed of the first leg, of the ways `left`; no other ends."""
    n = share.size
    minutes, earliest, latest = (np.full(n, np.inf) for _ in range(3))
    heading, first_gs, known = np.zeros(n), np.zeros(n), np.ones(n, dtype=bool)
    minutes[left] = earliest[left] = latest[left] = 0.0
    for number, leg in enumerate(legs):
        length = leg.length_nm[left]
        wind = wind_at(field, leg.lat_deg[left], leg.lon_deg[left], share[left])
        wind_from, speed = wind_from_components(wind.east_kt, wind.north_kt)
        triangle = solve(leg.course_deg_true[left], tas_kt, wind_from, speed)
        if not number:
            heading[left], first_gs[left] = triangle.heading_deg_true, triangle.gs_kt
        error, gs = wind_error_kt(speed), np.where(triangle.possible, triangle.gs_kt, 0.0)
        minutes[left] += minutes_at(length, gs)
        latest[left] += minutes_at(length, np.where(triangle.possible, gs - error, 0.0))
        earliest[left] += minutes_at(length, np.where(triangle.possible, gs + error, 0.0))
        known[left] &= wind.known
        if limit is not None:
            rest = minutes_at((len(legs) - 1 - number) * length, limit.fastest_kt[left])
            over = left[latest[left] + rest > limit.most_min[left] + SLACK_MIN]
            minutes[over] = earliest[over] = latest[over] = np.inf
            left = left[np.isfinite(latest[left])]
    return _InField(
        heading_deg_true=heading, gs_kt=first_gs, minutes=minutes, earliest_min=earliest, latest_min=latest,
        wind_known=known,
    )  # fmt: skip
