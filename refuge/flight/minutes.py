"""Every minute of a flight against every airfield: the pairs that meet, in one pass over arrays.

A pair is judged as `refuge find` judges it there and then, by the same functions. What a cheap bound shows to
be out of reach, and then what the wind shows to be, is never looked at further: it cannot meet.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from refuge.flight.arrival import Window, descents_min, plan_budget_min, window_of
from refuge.flight.bars import Bars, BarsByLimits
from refuge.flight.basis import Basis, Shared, basis_from
from refuge.flight.bounds import Candidates, Points, candidates, certain_window
from refuge.flight.certainty import certainties, factors
from refuge.flight.decide import codes_of
from refuge.flight.question import Question
from refuge.flight.reach import HORIZON_NM, Limit, Reach
from refuge.flight.situation import Situation
from refuge.flight.starts import Starts, way_from
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.track import RouteQuestion, Track, groups, turns
from refuge.flight.verdict import MEETS, worst


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """Pairs of a minute and an airfield that meets, by minute; every array has shape (pairs,).

    ``minutes`` are those to overhead without error, counted from the turn as all minutes are. ``word`` is the
    certainty in steps (3 high, 2 fair, 1 low), ``score`` its number; ``last_resort`` marks the heart of class B
    airspace and restricted areas. ``evidence`` holds the names of the stations that each pair rests on.
    """

    minute: Ints
    field: Ints
    minutes: Floats
    break_out_min: Floats
    spare_min: Floats
    word: Ints
    score: Floats
    last_resort: Bools
    evidence: tuple[frozenset[str], ...]


Known = dict[tuple[object, ...], Candidates]
WAVES = (3, 12, np.inf)
"""So many airfields of a minute are tried first, then so many, then all, where only one is wanted."""
WORDS = {"none": 0, "low": 1, "fair": 2, "high": 3}


def meeting(asked: RouteQuestion, situation: Situation, track: Track, shared: Shared) -> Meeting:
    """Return every pair of a minute and an airfield that meets every check."""
    points, barred = Points.of(situation.airfields), BarsByLimits(situation=situation, shared=shared)
    parts = []
    for job in _jobs(asked, situation, track):
        bars = barred.of(job.question)
        some = job.by_day(job.open_candidates(points, bars), points, bars)
        parts.append(_meeting(job, situation, shared, job.open_pairs(some, points, bars).by_break_out()))
    kept = [part for part in parts if part is not None]
    if not kept:
        nothing, none = np.zeros(0), np.zeros(0, dtype=np.int64)
        return Meeting(
            minute=none, field=none, minutes=nothing, break_out_min=nothing, spare_min=nothing, word=none,
            score=nothing, last_resort=np.zeros(0, dtype=bool), evidence=(),
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
    known: Known | None = None,
) -> Bools:
    """Return which minutes have a refuge at all: the nearest airfields first, the others where these do not do.

    What `bars` show to be spoilt by one forecast cannot meet, and is never looked at further. `known` keeps who
    may be in reach for the flights that follow.
    """
    found = np.zeros(track.minutes.size, dtype=bool)
    for job in _jobs(asked, situation, track, known):
        left = job.open_candidates(points, bars)
        for most in WAVES:
            place = np.arange(left.row.size) - np.searchsorted(left.row, left.row, side="left")
            pairs = job.open_pairs(left.taken(np.flatnonzero(place < most)), points, bars)
            if pairs.row.size:
                meets = worst(*codes_of(_basis(job, situation, shared, pairs)).values()) == MEETS
                found[job.minutes[pairs.row[meets]]] = True
            left = left.taken(np.flatnonzero((place >= most) & ~found[job.minutes[left.row]]))
            if not left.row.size:
                break
            left = job.by_day(left, points, bars)
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

    def by_break_out(self) -> "_Pairs":
        """Return the pairs by start, the nearest first."""
        return self.taken(np.lexsort((self.break_out_min, self.row)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """Minutes that share an endurance: one question with a start for each of them."""

    question: Question
    minutes: Ints
    starts: Starts
    known: Known | None = None

    @property
    def budget_min(self) -> float | None:
        """Return the minutes from the turn to break-out; ``None`` where nothing may be planned on them."""
        budget = plan_budget_min(self.question.endurance, self.question.margin_min)
        return budget if self.question.endurance.dependable else None

    def pairs(self, points: Points) -> _Pairs:
        """Return the pairs in reach, by minute, the nearest first."""
        return self._flown(self._candidates(points), points).by_break_out()

    def open_candidates(self, points: Points, bars: Bars) -> Candidates:
        """Return pairs that may be in reach, by minute, the nearest first; none that a forecast surely bars."""
        found = self._candidates(points)
        if not found.row.size:
            return found
        kept = ~bars.barred(found.field, self._certain(found, points))
        return found.taken(np.flatnonzero(kept)[np.lexsort((found.apart_rad[kept], found.row[kept]))])

    def by_day(self, some: Candidates, points: Points, bars: Bars) -> Candidates:
        """Return those of some pairs that the night does not bar for certain."""
        window = self._certain(some, points)
        sure = np.flatnonzero(window.earliest_s <= window.landed_s)
        kept = np.ones(some.row.shape, dtype=bool)
        kept[sure] = ~bars.dark(some.field[sure], window.taken(sure))
        return some.taken(np.flatnonzero(kept))

    def open_pairs(self, some: Candidates, points: Points, bars: Bars) -> _Pairs:
        """Return those of some pairs that are in reach, and that neither a forecast nor the night bars."""
        pairs = self._flown(some, points)
        pairs = pairs.taken(np.flatnonzero(~bars.barred(pairs.field, self._window(pairs))))
        return pairs.taken(np.flatnonzero(~bars.dark(pairs.field, self._window(pairs))))

    def _certain(self, some: Candidates, points: Points) -> Window:
        descent = descents_min(self.question, points.ground_ft)[some.field]
        return certain_window(self.question, self.starts, some, descent, self.budget_min or 0.0)

    def _candidates(self, points: Points) -> Candidates:
        starts = self.starts if self.budget_min is not None else self.starts.taken(np.zeros(0, dtype=np.int64))
        way_min = (self.budget_min or 0.0) - descents_min(self.question, points.ground_ft)
        wind, tas_kt = self.question.wind, self.question.aircraft.cruise_tas_kt
        if wind is None or self.known is None:
            return candidates(self.question, starts, points, way_min)
        # The pilot's figure is the same at any hour: from the same places the same may be in reach.
        key = (wind, tas_kt, starts.lat_deg.tobytes(), starts.lon_deg.tobytes(), way_min.tobytes())
        if key not in self.known:
            self.known[key] = candidates(self.question, starts, points, way_min)
        return self.known[key]

    def _flown(self, some: Candidates, points: Points) -> _Pairs:
        """Return those of some pairs that are in reach, with their ways."""
        row, field, tas_kt = some.row, some.field, self.question.aircraft.cruise_tas_kt
        descent, starts = descents_min(self.question, points.ground_ft)[field], self.starts.taken(row)
        limit = Limit(most_min=(self.budget_min or 0.0) - descent, fastest_kt=some.fastest_kt)
        way = way_from(starts, points.lat_deg[field], points.lon_deg[field], tas_kt=tas_kt, limit=limit)
        break_out = way.latest_min + descent
        pairs = _Pairs(row=row, field=field, break_out_min=break_out, way=way)
        in_reach = (break_out <= (self.budget_min or 0.0)) & (way.distance_nm <= HORIZON_NM)
        return pairs.taken(np.flatnonzero(in_reach & way.wind_known))

    def _window(self, pairs: _Pairs) -> Window:
        return window_of(self.question, self.starts.turn_s[pairs.row], pairs.way, pairs.break_out_min)


def _jobs(asked: RouteQuestion, situation: Situation, track: Track, known: Known | None = None) -> Iterator[_Job]:
    starts = turns(asked, situation, track, track.minutes)
    for endurance, minutes in groups(asked, track.minutes):
        question = replace(asked.question, endurance=endurance)
        yield _Job(question=question, minutes=minutes, starts=starts.taken(minutes), known=known)


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
        last_resort=np.concatenate([part.last_resort for part in parts])[order],
        evidence=tuple(evidence[i] for i in order),
    )


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
        last_resort=rows.airspace.last_resort[meets],
        evidence=_evidence(rows, meets),
    )


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
