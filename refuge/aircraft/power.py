"""The simulation: event by event, what feeds what after a failure, and when each source is empty.

Times are minutes from the failure. `inf` is "needs no supply" or "never empty"; `None` is "not known".
Where several things feed one, what is not known adds nothing: the time is the least that is sure.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from refuge.aircraft.charge import held_min, idle_per_min, used_per_min
from refuge.aircraft.circuit import Circuit, Tap
from refuge.aircraft.faults import upstream
from refuge.aircraft.parts import STORED

EMPTY = 1e-9
"""Less than this share of a charge, or of a minute, is rounding."""

Span = tuple[float, float]


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


def first_gap(spans: Iterable[Span]) -> float:
    """Return until when the spans together cover the time from 0 on without a gap."""
    covered = 0.0
    for start, end in sorted(spans):
        if start > covered:
            break
        covered = max(covered, end)
    return covered


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a run is given besides the network.

    ``dead`` are sources that the failure takes away at once; ``factors`` the share of each stored source
    that counts. ``engine_min`` is how long what runs with the engine goes on, ``None``: not known. Loads
    are switched off at ``off_min``, `inf` for never; published durations take the load to be shed at
    ``shed_min``. What takes over by hand does so from ``hand_min`` on. ``landing_min`` is how long the
    landing load must be carried at the end.
    """

    dead: frozenset[str]
    factors: Mapping[str, float]
    engine_min: float | None
    shed_min: float
    usual_shed_min: float
    hand_min: float
    landing_min: float
    off_min: Mapping[str, float]


class Run:
    """One run of a network after a failure, from the failure to the last event."""

    def __init__(self, circuit: Circuit, setting: Setting) -> None:
        self.network = circuit.network
        self.givers = circuit.givers
        self._circuit = circuit
        self._setting = setting
        self._unknown = frozenset(
            source.id
            for source in self.network.sources.values()
            if setting.engine_min is None and source.kind not in STORED and source.id not in setting.dead
        )
        self._charge: dict[str, float] = {}
        self._weight: dict[str, float] = {}
        self._ends: dict[str, float] = {}
        self._starts: dict[str, float] = {}
        self._spans: dict[str, list[Span]] = {load.id: [] for load in circuit.loads}
        self._powered: dict[str, float] = {}
        self._landing: set[Tap] = set()
        self._last: set[Tap] = set()
        self._waiting: dict[Tap, float] = {}
        self._fill()
        self._go()

    def end_min(self, source_id: str) -> float | None:
        """Return when a source ends; `inf` if nothing empties it, ``None`` if not known."""
        return None if source_id in self._unknown else self._ends.get(source_id, math.inf)

    def start_min(self, source_id: str) -> float | None:
        """Return when a stored source is first drawn from; ``None`` if nothing ever needs it."""
        return self._starts.get(source_id)

    def spans(self, load_id: str) -> tuple[Span, ...]:
        """Return when a load has its supply, sure spans only; all the time if it needs none."""
        return tuple(self._spans[load_id]) if load_id in self._spans else ((0.0, math.inf),)

    def doubtful(self, load_id: str) -> bool:
        """Return whether a source of unknown end can feed a load."""
        fed_by = self.network.loads[load_id].fed_by
        return bool(self._unknown) and not self._unknown.isdisjoint(
            upstream(self.network.sources, self.network.buses, fed_by)
        )

    def _fill(self) -> None:
        """Charge the sources: shares of a full charge for what is in Ah, minutes for what is published."""
        for source in self.network.sources.values():
            gone = source.id in self._setting.dead or source.ready is False or source.id in self._unknown
            if source.kind not in STORED:
                held = math.inf if not gone and self._setting.engine_min != 0 else 0.0
            else:
                factor = 0.0 if gone else self._setting.factors[source.id]
                whole = 1.0 if source.duration is None else held_min(source.duration)
                held = factor * whole
                cell = self._circuit.cells.get(source.id)
                self._weight[source.id] = 0.0 if cell is None else factor * cell.full_amp_min
            self._charge[source.id] = held
            if held <= 0:
                self._ends[source.id] = 0.0

    def _go(self) -> None:
        now = 0.0
        fixed = sorted(set(self._fixed_times()))
        while True:
            drain, alarm = self._settle(now)
            coming = next((time for time in fixed if time > now), math.inf)
            step = min(coming - now, alarm)
            for name, rate in drain.items():
                if rate > 0:
                    step = min(step, self._charge[name] / rate)
            if step == math.inf:
                if self._last_landing(drain):
                    continue
                break
            now = coming if step == coming - now else now + step
            self._use(drain, step, now)
        for name, since in self._powered.items():
            self._spans[name].append((since, math.inf))

    def _fixed_times(self) -> Iterator[float]:
        setting = self._setting
        times = [setting.shed_min, setting.usual_shed_min, setting.hand_min, *setting.off_min.values()]
        times += [each.shed_by_min for each in self._circuit.durations.values() if each.shed_by_min is not None]
        if setting.engine_min is not None:
            times.append(setting.engine_min)
        return (time for time in times if 0 < time < math.inf)

    def _use(self, drain: Mapping[str, float], step: float, now: float) -> None:
        for name, rate in drain.items():
            if rate > 0:
                left = self._charge[name] - rate * step
                if left <= EMPTY * rate or left <= EMPTY * EMPTY:
                    left = 0.0
                    self._ends[name] = now
                self._charge[name] = left
        if now == self._setting.engine_min:
            for source in self.network.sources.values():
                if source.kind not in STORED and self._charge[source.id] > 0:
                    self._charge[source.id] = 0.0
                    self._ends[source.id] = now

    def _settle(self, now: float) -> tuple[dict[str, float], float]:
        """Return what each source loses a minute from now on, and in how many minutes a landing phase begins."""
        flying, landing = self._route(now)
        self._waiting = landing
        self._landing = set(self._last)
        while True:
            drain, undivided = self._drains(now, flying, landing)
            due = math.inf
            for tap in landing:
                if tap not in self._landing and tap in flying and tap[0] in self._circuit.cells:
                    due = min(due, self._landing_due(tap, drain, undivided, landing[tap]))
                    if due <= 0:
                        self._landing.add(tap)
                        break
            if due > 0:
                return drain, due

    def _landing_due(
        self, tap: Tap, drain: Mapping[str, float], undivided: Mapping[str, float], amps: float
    ) -> float:
        """Return in how many minutes a tap holds just enough for its landing phase; 0 if it is now."""
        held, lost = -self._setting.landing_min, 0.0
        for name in tap:
            if self._charge[name] > 0:
                full = self._circuit.cells[name].full_min(undivided[name] + amps)
                held += self._charge[name] * full
                lost += drain[name] * full
        return 0.0 if held <= EMPTY else held / lost

    def _last_landing(self, drain: Mapping[str, float]) -> bool:
        """Switch on the landing loads of what is otherwise idle, at the very end; return whether there were any."""
        idle = {tap for tap in self._waiting if tap not in self._last and not any(drain.get(name) for name in tap)}
        self._last |= idle
        return bool(idle)

    def _route(self, now: float) -> tuple[dict[Tap, float], dict[Tap, float]]:
        """Return the amps that each tap carries in flight, and those that landing adds; note who has supply."""
        charge, setting = self._charge, self._setting
        by_bus: dict[str, Tap | None] = {}
        for bus_id, feeders in self._circuit.buses:
            by_bus[bus_id] = None
            for feeder in feeders:
                if feeder.by_hand and now < setting.hand_min:
                    continue
                first = feeder.tap[0]
                if first in by_bus:
                    if by_bus[first] is not None:
                        by_bus[bus_id] = by_bus[first]
                        break
                elif any(charge[name] > 0 for name in feeder.tap):
                    by_bus[bus_id] = feeder.tap
                    break
        flying: dict[Tap, float] = {}
        landing: dict[Tap, float] = {}
        for load in self._circuit.loads:
            tap = None
            for name in load.fed_by:
                tap = by_bus[name] if name in by_bus else ((name,) if charge[name] > 0 else None)
                if tap is not None:
                    break
            self._note(load.id, now, powered=tap is not None)
            if tap is None or setting.off_min.get(load.id, math.inf) <= now:
                continue
            drawn = landing if load.landing and tap[0] in self._circuit.cells else flying
            drawn[tap] = drawn.get(tap, 0.0) + load.amps
        return flying, landing

    def _note(self, load_id: str, now: float, *, powered: bool) -> None:
        if powered:
            self._powered.setdefault(load_id, now)
        elif load_id in self._powered:
            self._spans[load_id].append((self._powered.pop(load_id), now))

    def _drains(
        self, now: float, flying: Mapping[Tap, float], landing: Mapping[Tap, float]
    ) -> tuple[dict[str, float], dict[str, float]]:
        """Return what each source loses a minute, and the current that it would carry alone.

        Tied batteries share a current in the proportion of what they held at the start, but each is as
        inefficient as if it carried all of it: sharing earns nothing but the sum of what they hold.
        """
        own: dict[str, float] = {}
        undivided: dict[str, float] = {}
        begun = [tap for tap in landing if tap in self._landing]
        for tap in dict.fromkeys([*flying, *begun]):
            amps = flying.get(tap, 0.0) + (landing[tap] if tap in begun else 0.0)
            alive = [name for name in tap if self._charge[name] > 0] if len(tap) > 1 else tap
            weight = sum(self._weight.get(name, 0.0) for name in alive)
            for name in alive:
                share = self._weight[name] / weight if len(alive) > 1 else 1.0
                own[name] = own.get(name, 0.0) + share * amps
                undivided[name] = undivided.get(name, 0.0) + amps
        setting = self._setting
        drain: dict[str, float] = {}
        for name, amps in own.items():
            if name in self._weight:
                self._starts.setdefault(name, now)
            cell = self._circuit.cells.get(name)
            if cell is not None:
                whole = undivided[name]
                drain[name] = amps / whole / cell.full_min(whole) if whole > 0 else 0.0
            elif (duration := self._circuit.durations.get(name)) is not None:
                drain[name] = used_per_min(
                    duration, now, shed_min=setting.shed_min, usual_shed_min=setting.usual_shed_min
                )
        for name, duration in self._circuit.durations.items():
            if name not in drain and self._charge[name] > 0:
                drain[name] = idle_per_min(duration, now, setting.factors[name])
        return drain, undivided
