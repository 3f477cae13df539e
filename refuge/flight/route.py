"""The whole flight: for every minute where to go if the supply fails then, and the minutes without an answer.

Refuges of a minute rank by certainty (high, fair, low), then by independence (what shares no station with the
better ones comes first), then by spare, which counts up to 20 min; a last resort (class B, a restricted area)
stands behind them all. A minute without one is a gap, unless the aircraft is in visual conditions then, and until
the failure is noticed, by the same evidence.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from typing import Literal

import numpy as np

from refuge.aircraft.endurance import Endurance
from refuge.airfield import Airfield
from refuge.earth import Position
from refuge.flight.basis import Shared, shared_of
from refuge.flight.entries import Entry, entry, summary
from refuge.flight.minutes import Meeting, meeting
from refuge.flight.shortlist import build as shortlist_of
from refuge.flight.situation import Situation
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.track import RouteQuestion, Track, fly, question_at, turns_min
from refuge.flight.verdict import MEETS
from refuge.flight.visual import visual_codes
from refuge.sun import is_day

GAP_BUDGET_MIN = 15.0
"""Minutes of a flight that may be without a refuge; a proposal after the 15 min that some rules for single-engine
flight in cloud allow (set for other failure rates: the answer says so)."""
SPARE_COUNTS_MIN = 20.0

State = Literal["refuge", "visual", "gap"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Minutes in a row, `from_min` to before `to_min`, with the same best refuge, in sight, or with nothing.

    ``night`` where some of it is flown in the dark; one in sight is wholly by night, or wholly by day.
    """

    state: State
    from_min: int
    to_min: int
    field: int | None
    least_spare_min: float | None
    night: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class GapReason:
    """What stands in the way in a gap at one minute of it: for most airfields, in words, and for the best of them.

    ``closest`` is what `refuge find` shows first there; ``None`` where no airfield lies in question.
    """

    minute: int
    why: str
    closest: Entry | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """One refuge over the flight: the first and the last minute of a failure at which it is still one.

    ``nearest_min`` is the minute with the most spare.
    """

    field: int
    first_min: int
    last_min: int
    nearest_min: int
    spare_at_last_min: float
    best_for_min: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EqualTime:
    """Where two refuges are equally far in minutes: when the aircraft passes there, and how many minutes."""

    fields: tuple[int, int]
    passes_min: float
    at: Position
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What a flight comes to. Arrays have a value for each minute of ``track.minutes``.

    ``ranked`` has the pairs (indices into ``meeting``) of each minute, best first; ``ways`` how many
    of them are independent of each other.
    """

    asked: RouteQuestion
    situation: Situation
    track: Track
    lat_deg: Floats
    lon_deg: Floats
    meeting: Meeting
    ranked: tuple[tuple[int, ...], ...]
    ways: Ints
    visual: Bools
    night: Bools
    stretches: tuple[Stretch, ...]
    equal_times: tuple[EqualTime, ...]
    chances: tuple[Chance, ...]

    @property
    def endurance(self) -> Endurance:
        """Return the shortest endurance of the flight; what is not known or not dependable counts as shorter."""
        return min(
            (block.endurance for block in self.asked.blocks),
            key=lambda e: (e.information_min is not None, e.dependable, e.information_min or 0.0),
        )

    @property
    def shortened(self) -> Endurance:
        """Return the shortest endurance among those that pitot heat shortens; of all if it shortens none."""
        ended = [block.endurance for block in self.asked.blocks if block.endurance.dry is not None]
        return min(
            ended, key=lambda e: (e.information_min is not None, e.information_min or 0.0), default=self.endurance
        )

    @property
    def gaps(self) -> tuple[Stretch, ...]:
        """Return the stretches with neither a refuge nor sight."""
        return tuple(stretch for stretch in self.stretches if stretch.state == "gap")

    @property
    def gap_min(self) -> int:
        """Return the minutes without a refuge, those in visual conditions left out."""
        return sum(gap.to_min - gap.from_min for gap in self.gaps)

    @property
    def visual_min(self) -> int:
        """Return the minutes without a refuge that are flown in visual conditions."""
        return sum(s.to_min - s.from_min for s in self.stretches if s.state == "visual")

    @property
    def visual_night_min(self) -> int:
        """Return how many of those minutes are flown by night: what is in sight then is hard to land on."""
        return sum(s.to_min - s.from_min for s in self.stretches if s.state == "visual" and s.night)

    @property
    def within_budget(self) -> bool:
        """Return whether the gaps stay within the gap budget."""
        return self.gap_min <= GAP_BUDGET_MIN

    def independent(self, minute: int) -> int | None:
        """Return the first pair of a minute that shares no station with the best; ``None`` if there is none."""
        rests, pairs = self.meeting.evidence, self.ranked[minute]
        return next((pair for pair in pairs[1:] if rests[pair].isdisjoint(rests[pairs[0]])), None)

    def second_independent(self, minute: int) -> bool | None:
        """Return whether the second refuge of a minute is the independent one; ``None`` without a second."""
        pairs = self.ranked[minute]
        return pairs[1] == self.independent(minute) if len(pairs) > 1 else None

    def instant(self, minute: float) -> datetime:
        """Return the time of a minute of the flight."""
        return self.asked.departs + timedelta(minutes=minute)

    def field(self, index: int) -> Airfield:
        """Return an airfield by its index."""
        return self.situation.airfields[index]


def build(asked: RouteQuestion, situation: Situation) -> Plan:
    """Return the plan of a flight in a situation: every minute against every airfield.

    Raises
    ------
    InputError
        If the wind stops the aircraft on the way.
    """
    track = fly(asked, situation)
    lat, lon = track.at(track.minutes.astype(float))
    shared = shared_of(situation, asked.question.now)
    found = meeting(asked, situation, track, shared)
    ranked, ways = _ranked(found, track.minutes.size)
    visual = visual_minutes(asked, track, shared)
    night = dark_minutes(track, lat, lon, asked.departs)
    stretches = tuple(_stretches(found, ranked, visual, night))
    return Plan(
        asked=asked,
        situation=situation,
        track=track,
        lat_deg=lat,
        lon_deg=lon,
        meeting=found,
        ranked=ranked,
        ways=ways,
        visual=visual,
        night=night,
        stretches=stretches,
        equal_times=tuple(_equal_times(asked, track, found, stretches)),
        chances=tuple(_chances(found, ranked)),
    )


def _ranked(found: Meeting, minutes: int) -> tuple[tuple[tuple[int, ...], ...], Ints]:
    """Return the pairs of each minute, best first, and how many independent ways they are."""
    spare = np.minimum(found.spare_min, SPARE_COUNTS_MIN)
    order = np.lexsort((found.field, found.break_out_min, -spare, -found.word, found.last_resort, found.minute))
    first = np.searchsorted(found.minute[order], np.arange(minutes + 1))
    ranked, ways = [], np.zeros(minutes, dtype=np.int64)
    for minute in range(minutes):
        pairs = order[first[minute] : first[minute + 1]].tolist()
        heads = _heads(found, pairs)
        ways[minute] = len(heads)
        ranked.append(tuple(sorted(pairs, key=lambda p: (found.last_resort[p], -found.word[p], p not in heads))))
    return tuple(ranked), ways


def _heads(found: Meeting, pairs: Sequence[int]) -> set[int]:
    """Return the pairs that share no station with a better one that stands for a way of its own."""
    heads: list[int] = []
    for pair in pairs:
        if all(found.evidence[pair].isdisjoint(found.evidence[head]) for head in heads):
            heads.append(pair)
    return set(heads)


def visual_minutes(asked: RouteQuestion, track: Track, shared: Shared, some: Ints | None = None) -> Bools:
    """Return in which minutes, or in which of `some`, the aircraft is in visual conditions.

    From the failure until it is noticed: who is in cloud by then has not seen it below the cloud. After the end
    of the way the aircraft is taken to be there.
    """
    question, minutes = asked.question, (track.minutes if some is None else track.minutes[some]).astype(float)
    until = np.array([min(turns_min(asked, int(m)), max(track.total_min, m)) for m in minutes])
    after = np.arange(1.0 + np.ceil((until - minutes).max(initial=0.0)))
    moments, which = np.unique(np.minimum(minutes[:, None] + after, until[:, None]), return_inverse=True)
    codes = visual_codes(
        shared,
        *track.at(moments),
        altitude_ft=track.altitude_ft(moments),
        at_s=asked.departs.timestamp() + 60.0 * moments,
        slip_min=question.slip_min,
        now=question.now,
    )
    seen = (codes == MEETS)[which].reshape(minutes.size, after.size)
    return np.asarray(seen.all(axis=1))


def dark_minutes(track: Track, lat_deg: Floats, lon_deg: Floats, departs: datetime) -> Bools:
    """Return in which minutes of a flight the sun is not up all the time."""
    start = departs.timestamp() + 60.0 * track.minutes.astype(float)
    return ~np.asarray(is_day(lat_deg, lon_deg, start, start + 60.0), dtype=bool)


def _stretches(found: Meeting, ranked: Sequence[Sequence[int]], visual: Bools, night: Bools) -> Iterator[Stretch]:
    def kind(minute: int) -> tuple[State, int | None, bool]:
        if ranked[minute]:
            return "refuge", int(found.field[ranked[minute][0]]), False
        return ("visual", None, bool(night[minute])) if visual[minute] else ("gap", None, False)

    for (state, field, _), group in groupby(range(len(ranked)), key=kind):
        mine = list(group)
        spare = [float(found.spare_min[ranked[minute][0]]) for minute in mine if ranked[minute]]
        yield Stretch(
            state=state, from_min=mine[0], to_min=mine[-1] + 1, field=field,
            least_spare_min=min(spare) if spare else None, night=bool(night[mine].any()),
        )  # fmt: skip


def _chances(found: Meeting, ranked: Sequence[Sequence[int]]) -> Iterator[Chance]:
    """Yield every refuge in the order in which it becomes one."""
    best = [int(found.field[pairs[0]]) for pairs in ranked if pairs]
    chances = []
    for field in np.unique(found.field).tolist():
        mine = np.flatnonzero(found.field == field)
        last = mine[-1]
        chances.append(
            Chance(
                field=field,
                first_min=int(found.minute[mine[0]]),
                last_min=int(found.minute[last]),
                nearest_min=int(found.minute[mine[np.argmax(found.spare_min[mine])]]),
                spare_at_last_min=float(found.spare_min[last]),
                best_for_min=best.count(field),
            )
        )
    yield from sorted(chances, key=lambda chance: (chance.first_min, chance.last_min, chance.field))


def _equal_times(
    asked: RouteQuestion, track: Track, found: Meeting, stretches: Sequence[Stretch]
) -> Iterator[EqualTime]:
    """Yield the equal-time point of each two refuges that follow each other, where both are refuges."""
    seen: set[frozenset[int]] = set()
    with_refuge = [stretch for stretch in stretches if stretch.field is not None]
    for one, two in pairwise(with_refuge):
        if one.field is None or two.field is None or one.field == two.field:
            continue
        if frozenset((one.field, two.field)) in seen:
            continue
        seen.add(frozenset((one.field, two.field)))
        a, b = (np.flatnonzero(found.field == field) for field in (one.field, two.field))
        minutes, at_a, at_b = np.intersect1d(found.minute[a], found.minute[b], return_indices=True)
        crossing = crossing_minute(minutes, found.minutes[a[at_a]], found.minutes[b[at_b]])
        if crossing is None:
            continue
        failed, far = crossing
        whole = int(failed)
        question = question_at(asked, track, whole)
        passes = (question.fails_at - asked.departs) / timedelta(minutes=1) + question.endurance.recognition_min
        passes = min(passes + failed - whole, track.total_min)
        lat, lon = track.at(np.array([passes]))
        yield EqualTime(
            fields=(one.field, two.field),
            passes_min=passes,
            at=Position(lat_deg=float(lat[0]), lon_deg=float(lon[0])),
            minutes=far,
        )


def crossing_minute(minutes: Ints, one: Floats, two: Floats) -> tuple[float, float] | None:
    """Return when two courses of minutes cross, and how many they are then; ``None`` where they do not.

    Between two minutes in a row they are taken to run straight.
    """
    apart = one - two
    for i in range(minutes.size):
        if apart[i] == 0.0:
            return float(minutes[i]), float(one[i])
        if i and minutes[i] == minutes[i - 1] + 1 and apart[i - 1] * apart[i] < 0.0:
            share = float(apart[i - 1] / (apart[i - 1] - apart[i]))
            return float(minutes[i - 1]) + share, float(one[i - 1] + share * (one[i] - one[i - 1]))
    return None


def as_if_dry(plan: Plan) -> Plan | None:
    """Return the same flight as if airspeed did not end with pitot heat; to show, never to plan on.

    ``None`` where there is no gap, or where pitot heat shortens nothing (method.md 2).
    """
    asked = plan.asked
    if not plan.gaps or all(block.endurance.dry is None for block in asked.blocks):
        return None
    blocks = tuple(replace(block, endurance=block.endurance.dry or block.endurance) for block in asked.blocks)
    dry = replace(asked, question=replace(asked.question, endurance=blocks[0].endurance), blocks=blocks)
    return build(dry, plan.situation)


def entry_at(plan: Plan, field: int, minute: int) -> Entry:
    """Return one airfield as `refuge find` shows it, asked at one minute of the flight."""
    found = shortlist_of(
        question_at(plan.asked, plan.track, minute), replace(plan.situation, airfields=(plan.field(field),))
    )
    return entry(found, 0)


def why_gap(plan: Plan, gap: Stretch) -> GapReason:
    """Return what stands in the way in the middle of a gap."""
    minute = (gap.from_min + gap.to_min) // 2
    found = shortlist_of(question_at(plan.asked, plan.track, minute), plan.situation)
    return GapReason(
        minute=minute, why=summary(found), closest=entry(found, int(found.order[0])) if found.order.size else None
    )
