"""When each source, bus and load of a network ends, from published durations.

Times are minutes from the failure. `inf` is "needs no supply"; `None` is "not known". Where several
things feed one, what is not known adds nothing: the time is the least that is sure.
"""

import math
from collections.abc import Iterable, Mapping

from refuge.aircraft.network import STORED, Duration, Network
from refuge.errors import InputError

UNSHED_RATIO = 2.0
"""Unshed load by shed load where a file does not say: method.md 2."""


def longest(ends_min: Iterable[float | None]) -> float | None:
    """Return the latest sure end; ``None`` if none is sure and one is not known; 0 if there is none."""
    ends = list(ends_min)
    sure = max((end for end in ends if end is not None), default=0.0)
    return None if sure == 0 and None in ends else sure


def shortest(ends_min: Iterable[float | None]) -> float | None:
    """Return the earliest end; ``None`` if one is not known, unless another is over at once."""
    ends = list(ends_min)
    sure = min((end for end in ends if end is not None), default=math.inf)
    return None if sure > 0 and None in ends else sure


def stored_end_min(
    duration: Duration, *, start_min: float, shed_min: float, usual_shed_min: float, factor: float
) -> float:
    """Return when a battery that begins to discharge at `start_min` is empty.

    A duration counted from shed is the charge that carries the unshed load to `shed_by_min` and the
    shed load after it; `factor` is the share of it that is left. Shedding sooner earns nothing,
    each minute later costs `unshed_ratio` minutes. A duration counted from the failure includes shedding,
    by `shed_by_min` or else by the usual recognition time.

    A battery whose feed dies later begins with the load already shed, so only the published minutes are
    counted from there; never less than had it begun at the failure.
    """
    ratio = UNSHED_RATIO if duration.unshed_ratio is None else duration.unshed_ratio
    shed_by_min = usual_shed_min if duration.shed_by_min is None else duration.shed_by_min
    if duration.counts_from == "failure":
        late_min = max(0.0, shed_min - start_min - shed_by_min)
        total_min = factor * duration.minutes
        foreseen_min = min(total_min, shed_by_min)
        return start_min + foreseen_min + _drained(total_min - foreseen_min, late_min, ratio)
    charge_min = factor * (shed_by_min * ratio + duration.minutes)
    from_failure_min = _drained(charge_min, max(shed_min, shed_by_min), ratio)
    later_min = _drained(factor * duration.minutes, max(0.0, shed_min - start_min), ratio)
    return max(from_failure_min, start_min + later_min)


def _drained(charge_min: float, unshed_min: float, ratio: float) -> float:
    """Return how long a charge, in minutes at the shed load, lasts if shed after `unshed_min`."""
    if charge_min <= unshed_min * ratio:
        return charge_min / ratio
    return charge_min - (ratio - 1) * unshed_min


class Run:
    """One run of a network after a failure: ends of sources, buses and loads, worked out when asked.

    Parameters
    ----------
    network : Network
        What feeds what.
    dead : frozenset of str
        Sources that the failure takes away at once.
    factors : mapping of str to float
        Share of each stored source's duration that counts; a missing one is an error.
    engine_min : float or None
        How long what runs with the engine goes on; ``None``: not known.
    shed_min, usual_shed_min : float
        When the load is shed, and when durations from the failure take it to be.
    """

    def __init__(
        self,
        network: Network,
        *,
        dead: frozenset[str],
        factors: Mapping[str, float],
        engine_min: float | None,
        shed_min: float,
        usual_shed_min: float,
    ) -> None:
        self.network = network
        self._dead = dead
        self._factors = factors
        self._engine_min = engine_min
        self._shed_min = shed_min
        self._usual_shed_min = usual_shed_min
        self._known: dict[str, float | None] = {}
        self._asked: list[str] = []
        self._chains = [
            *(bus.fed_by for bus in network.buses.values()),
            *(load.fed_by for load in network.loads.values()),
        ]

    def load_end_min(self, load_id: str) -> float | None:
        """Return when a load loses its supply; `inf` if it needs none, ``None`` if not known."""
        fed_by = self.network.loads[load_id].fed_by
        return longest(self.end_min(name) for name in fed_by) if fed_by else math.inf

    def end_min(self, name: str) -> float | None:
        """Return when a source or bus ends; ``None`` if not known.

        Raises
        ------
        InputError
            If its end depends on itself: two sources that wait for each other.
        """
        if name not in self._known:
            if name in self._asked:
                ring = " and ".join(self._asked[self._asked.index(name) :])
                raise InputError(f"{ring} wait for each other", remedy="put them in the same order in each fed_by")
            self._asked.append(name)
            self._known[name] = self._work_out(name)
            self._asked.pop()
        return self._known[name]

    def start_min(self, source_id: str) -> float | None:
        """Return when a source is first needed; ``None`` if nothing ever needs it."""
        places = [chain[: chain.index(source_id)] for chain in self._chains if source_id in chain]
        if not places:
            return None
        if () in places:
            return 0.0
        return min(longest(self.end_min(name) for name in before) or 0.0 for before in places)

    def _work_out(self, name: str) -> float | None:
        if name in self.network.buses:
            return longest(self.end_min(feeder) for feeder in self.network.buses[name].fed_by)
        source = self.network.sources[name]
        if name in self._dead:
            return 0.0
        if source.kind not in STORED or source.duration is None:
            return self._engine_min
        start_min = self.start_min(name) or 0.0
        if source.ready is False:
            return 0.0
        return stored_end_min(
            source.duration,
            start_min=start_min,
            shed_min=self._shed_min,
            usual_shed_min=self._usual_shed_min,
            factor=self._factors[name],
        )
