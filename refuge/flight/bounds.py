"""What is certain of ways before they are worked out: who may be in reach, and which instants a window holds.

Bounds without a geodesic and without the wind of the way. They may leave in too much, never too little.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from refuge.airfield import Airfield
from refuge.earth import unit_vectors
from refuge.flight.arrival import LANDING_MIN, NEVER_MIN, Window, timing_error_min
from refuge.flight.question import Question
from refuge.flight.reach import minutes_at, wind_error_kt
from refuge.flight.starts import Starts
from refuge.flight.state_arrays import Floats, Ints
from refuge.flight.winds import FARTHEST_RAD, NM_PER_RAD

MOST_NM_PER_RAD = 3460.0
"""No radian of a great circle on WGS84 is longer (60.32 NM a degree, at the poles)."""
SPARE_NM = 0.05
"""What angles between unit vectors may be off, many times over."""
PICK_EVERY = 16
SECTORS = 48
TURN_RAD = 0.01
"""No course on a sphere differs more from that of WGS84: 0.2 degrees, and as much again to spare."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """Where airfields lie, and how high (0 where unknown); ``unit`` has shape (fields, 3)."""

    lat_deg: Floats
    lon_deg: Floats
    ground_ft: Floats
    unit: Floats

    @classmethod
    def of(cls, airfields: Sequence[Airfield]) -> "Points":
        """Return the places of airfields."""
        lat = np.array([field.lat_deg for field in airfields], dtype=float)
        lon = np.array([field.lon_deg for field in airfields], dtype=float)
        ground = np.array([field.elevation_ft or 0.0 for field in airfields], dtype=float)
        return cls(lat_deg=lat, lon_deg=lon, ground_ft=ground, unit=unit_vectors(lat, lon))


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidates:
    """Pairs of a start and an airfield, by start; arrays of shape (pairs,).

    ``apart_rad`` is the angle between them. No groundspeed on the way, its error counted, is more than
    ``fastest_kt`` for the latest arrival, or less than ``slowest_kt`` for the earliest, if there is one at all.
    """

    row: Ints
    field: Ints
    apart_rad: Floats
    fastest_kt: Floats
    slowest_kt: Floats

    def taken(self, kept: Ints) -> "Candidates":
        """Return some of the pairs."""
        return Candidates(
            row=self.row[kept], field=self.field[kept], apart_rad=self.apart_rad[kept],
            fastest_kt=self.fastest_kt[kept], slowest_kt=self.slowest_kt[kept],
        )  # fmt: skip


def candidates(question: Question, starts: Starts, points: Points, way_min: Floats) -> Candidates:
    """Return every pair that may be reached in `way_min` (fields,), all the wind of its way behind it."""
    tas_kt, here = question.aircraft.cruise_tas_kt, unit_vectors(starts.lat_deg, starts.lon_deg)
    anywhere, longest = max((w.strongest_kt for w in starts.winds), default=0.0), float(way_min.max(initial=0.0))
    # The latest arrival counts, so the error is taken off; the sum grows with the wind, so the strongest bounds it.
    radius = float(_radius_rad(tas_kt + anywhere - float(wind_error_kt(anywhere)), longest))
    along = _near_any(here, points.unit, radius)
    cosine = here @ points.unit[along].T
    row, column = np.nonzero(cosine >= np.cos(radius))
    field = along[column]
    apart = np.arccos(np.clip(cosine[row, column], -1.0, 1.0))
    behind, ahead, strongest = _winds_along(starts, here, radius, row, _bearing(starts, points, row, field))
    least_error_kt = float(wind_error_kt(0.0))
    # Held across the strongest wind, the aircraft makes at least so much way through the air.
    way_kt = np.sqrt(np.maximum(tas_kt**2 - strongest**2, 0.0))
    found = Candidates(
        row=row, field=field, apart_rad=apart,
        fastest_kt=tas_kt + behind - least_error_kt, slowest_kt=way_kt - ahead + least_error_kt,
    )  # fmt: skip
    return found.taken(np.flatnonzero(apart <= _radius_rad(found.fastest_kt, way_min[field])))


def _radius_rad(fastest_kt: Floats | float, way_min: Floats | float) -> Floats:
    return np.minimum(1.01 * np.maximum(fastest_kt * way_min, 0.0) / 60.0 / NM_PER_RAD + 1e-4, np.pi)


def _bearing(starts: Starts, points: Points, row: Ints, field: Ints) -> tuple[Floats, Floats]:
    """Return the course (radians) at the start of each pair's way, and how far it may turn on it.

    On a sphere, whose courses differ from those of WGS84 by less than `TURN_RAD`.
    """
    lat1, lat2 = np.radians(starts.lat_deg[row]), np.radians(points.lat_deg[field])
    apart = np.radians(points.lon_deg[field] - starts.lon_deg[row])
    out = np.arctan2(
        np.sin(apart) * np.cos(lat2), np.cos(lat1) * np.sin(lat2) - np.sin(lat1) * np.cos(lat2) * np.cos(apart)
    )
    into = np.arctan2(
        np.sin(apart) * np.cos(lat1), np.cos(lat1) * np.sin(lat2) * np.cos(apart) - np.sin(lat1) * np.cos(lat2)
    )
    return out, np.abs((into - out + np.pi) % (2.0 * np.pi) - np.pi) + TURN_RAD


def _winds_along(
    starts: Starts, here: Floats, radius_rad: float, row: Ints, courses: tuple[Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """Return the most wind behind, the most ahead, and the strongest of any place on the ways of pairs.

    The wind of a place is a mean of the sites that count there. Sites are looked for around every so many of the
    starts, courses taken by sectors; what lies between them, and turns of the way, add what they may.
    """
    behind, ahead, strongest = _winds_by_sector(starts, here, radius_rad)
    course, turn = courses
    sector = np.rint(course / (2.0 * np.pi / SECTORS)).astype(np.int64) % SECTORS
    off_kt = strongest[row] * (turn + np.pi / SECTORS)
    return behind[row, sector] + off_kt, ahead[row, sector] + off_kt, strongest[row]


def _winds_by_sector(starts: Starts, here: Floats, radius_rad: float) -> tuple[Floats, Floats, Floats]:
    """Return the most wind behind and ahead (starts, sectors), and the strongest, within an angle of starts.

    Of two fields the slower counts for the latest arrival, the faster for the earliest: the lesser of each bounds.
    """
    behind, ahead = (np.full((here.shape[0], SECTORS), np.inf) for _ in range(2))
    strongest = np.zeros(here.shape[0])
    courses = np.arange(float(SECTORS)) * (2.0 * np.pi / SECTORS)
    for i, winds in enumerate(starts.winds):
        mine = np.flatnonzero(starts.wind == i)
        first = np.arange(mine.size) // PICK_EVERY * PICK_EVERY
        apart = np.arccos(np.clip((here[mine] * here[mine[first]]).sum(axis=1), -1.0, 1.0)).max(initial=0.0)
        within = np.cos(min(radius_rad + FARTHEST_RAD + float(apart) + 1e-6, np.pi))
        for field in winds.fields:
            near = np.ones((mine[::PICK_EVERY].size, field.east_kt.size), dtype=bool)
            if not field.is_uniform:
                near = here[mine[::PICK_EVERY]] @ unit_vectors(field.lat_deg, field.lon_deg).T >= within
            least, most = field.along_kt(courses)
            for number, some in enumerate(near):
                rows = mine[number * PICK_EVERY : (number + 1) * PICK_EVERY]
                strongest[rows] = np.maximum(strongest[rows], field.speeds_kt[some].max(initial=0.0))
                behind[rows] = np.minimum(behind[rows], most[some].max(axis=0, initial=-np.inf))
                ahead[rows] = np.minimum(ahead[rows], -least[some].min(axis=0, initial=np.inf))
    known = np.isfinite(behind)  # where no site is near nobody knows the wind, and nothing is in reach
    return np.where(known, behind, 0.0), np.where(known, ahead, 0.0), np.maximum(strongest, 0.0)


def _near_any(here: Floats, unit: Floats, radius_rad: float) -> Ints:
    """Return the airfields that may lie within the radius of any start, looked up from every so many of them."""
    picked = np.arange(here.shape[0]) // PICK_EVERY * PICK_EVERY
    apart_rad = np.arccos(np.clip((here * here[picked]).sum(axis=1), -1.0, 1.0)).max(initial=0.0)
    nearest = (here[::PICK_EVERY] @ unit.T).max(axis=0, initial=-1.0)
    return np.flatnonzero(nearest >= np.cos(min(radius_rad + float(apart_rad) + 1e-6, np.pi)))


def certain_window(
    question: Question, starts: Starts, pairs: Candidates, descent_min: Floats, budget_min: float
) -> Window:
    """Return instants that the window of each pair holds if it is reached in time, whatever the wind on the way.

    The true window begins no later than ``start_s`` and ends no earlier than ``end_s``; likewise the arrival is no
    later than ``earliest_s`` at its earliest, and no earlier than ``latest_s`` and ``landed_s``. Where a begin lies
    after its end, the window begins before the one and ends after the other all the same.
    """
    near_nm = np.maximum(pairs.apart_rad * NM_PER_RAD - SPARE_NM, 0.0)
    far_nm = pairs.apart_rad * MOST_NM_PER_RAD + SPARE_NM
    slow_min, fast_min = minutes_at(far_nm, pairs.slowest_kt), minutes_at(near_nm, pairs.fastest_kt)
    turn_s, now_s = starts.turn_s[pairs.row], question.now.timestamp()
    earliest = turn_s + 60.0 * np.minimum(slow_min, budget_min - descent_min)
    latest = turn_s + 60.0 * (np.minimum(fast_min, NEVER_MIN) + descent_min)
    landed = latest + 60.0 * (LANDING_MIN + question.slip_min)
    pad = 60.0 * timing_error_min((latest - now_s) / 60.0 + question.slip_min)
    return Window(
        earliest_s=earliest, latest_s=latest, landed_s=landed, start_s=np.maximum(now_s, earliest - pad),
        end_s=landed + pad,
    )  # fmt: skip
