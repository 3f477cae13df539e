"""Ways out of a gap: the same flight with one thing changed, and the gap minutes that are left."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np

from refuge.earth import unit_vectors
from refuge.flight.arrival import LANDING_MIN, timing_error_min
from refuge.flight.bars import BarsByLimits
from refuge.flight.basis import Shared, shared_of
from refuge.flight.bounds import Points
from refuge.flight.evidence import REPORT_WITH_NOSIG_CARRIES_MIN
from refuge.flight.minutes import Known, covered
from refuge.flight.route import GAP_BUDGET_MIN, visual_minutes
from refuge.flight.situation import Situation
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.track import RouteQuestion, Track, fly
from refuge.flight.winds import NM_PER_RAD

EVERY_MIN = 4
"""Forecasts are looked for once in so many minutes of a gap: that explains, and decides nothing."""
AROUND_NM = 180.0
"""Farther than planning looks (150 NM) and a forecast is borrowed (30 NM)."""

Kind = Literal["as planned", "departure", "altitude", "aircraft", "fuel", "detour", "margin"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One flight to try: what is changed, in words, and what it costs besides time."""

    kind: Kind
    label: str
    cost: str
    asked: RouteQuestion


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """What a variant comes to: minutes without a refuge, of them in visual conditions, and of the whole flight.

    ``beyond_min`` are those minutes of the gap for which no forecast around speaks of the arrival any more: want of
    data, not of good weather. ``note`` says why nothing can be planned on this aircraft's instruments, if so.
    """

    variant: Variant
    gap_min: int
    visual_min: int
    beyond_min: int
    total_min: float
    departs: datetime
    note: str | None = None

    @property
    def within_budget(self) -> bool:
        """Return whether the gaps stay within the gap budget."""
        return self.gap_min <= GAP_BUDGET_MIN

    @property
    def ends_s(self) -> float:
        """Return when the flight ends, in seconds since the epoch."""
        return self.departs.timestamp() + 60.0 * self.total_min


def ways(variants: Sequence[Variant], situation: Situation) -> tuple[Way, ...]:
    """Return what each variant comes to, in their order, in a situation that holds them all."""
    return tuple(each_way(variants, situation))


def each_way(variants: Sequence[Variant], situation: Situation) -> Iterator[Way]:
    """Yield what each variant comes to, in their order, in a situation that holds them all."""
    if not variants:
        return
    shared = shared_of(situation, variants[0].asked.question.now)
    told = _Told.of(shared)
    points, bars = Points.of(situation.airfields), BarsByLimits(situation=situation, shared=shared)
    known: Known = {}
    for variant in variants:
        asked = variant.asked
        track = fly(asked, situation)
        refuge = covered(asked, situation, track, shared, points=points, bars=bars.of(asked.question), known=known)
        without = np.flatnonzero(~refuge)
        visual = visual_minutes(asked, track, shared, without)
        yield Way(
            variant=variant,
            gap_min=int((~visual).sum()),
            visual_min=int(visual.sum()),
            beyond_min=int(_beyond_forecasts(asked, track, told, without[~visual]).sum()),
            total_min=track.total_min,
            departs=asked.departs,
            note=_note(asked),
        )


def _note(asked: RouteQuestion) -> str | None:
    """Return why nothing can be planned on the instruments for some part of the flight, or ``None``."""
    for block in asked.blocks:
        if block.endurance.information_min is None:
            return f"UNKNOWN how long its instruments last: {block.endurance.limited_why}"
        if not block.endurance.dependable:
            return "nothing may be planned on its instruments: refuge endurance says why"
    if any(block.endurance.more_with_fuel for block in asked.blocks):
        return "the fuel is not given (--fuel-min): what the engine drives is not counted"
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """Where somebody forecasts, as unit vectors (stations, 3), and until when, in seconds since the epoch."""

    unit: Floats
    until_s: Floats

    @classmethod
    def of(cls, shared: Shared) -> "_Told":
        until_s, stations = shared.network.weather.facts.covered_to_s, shared.network.arrays
        some = np.flatnonzero(until_s > -np.inf)
        return cls(unit=unit_vectors(stations.lat_deg[some], stations.lon_deg[some]), until_s=until_s[some])


def _beyond_forecasts(asked: RouteQuestion, track: Track, told: _Told, minutes: Ints) -> Bools:
    """Return at which minutes every forecast around ends before the window, beyond what reports carry."""
    question, every = asked.question, minutes
    minutes = minutes[::EVERY_MIN]
    # After a failure the clock has run from the start; the minute is then at least that of the turn.
    failed_s = asked.departs.timestamp() + 60.0 * minutes.astype(float)
    ahead_min = (failed_s - question.now.timestamp()) / 60.0 + question.slip_min + LANDING_MIN
    soonest_s = failed_s + 60.0 * (question.slip_min + LANDING_MIN + timing_error_min(ahead_min))
    here = unit_vectors(*track.at(minutes.astype(float)))
    spoken = np.zeros(minutes.shape, dtype=bool)
    for until_s in np.unique(told.until_s).tolist():  # forecasts end at a few hours of the day
        there = told.unit[told.until_s == until_s]
        near = (here @ there.T).max(axis=1, initial=-1.0) >= np.cos(AROUND_NM / NM_PER_RAD)
        spoken |= near & (until_s >= soonest_s)
    beyond = ~spoken & (ahead_min > REPORT_WITH_NOSIG_CARRIES_MIN)
    return np.asarray(beyond[np.arange(every.size) // EVERY_MIN])


def ranked(found: Sequence[Way]) -> list[Way]:
    """Return ways by the gap minutes left, then by how little they change when the flight ends.

    What nothing is known of comes last: fewer minutes of a shorter flight do not make it the better one.
    """
    planned_s = next((way.ends_s for way in found if way.variant.kind == "as planned"), 0.0)

    def order(way: Way) -> tuple[bool, int, bool, float]:
        planned = way.variant.kind == "as planned"
        return not _is_known(way), way.gap_min, not planned, abs(way.ends_s - planned_s)

    return sorted(found, key=order)


def _is_known(way: Way) -> bool:
    blocks = way.variant.asked.blocks
    return all(b.endurance.information_min is not None and b.endurance.dependable for b in blocks)
