"""Every minute of a flight against every airfield: the pairs that meet, in one pass over arrays.

A pair is judged as `refuge find` judges it there and then, by the same functions. What a cheap bound shows to
be out of reach, and then what the wind shows to be, is never looked at further: it cannot meet.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from refuge.airfield import Airfield
from refuge.flight.arrival import Window, descents_min, plan_budget_min, window_of
from refuge.flight.bars import Bars
from refuge.flight.basis import Basis, Shared, basis_from
from refuge.flight.certainty import certainties, factors
from refuge.flight.decide import codes_of
from refuge.flight.question import Question
from refuge.flight.reach import Reach, wind_error_kt
from refuge.flight.situation import Situation
from refuge.flight.starts import Starts, way_from
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.track import RouteQuestion, Track, groups, turns
from refuge.flight.verdict import MEETS, worst

NM_PER_RAD = 3420.0
"""No radian of a great circle on WGS84 is shorter (59.7 NM a degree); the bound may only be too large."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """Pairs of a minute and an airfield that meets, by minute; every array has shape (pairs,).

    ``minutes`` are those to overhead without error, counted from the turn as all minutes are. ``word`` is the
    certainty in steps (3 high, 2 fair, 1 low), ``score`` its number. ``evidence`` holds the names of the
    stations that each pair rests on.
    """

    minute: Ints
    field: Ints
    minutes: Floats
    break_out_min: Floats
    spare_min: Floats
    word: Ints
    score: Floats
    evidence: tuple[frozenset[str], ...]


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
        return cls(lat_deg=lat, lon_deg=lon, ground_ft=ground, unit=_unit(lat, lon))


Ways = dict[tuple[object, ...], tuple[float, Ints, Ints, Reach]]
"""Start, airfield and way of pairs, with the minutes within which they were looked for."""
PICK_EVERY = 16
FIRST_WAVE = 3
"""So many airfields of a minute are tried first where only one is wanted."""
WORDS = {"none": 0, "low": 1, "fair": 2, "high": 3}


def meeting(asked: RouteQuestion, situation: Situation, track: Track, shared: Shared) -> Meeting:
    """Return every pair of a minute and an airfield that meets every check."""
    points = Points.of(situation.airfields)
    parts = [_meeting(job, situation, shared, job.pairs(points)) for job in _jobs(asked, situation, track)]
    kept = [part for part in parts if part is not None]
    if not kept:
        nothing, none = np.zeros(0), np.zeros(0, dtype=np.int64)
        return Meeting(
            minute=none, field=none, minutes=nothing, break_out_min=nothing, spare_min=nothing, word=none,
            score=nothing, evidence=(),
        )  # fmt: skip
    return _taken(kept, np.argsort(np.concatenate([part.minute for part in kept]), kind="stable"))


def covered(
    asked: RouteQuestion,
    situation: Situation,
    track: Track,
    shared: Shared,
    *,
    points: Points,
    bars: Bars,
    known: Ways,
) -> Bools:
    """Return which minutes have a refuge at all: the nearest airfields first, the others where these do not do.

    What `bars` show to be spoilt by one forecast cannot meet, and is never looked at further. `known` keeps
    ways for the flights that follow.
    """
    found = np.zeros(track.minutes.size, dtype=bool)
    for job in _jobs(asked, situation, track):
        pairs = job.open_pairs(situation, points, bars, known)
        row = pairs.row
        place = np.arange(row.size) - np.searchsorted(row, row, side="left")
        for wave in (place < FIRST_WAVE, place >= FIRST_WAVE):
            mine = wave & ~found[job.minutes[row]]
            if mine.any():
                rows = _basis(job, situation, shared, pairs.taken(np.flatnonzero(mine)))
                meets = worst(*codes_of(rows).values()) == MEETS
                found[job.minutes[row[mine][meets]]] = True
    return found


def pairs_in_reach(asked: RouteQuestion, situation: Situation, track: Track) -> int:
    """Return how many pairs of a minute and an airfield are in reach, whatever the weather."""
    points = Points.of(situation.airfields)
    return sum(job.pairs(points).row.size for job in _jobs(asked, situation, track))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pairs:
    """Pairs of a start and an airfield with the way between them; arrays of shape (pairs,)."""

    row: Ints
    field: Ints
    break_out_min: Floats
    way: Reach

    def taken(self, kept: Ints) -> "_Pairs":
        return _Pairs(
            row=self.row[kept], field=self.field[kept], break_out_min=self.break_out_min[kept],
            way=self.way.taken(kept),
        )  # fmt: skip


def _nothing(starts: Starts) -> _Pairs:
    none, nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
    way = way_from(starts.taken(none), nothing, nothing, tas_kt=1.0)
    return _Pairs(row=none, field=none, break_out_min=nothing, way=way)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """Minutes that share an endurance: one question with a start for each of them."""

    question: Question
    minutes: Ints
    starts: Starts

    def pairs(self, points: Points, known: Ways | None = None) -> _Pairs:
        """Return the pairs in reach, by minute, the nearest first."""
        endurance = self.question.endurance
        budget = plan_budget_min(endurance, self.question.margin_min)
        if budget is None or not endurance.dependable or not points.lat_deg.size:
            return _nothing(self.starts)
        descent = descents_min(self.question, points.ground_ft)
        row, field, way = self._ways(points, budget - float(descent.min()), {} if known is None else known)
        break_out = way.latest_min + descent[field]
        kept = np.flatnonzero((break_out <= budget) & way.wind_known)
        order = kept[np.lexsort((break_out[kept], row[kept]))]
        return _Pairs(row=row[order], field=field[order], break_out_min=break_out[order], way=way.taken(order))

    def _ways(self, points: Points, way_min: float, known: Ways) -> tuple[Ints, Ints, Reach]:
        """Return start, airfield and way of every pair that may be reached in time.

        In a wind that the pilot gives, the same at any hour and level, ways from the same places are flown once.
        """
        wind, tas_kt = self.question.wind, self.question.aircraft.cruise_tas_kt
        key = (wind, tas_kt, self.starts.lat_deg.tobytes(), self.starts.lon_deg.tobytes())
        if wind is None or key not in known or known[key][0] < way_min:
            row, field = candidates(self.question, self.starts, points.unit, way_min)
            way = way_from(self.starts.taken(row), points.lat_deg[field], points.lon_deg[field], tas_kt=tas_kt)
            if wind is None:
                return row, field, way
            known[key] = (way_min, row, field, way)
        return known[key][1:]

    def open_pairs(self, situation: Situation, points: Points, bars: Bars, known: Ways) -> _Pairs:
        """Return those of the pairs in reach that neither a forecast nor the night bars."""
        pairs = self.pairs(points, known)
        window = self._window(pairs)
        kept = np.flatnonzero(~bars.barred(pairs.field, window))
        pairs = pairs.taken(kept)
        return pairs.taken(np.flatnonzero(~bars.dark(situation, pairs.field, self._window(pairs))))

    def _window(self, pairs: _Pairs) -> Window:
        return window_of(self.question, self.starts.turn_s[pairs.row], pairs.way, pairs.break_out_min)


def _jobs(asked: RouteQuestion, situation: Situation, track: Track) -> Iterator[_Job]:
    for endurance, minutes in groups(asked, track.minutes):
        yield _Job(
            question=replace(asked.question, endurance=endurance),
            minutes=minutes,
            starts=turns(asked, situation, track, minutes),
        )


def _taken(parts: Sequence[Meeting], order: Ints) -> Meeting:
    evidence = [names for part in parts for names in part.evidence]
    return Meeting(
        minute=np.concatenate([part.minute for part in parts])[order],
        field=np.concatenate([part.field for part in parts])[order],
        minutes=np.concatenate([part.minutes for part in parts])[order],
        break_out_min=np.concatenate([part.break_out_min for part in parts])[order],
        spare_min=np.concatenate([part.spare_min for part in parts])[order],
        word=np.concatenate([part.word for part in parts])[order],
        score=np.concatenate([part.score for part in parts])[order],
        evidence=tuple(evidence[i] for i in order),
    )


def _unit(lat_deg: Floats, lon_deg: Floats) -> Floats:
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    return np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=-1)


def _basis(job: _Job, situation: Situation, shared: Shared, pairs: _Pairs) -> Basis:
    airfields = [situation.airfields[i] for i in pairs.field]
    return basis_from(job.question, situation, airfields, job.starts.taken(pairs.row), shared, way=pairs.way)


def _meeting(job: _Job, situation: Situation, shared: Shared, pairs: _Pairs) -> Meeting | None:
    """Return those of the pairs that meet; ``None`` where there are none."""
    row, field = pairs.row, pairs.field
    budget = plan_budget_min(job.question.endurance, job.question.margin_min)
    if not row.size or budget is None:
        return None
    rows = _basis(job, situation, shared, pairs)
    codes = worst(*codes_of(rows).values())
    found = certainties(factors(rows), codes)
    meets = np.flatnonzero(codes == MEETS)
    return Meeting(
        minute=job.minutes[row[meets]],
        field=field[meets],
        minutes=rows.arrival.reach.minutes[meets],
        break_out_min=rows.arrival.break_out_min[meets],
        spare_min=budget - rows.arrival.break_out_min[meets],
        word=np.array([WORDS[found[i].word] for i in meets], dtype=np.int64),
        score=np.array([found[i].score for i in meets], dtype=float),
        evidence=_evidence(rows, meets),
    )


def candidates(question: Question, starts: Starts, unit: Floats, way_min: float) -> tuple[Ints, Ints]:
    """Return start and airfield of every pair that may be reached in time: all the wind behind the aircraft.

    A safe bound without a geodesic: it may hold too many pairs, and never too few.
    """
    strongest = max((winds.strongest_kt for winds in starts.winds), default=0.0)
    # The latest arrival counts, so the error is taken off; the sum grows with the wind, so the strongest bounds it.
    fastest = question.aircraft.cruise_tas_kt + strongest - float(wind_error_kt(strongest))
    radius_rad = min(1.01 * max(fastest * way_min, 0.0) / 60.0 / NM_PER_RAD + 1e-4, np.pi)
    here = _unit(starts.lat_deg, starts.lon_deg)
    along = _near_any(here, unit, radius_rad)
    row, field = np.nonzero(here @ unit[along].T >= np.cos(radius_rad))
    return row, along[field]


def _near_any(here: Floats, unit: Floats, radius_rad: float) -> Ints:
    """Return the airfields that may lie within the radius of any start, looked up from every so many of them."""
    picked = np.arange(here.shape[0]) // PICK_EVERY * PICK_EVERY
    apart_rad = np.arccos(np.clip((here * here[picked]).sum(axis=1), -1.0, 1.0)).max(initial=0.0)
    nearest = (here[::PICK_EVERY] @ unit.T).max(axis=0, initial=-1.0)
    return np.flatnonzero(nearest >= np.cos(min(radius_rad + float(apart_rad) + 1e-6, np.pi)))


def _evidence(rows: Basis, meets: Ints) -> tuple[frozenset[str], ...]:
    """Return the stations that each of some rows rests on: at or for the field, and in the area around it."""
    weighed, names = rows.weighed, np.array([station.id for station in rows.network.stations])
    nears = [
        near for inquiry in (weighed.inquiry, weighed.area_inquiry) for near in (inquiry.reports, inquiry.forecasts)
    ]
    field = np.concatenate([near.field for near in nears])
    station = np.concatenate([near.station for near in nears])
    order = np.argsort(field, kind="stable")
    field, station = field[order], station[order]
    first, last = np.searchsorted(field, meets, side="left"), np.searchsorted(field, meets, side="right")
    seen: dict[bytes, frozenset[str]] = {}
    found = []
    for begin, end in zip(first, last, strict=True):
        mine = np.unique(station[begin:end])
        key = mine.tobytes()
        if key not in seen:
            seen[key] = frozenset(names[mine].tolist())
        found.append(seen[key])
    return tuple(found)
