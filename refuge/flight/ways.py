"""Ways out of a gap: the same flight with one thing changed, and the gap minutes that are left."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np

from refuge.flight.bars import BarsByLimits
from refuge.flight.basis import shared_of
from refuge.flight.bounds import Points
from refuge.flight.minutes import covered
from refuge.flight.route import GAP_BUDGET_MIN, visual_minutes
from refuge.flight.situation import Situation
from refuge.flight.track import RouteQuestion, fly

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
    """What a variant comes to: minutes without a refuge, of them in visual conditions, and of the whole flight."""

    variant: Variant
    gap_min: int
    visual_min: int
    total_min: float
    departs: datetime

    @property
    def within_budget(self) -> bool:
        """Return whether the gaps stay within the gap budget."""
        return self.gap_min <= GAP_BUDGET_MIN


def ways(variants: Sequence[Variant], situation: Situation) -> tuple[Way, ...]:
    """Return what each variant comes to, in their order, in a situation that holds them all."""
    return tuple(_ways(variants, situation))


def _ways(variants: Sequence[Variant], situation: Situation) -> Iterator[Way]:
    if not variants:
        return
    shared = shared_of(situation, variants[0].asked.question.now)
    points, bars = Points.of(situation.airfields), BarsByLimits(situation=situation, shared=shared)
    for variant in variants:
        track = fly(variant.asked, situation)
        barred = bars.of(variant.asked.question)
        refuge = covered(variant.asked, situation, track, shared, points=points, bars=barred)
        visual = visual_minutes(variant.asked, track, shared, np.flatnonzero(~refuge))
        yield Way(
            variant=variant,
            gap_min=int((~visual).sum()),
            visual_min=int(visual.sum()),
            total_min=track.total_min,
            departs=variant.asked.departs,
        )


def ranked(found: Sequence[Way]) -> list[Way]:
    """Return ways by the gap minutes left, then by how much longer they take to the end of the flight."""
    return sorted(found, key=lambda way: (way.gap_min, way.departs.timestamp() + 60.0 * way.total_min))
