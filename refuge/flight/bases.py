"""The cloud base over a way, minute by minute, by the evidence that sight rests on (refuge.flight.visual).

Every station within 20 NM counts and the lowest of them holds. Heights are above sea level, in steps of 100 ft,
rounded down.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from refuge.flight.basis import Shared
from refuge.flight.state_arrays import Floats
from refuge.flight.track import RouteQuestion, Track
from refuge.flight.verdict import MEETS, UNKNOWN, Codes
from refuge.flight.visual import overhead

STEP_FT = 100.0
HALVINGS = 9
BOTTOM_FT = -1_500.0
"""No airfield lies lower (the shore of the Dead Sea: about -1,400 ft, from memory)."""
TOP_FT = BOTTOM_FT + STEP_FT * 2**HALVINGS
"""Where nothing lies below this there is no ceiling at all: clouds end lower, but for tops of tropical storms."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bases:
    """What is known of the ceiling over n places; feet above sea level, arrays of shape (n,).

    It is proved that there is no ceiling below ``clear_ft_amsl`` (-inf: nothing is proved; inf: there is none at
    all), and a ceiling is known at or just above ``ceiling_ft_amsl`` (inf: none is known). Between the two nobody
    knows; where they are the same, that is the base.
    """

    clear_ft_amsl: Floats
    ceiling_ft_amsl: Floats


def bases_along(asked: RouteQuestion, track: Track, shared: Shared) -> Bases:
    """Return what is known of the ceiling at each minute of a flight, departure slip and timing error included."""
    minutes = track.minutes.astype(float)
    lat, lon = track.at(minutes)
    question = asked.question
    over = overhead(
        shared, lat, lon, at_s=asked.departs.timestamp() + 60.0 * minutes, slip_min=question.slip_min,
        now=question.now,
    )  # fmt: skip

    def said(least_ft_amsl: Floats) -> Codes:
        return over.said(shared, least_ft_amsl, seeing=False)

    clear = _highest(said, MEETS, minutes.size)
    # Where nothing is proved a ceiling may still be known; one that is proved to be absent cannot be.
    return Bases(clear_ft_amsl=clear, ceiling_ft_amsl=np.maximum(clear, _highest(said, UNKNOWN, minutes.size)))


def _highest(said: Callable[[Floats], Codes], least: np.int8, n: int) -> Floats:
    """Return the greatest height of each place that comes to `least` or better; -inf for none, inf for all."""
    low, high = np.full(n, BOTTOM_FT), np.full(n, TOP_FT)
    none, every = said(low) < least, said(high) >= least
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        good = said(middle) >= least
        low, high = np.where(good, middle, low), np.where(good, high, middle)
    return np.select([every, none], [np.inf, -np.inf], low)
