"""Which winds-aloft bulletins hold when: those in use at an instant, and how far between their times it lies."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from refuge.flight.state_arrays import Floats, Ints
from refuge.weather.reports import Levels


@dataclass(frozen=True, slots=True, kw_only=True)
class InUse:
    """The bulletins that hold at a time: the one valid before it, the one after it, and the best alone."""

    before: Levels | None
    after: Levels | None
    newest: Levels | None

    @property
    def chosen(self) -> list[Levels]:
        """Return the one or two between which the wind is interpolated."""
        return [levels for levels in (self.before, self.after) if levels is not None]

    def share(self, at: datetime) -> float:
        """Return how far a time lies between the two that are valid before and after it; 0 without them."""
        return float(self.share_s(np.array([at.timestamp()]))[0])

    def share_s(self, at_s: Floats) -> Floats:
        """Return the same of times in seconds since the epoch, shape (n,)."""
        if self.before is None or self.after is None:
            return np.zeros(at_s.shape)
        begin_s, end_s = self.before.valid_at.timestamp(), self.after.valid_at.timestamp()
        return (at_s - begin_s) / (end_s - begin_s)


def in_use(winds: Sequence[Levels], at: datetime) -> InUse:
    """Return the bulletins that hold at a time."""
    usable = [levels for levels in winds if levels.use_from <= at < levels.use_to]
    return InUse(
        before=_newest([levels for levels in usable if levels.valid_at <= at], at),
        after=_newest([levels for levels in usable if levels.valid_at > at], at),
        newest=_newest(usable, at),
    )


def _newest(candidates: Sequence[Levels], at: datetime) -> Levels | None:
    """Return the bulletin of the newest data, of one data the one valid nearest to `at`."""
    return max(candidates, key=lambda levels: (levels.based_on, -abs(levels.valid_at - at)), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Regimes:
    """Spans of time in which the same bulletins hold: one instant of each, and for n instants which and how far.

    ``index`` and ``share`` have shape (n,).
    """

    instants: tuple[datetime, ...]
    index: Ints
    share: Floats


def regimes(winds: Sequence[Levels], at_s: Floats) -> Regimes:
    """Return which of some instants, in seconds since the epoch, have the same bulletins in use."""
    edges = np.array(sorted({edge.timestamp() for edge in _edges(winds)}), dtype=float)
    # On an edge, or between two: what is in use may differ in each of these, and nowhere else.
    where = np.searchsorted(edges, at_s, side="left") + np.searchsorted(edges, at_s, side="right")
    index, share = np.zeros(at_s.shape, dtype=np.int64), np.zeros(at_s.shape)
    found: dict[tuple[int, ...], int] = {}
    ones: list[datetime] = []
    for span in dict.fromkeys(where.tolist()):
        mine = np.flatnonzero(where == span)
        one = datetime.fromtimestamp(float(at_s[mine[0]]), tz=UTC)
        held = in_use(winds, one)
        key = (id(held.before), id(held.after), id(held.newest))
        if key not in found:
            found[key] = len(ones)
            ones.append(one)
        index[mine] = found[key]
        share[mine] = held.share_s(at_s[mine])
    return Regimes(instants=tuple(ones), index=index, share=share)


def _edges(winds: Sequence[Levels]) -> set[datetime]:
    """Return all instants at which other bulletins may come to hold."""
    valid = sorted({levels.valid_at for levels in winds})
    found = {at for levels in winds for at in (levels.use_from, levels.use_to)} | set(valid)
    for one in valid:
        found |= {one + (two - one) / 2 for two in valid if two > one}
    return found
