"""Refuges that hang on the same evidence are one way, not several (method.md 6).

A refuge rests on every report and forecast that was asked for it, at the field and in the area around it: if
one of them is wrong, so is the refuge. Going best first, a refuge that shares no station with the head of any
way before it opens a way of its own; every other joins the first way with whose head it shares one. Heads share
nothing among each other, so there are at least as many independent ways as are counted.
"""

from dataclasses import dataclass

import numpy as np

from refuge.flight.state_arrays import Bools, Ints
from refuge.flight.verdict import MEETS, Codes
from refuge.flight.weigh import Weighed


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """The way of each of n airfields, counted from 1 in the order of ``heads``; 0 where it does not meet."""

    way: Ints
    heads: tuple[int, ...]

    @property
    def count(self) -> int:
        """Return how many independent ways there are."""
        return len(self.heads)


def ways_of(weighed: Weighed, verdict: Codes, order: Ints) -> Ways:
    """Return the ways among airfields that meet, best first by `order`."""
    meeting = verdict == MEETS
    rests = _evidence(weighed, meeting)
    way, heads = np.zeros(verdict.shape, dtype=np.int64), list[int]()
    for i in (int(index) for index in order if meeting[index]):
        joined = next((k for k, head in enumerate(heads, 1) if rests[head] & rests[i]), None)
        if joined is None:
            heads.append(i)
        way[i] = len(heads) if joined is None else joined
    return Ways(way=way, heads=tuple(heads))


def _evidence(weighed: Weighed, wanted: Bools) -> dict[int, set[int]]:
    """Return the stations that each airfield in question rests on."""
    found: dict[int, set[int]] = {int(i): set() for i in np.flatnonzero(wanted)}
    for inquiry in (weighed.inquiry, weighed.area_inquiry):
        for near in (inquiry.reports, inquiry.forecasts):
            kept = np.flatnonzero(np.isin(near.field, list(found)))
            for field, station in zip(near.field[kept], near.station[kept], strict=True):
                found[int(field)].add(int(station))
    return found
