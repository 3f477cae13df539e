"""A flight as a line in space and time: where the aircraft is, minute by minute, in the winds of the way.

Cruise and descent go by the aircraft's figures, at its cruising speed. A climb by its figures, where it
has them; without figures the aircraft is taken to be at its level at once, which credits no time below cloud.
The wind is that of the cruising level throughout.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from refuge.aircraft.endurance import Endurance
from refuge.earth import Points, Position, along, courses_deg_true, track_and_distance
from refuge.errors import InputError
from refuge.flight.question import Question
from refuge.flight.situation import Situation
from refuge.flight.starts import Starts, winds_over
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.triangle import solve, wind_from_components
from refuge.flight.winds import wind_at

PIECE_NM = 5.0
"""The wind is looked up once in so many miles of the way."""
LONGEST_MIN = 24 * 60.0
"""A light aircraft flies no longer than this; whatever takes longer is a slip of the pen, or a lost battle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waypoint:
    """A point of the route as the person named it; the height of the ground there where it is known."""

    place: str
    at: Position
    elevation_ft: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """From a minute of the flight on, how long the instruments last after a failure then."""

    from_min: int
    endurance: Endurance
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteQuestion:
    """A whole flight: what is asked of each minute, and the way it takes.

    ``question`` is the one of the first minute; the others differ from it in place, time and endurance.
    ``blocks`` give the endurance, the first from minute 0. ``since_failure_min`` is set where the supply has
    failed already, so many minutes before departure: then the clock runs for every minute, and each minute
    asks what is left if the aircraft turns then. ``airborne`` leaves out the climb.
    """

    question: Question
    waypoints: tuple[Waypoint, ...]
    blocks: tuple[Block, ...]
    airborne: bool = False
    since_failure_min: float | None = None

    @property
    def departs(self) -> datetime:
        """Return when the flight begins."""
        return self.question.fails_at + timedelta(minutes=self.since_failure_min or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """The way in pieces: where each begins, and how far and how many minutes from the start it lies.

    ``lat_deg``, ``lon_deg`` and ``course_deg_true`` have shape (pieces,), ``along_nm`` and ``after_min``
    (pieces + 1,). ``wind_known`` is false where no wind is known for some piece: its time is that in still air.
    """

    lat_deg: Floats
    lon_deg: Floats
    course_deg_true: Floats
    along_nm: Floats
    after_min: Floats
    end: Position
    climb_ft_min: float | None
    descent_ft_min: float
    start_ft: float | None
    end_ft: float | None
    cruise_ft: float
    wind_known: bool

    @property
    def total_min(self) -> float:
        """Return how long the flight takes."""
        return float(self.after_min[-1])

    @property
    def distance_nm(self) -> float:
        """Return how long the way is."""
        return float(self.along_nm[-1])

    @property
    def minutes(self) -> Ints:
        """Return the minutes at which the supply may fail: 0, 1, ... before the end; at least 0."""
        return np.arange(max(1, int(np.ceil(self.total_min - 1e-9))))

    def at(self, minutes: Floats) -> tuple[Floats, Floats]:
        """Return latitudes and longitudes at minutes from the start; past the end, those of the end."""
        after = np.asarray(minutes, dtype=float)
        nm = np.interp(after, self.after_min, self.along_nm)
        piece = np.clip(np.searchsorted(self.after_min, after, side="right") - 1, 0, self.lat_deg.size - 1)
        starts = Points(lat_deg=self.lat_deg[piece], lon_deg=self.lon_deg[piece])
        lat, lon = along(starts, self.course_deg_true[piece], nm - self.along_nm[piece])
        over = after >= self.total_min
        return np.where(over, self.end.lat_deg, lat), np.where(over, self.end.lon_deg, lon)

    def altitude_ft(self, minutes: Floats) -> Floats:
        """Return the height above sea level at minutes from the start: never lower than figures prove."""
        after = np.asarray(minutes, dtype=float)
        height = np.full(after.shape, self.cruise_ft)
        if self.climb_ft_min is not None and self.start_ft is not None:
            height = np.minimum(height, self.start_ft + self.climb_ft_min * after)
        if self.end_ft is not None:
            left = np.maximum(self.total_min - after, 0.0)
            height = np.minimum(height, self.end_ft + self.descent_ft_min * left)
        return height


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pieces:
    start_lat: Floats
    start_lon: Floats
    middle_lat: Floats
    middle_lon: Floats
    course: Floats
    length_nm: Floats


def fly(asked: RouteQuestion, situation: Situation) -> Track:
    """Return where the aircraft is when.

    Raises
    ------
    InputError
        If the wind stops the aircraft on the way, or the way takes longer than a day.
    """
    question, pieces = asked.question, _pieces([point.at for point in asked.waypoints])
    aircraft = question.aircraft
    first, last = asked.waypoints[0], asked.waypoints[-1]
    climb = None if asked.airborne else aircraft.climb_ft_min
    climb_min = 0.0
    if climb is not None and first.elevation_ft is not None:
        climb_min = max(question.altitude_ft - first.elevation_ft, 0.0) / climb
    climb_tas = aircraft.climb_tas_kt or aircraft.cruise_tas_kt
    after = np.cumsum(pieces.length_nm) / aircraft.cruise_tas_kt * 60.0
    known = np.zeros(after.shape, dtype=bool)
    for _ in range(2):  # the wind of a place is that of the time there, which hangs on the wind before
        after = np.clip(after, 0.0, LONGEST_MIN)
        at_s = asked.departs.timestamp() + 60.0 * np.concatenate([[0.0], after[:-1]])
        gs_climb, gs_cruise, known = _speeds(question, situation, pieces, at_s, climb_tas)
        after = _clock(pieces, gs_climb, gs_cruise, climb_min)
    if after[-1] > LONGEST_MIN:
        raise InputError(
            f"the way would take {after[-1] / 60.0:.0f} hours in this wind",
            remedy="fly at another level, or less far",
        )
    return Track(
        lat_deg=pieces.start_lat,
        lon_deg=pieces.start_lon,
        course_deg_true=pieces.course,
        along_nm=np.concatenate([[0.0], np.cumsum(pieces.length_nm)]),
        after_min=np.concatenate([[0.0], after]),
        end=last.at,
        climb_ft_min=climb,
        descent_ft_min=aircraft.descent_ft_min,
        start_ft=first.elevation_ft,
        end_ft=last.elevation_ft,
        cruise_ft=question.altitude_ft,
        wind_known=bool(known.all()),
    )


def _pieces(points: list[Position]) -> _Pieces:
    """Return the way between points, cut up; each piece has the course at its beginning."""
    parts: list[tuple[Floats, ...]] = []
    for one, two in pairwise(points):
        course, distance = track_and_distance(one, [two.lat_deg], [two.lon_deg])
        edges = np.linspace(0.0, float(distance[0]), max(1, int(np.ceil(distance[0] / PIECE_NM))) + 1)
        lat, lon = along(one, course[0], edges)
        lat[-1], lon[-1] = two.lat_deg, two.lon_deg
        middle = along(one, course[0], (edges[:-1] + edges[1:]) / 2.0)
        parts.append(
            (lat[:-1], lon[:-1], *middle, courses_deg_true(lat[:-1], lon[:-1], lat[1:], lon[1:]), np.diff(edges))
        )
    joined = [np.concatenate(column) for column in zip(*parts, strict=True)]
    return _Pieces(
        start_lat=joined[0], start_lon=joined[1], middle_lat=joined[2], middle_lon=joined[3], course=joined[4],
        length_nm=joined[5],
    )  # fmt: skip


def _speeds(
    question: Question, situation: Situation, pieces: _Pieces, at_s: Floats, climb_tas_kt: float
) -> tuple[Floats, Floats, Bools]:
    """Return groundspeeds over each piece in the climb and in the cruise, and where the wind is known."""
    over = winds_over(question, situation, at_s)
    east, north = np.zeros(over.index.shape), np.zeros(over.index.shape)
    known = np.zeros(over.index.shape, dtype=bool)
    for i, fields in enumerate(over.winds):
        mine = over.index == i
        found = wind_at(fields.level, pieces.middle_lat[mine], pieces.middle_lon[mine], over.share[mine])
        east[mine], north[mine], known[mine] = found.east_kt, found.north_kt, found.known
    wind_from, speed = wind_from_components(east, north)
    ways = [solve(pieces.course, tas, wind_from, speed) for tas in (climb_tas_kt, question.aircraft.cruise_tas_kt)]
    climb, cruise = (np.where(way.possible, way.gs_kt, 0.0) for way in ways)
    return climb, cruise, known


def _clock(pieces: _Pieces, gs_climb: Floats, gs_cruise: Floats, climb_min: float) -> Floats:
    """Return the minutes from the start to the end of each piece."""
    after, clock = 0.0, []
    for i, length in enumerate(pieces.length_nm):
        gs = float(gs_climb[i] if after < climb_min else gs_cruise[i])
        if length > 0.0 and gs <= 0.0:
            raise InputError(
                f"the wind stops the aircraft at {pieces.middle_lat[i]:.2f}, {pieces.middle_lon[i]:.2f},"
                f" {after:.0f} min after departure",
                remedy="fly at another level, at another time, or another way",
            )
        after += 60.0 * float(length) / gs if length > 0.0 else 0.0
        clock.append(after)
    return np.array(clock)


def block_at(asked: RouteQuestion, minute: int) -> Block:
    """Return the block that holds at a minute."""
    return max((block for block in asked.blocks if block.from_min <= minute), key=lambda block: block.from_min)


def endurance_at_minute(asked: RouteQuestion, minute: int) -> Endurance:
    """Return the endurance that counts where the aircraft may turn at a minute of the flight.

    After a failure that is there already, recognition is what has passed by then, if that is more.
    """
    endurance = block_at(asked, minute).endurance
    if asked.since_failure_min is None:
        return endurance
    passed = asked.since_failure_min + minute
    return replace(endurance, recognition_min=max(endurance.recognition_min, passed))


def fails_at_minute(asked: RouteQuestion, minute: int) -> datetime:
    """Return when the supply fails in the question of a minute."""
    return asked.question.fails_at + timedelta(minutes=0 if asked.since_failure_min is not None else minute)


def turns_min(asked: RouteQuestion, minute: int) -> float:
    """Return at which minute of the flight the aircraft turns after a failure at `minute`."""
    turn = fails_at_minute(asked, minute) + timedelta(minutes=endurance_at_minute(asked, minute).recognition_min)
    return (turn - asked.departs) / timedelta(minutes=1)


def question_at(asked: RouteQuestion, track: Track, minute: int) -> Question:
    """Return the question of one minute: what `refuge find` would be asked there and then."""
    lat, lon = track.at(np.array([turns_min(asked, minute)]))
    place = Position(lat_deg=float(lat[0]), lon_deg=float(lon[0]))
    return replace(
        asked.question,
        at=place,
        place=f"{place.lat_deg:.3f},{place.lon_deg:.3f}",
        fails_at=fails_at_minute(asked, minute),
        endurance=endurance_at_minute(asked, minute),
    )


def groups(asked: RouteQuestion, minutes: Ints) -> Iterator[tuple[Endurance, Ints]]:
    """Yield the minutes that share an endurance, so that each group is one pass."""
    for endurance, mine in _spans(asked, minutes):
        yield endurance, minutes[mine]


def _spans(asked: RouteQuestion, minutes: Ints) -> Iterator[tuple[Endurance, Ints]]:
    """Yield endurances, each with the rows of `minutes` for which it holds."""
    if asked.since_failure_min is not None:  # what has passed counts, and that is more each minute
        alike: list[tuple[Endurance, list[int]]] = []
        for row, minute in enumerate(minutes.tolist()):
            endurance = endurance_at_minute(asked, minute)
            if not alike or alike[-1][0] != endurance:
                alike.append((endurance, []))
            alike[-1][1].append(row)
        yield from ((endurance, np.array(mine)) for endurance, mine in alike)
        return
    ordered = sorted(asked.blocks, key=lambda block: block.from_min)
    block_of = np.searchsorted([block.from_min for block in ordered], minutes, side="right") - 1
    left = list(range(len(ordered)))
    while left:
        endurance = ordered[left[0]].endurance
        same = [i for i in left if ordered[i].endurance == endurance]
        mine = np.flatnonzero(np.isin(block_of, same))
        if mine.size:
            yield endurance, mine
        left = [i for i in left if i not in same]


def turns(asked: RouteQuestion, situation: Situation, track: Track, minutes: Ints) -> Starts:
    """Return where and when the aircraft turns, a row for each of `minutes`."""
    since = asked.since_failure_min
    failed_min = minutes.astype(float) if since is None else np.full(minutes.shape, -since)
    turn_min = np.zeros(minutes.shape)
    for endurance, mine in _spans(asked, minutes):
        turn_min[mine] = failed_min[mine] + endurance.recognition_min
    lat, lon = track.at(turn_min)
    turn_s = asked.departs.timestamp() + 60.0 * turn_min
    over = winds_over(asked.question, situation, turn_s)
    return Starts(lat_deg=lat, lon_deg=lon, turn_s=turn_s, wind=over.index, share=over.share, winds=over.winds)
