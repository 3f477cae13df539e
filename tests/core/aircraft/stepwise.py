"""An independent reckoning of endurance, in small steps of time, on many networks at once.

It takes the input types of the simulation (parts, airframe, the state of flight) and nothing else of it.
Every rule is written again here, plainly: who feeds whom is asked anew at each change, and charge is taken
off step by step.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import FlightState
from refuge.aircraft.parts import FUNCTIONS, Load, Source

STEP_MIN = 0.01
LAST_MIN = 3000.0
SWEEP = 500
"""After so many steps the worlds in which nothing more happens are left behind."""

# reference.md 4.4: TM 10-6140-200-14 and TM 5-4210-230; lithium from memory
COLD = {
    "lead-acid": ([-29.0, -18.0, 0.0, 20.0], [0.2, 0.4, 0.75, 1.0]),
    "lithium": ([-20.0, 0.0, 20.0], [0.5, 0.8, 1.0]),
}
STORED = ("battery", "own_battery", "portable")


def share_left(source: Source, state: FlightState) -> float:
    """Return the share of a battery that counts, by method.md 2 and reference.md 4.2 and 4.4."""
    given = [each for each in (state.oat_c, state.soak_c) if each is not None]
    share = 1.0
    if given:
        cold_c = min(given)
        if source.warming is not None and state.soak_c is not None:
            risen = state.soak_c + source.warming.c_per_h * state.flown_min / 60
            cold_c = max(cold_c, min(risen, source.warming.up_to_c))
        tables = [COLD[source.chemistry]] if source.chemistry in COLD else list(COLD.values())
        share = min(0.0 if cold_c < xs[0] else float(np.interp(cold_c, xs, ys)) for xs, ys in tables)
    nameplate = source.duration is None
    fresh = (
        source.check is not None and source.check.percent >= 80 and 0 <= (state.on - source.check.on).days <= 366
    )
    wear = 1.0
    if fresh and source.check is not None:
        wear = min(1.0, source.check.percent / 100) if nameplate else 1.0
    elif nameplate or source.in_service is None or (state.on - source.in_service).days > 5 * 365.25:
        wear = 0.8
    if source.check is not None and source.check.percent < 80:
        wear = min(wear, source.check.percent / 100)
    charge = 0.9 if nameplate else 1.0
    return share * wear * (charge if source.charge is None else source.charge.value / 100)


def full_minutes(source: Source, amps: float) -> float:
    assert source.capacity is not None
    size, hours = source.capacity.ah, source.capacity.rate_h
    if hours == 5:
        size, hours = 0.85 * size, 1.0
    usual = {"lead-acid": 1.3, "lithium": 1.05}.get(source.chemistry or "", 1.6)
    exponent = usual if source.capacity.peukert is None else source.capacity.peukert
    return float(min(60 * size / amps, 60 * hours * (size / amps / hours) ** exponent))


@dataclass
class World:
    """One network as it goes: what each source still holds is kept by the caller, in arrays."""

    aircraft: Aircraft
    state: FlightState
    names: list[str] = field(default_factory=list)
    landing: set[str] = field(default_factory=set)
    spells: dict[str, list[list[float]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.sources = self.aircraft.network.sources
        self.names = sorted(self.sources)
        sheds = bool(self.state.failure & {"alternator", "all"})
        begin = self.aircraft.recognition_min if self.state.shed_min is None else self.state.shed_min
        self.off: dict[str, float] = {}
        self.credit: dict[str, float] = {}
        for load in self.aircraft.network.loads.values():
            after = 0.0 if load.shed else None
            automatic = False
            for shed in self.aircraft.network.sheds:
                if load.id in shed.loads:
                    after, automatic = shed.after_min, shed.by == "automatic"
            if after is None or not sheds:
                continue
            undone = bool(self.state.not_shed & {load.id, "all"})
            self.off[load.id] = math.inf if undone else after + (0 if automatic else begin)
            usual = after + (0 if automatic else self.aircraft.recognition_min)
            self.credit[load.id] = min(usual, after + (0 if automatic else begin))
        steps = [shed.after_min + (begin if shed.by == "pilot" else 0) for shed in self.aircraft.network.sheds]
        self.shed_done = math.inf if self.state.not_shed else max([begin, *steps])
        fuel = self.state.fuel_min
        self.engine = 0.0 if fuel is None else max(0.0, fuel - self.aircraft.fuel_reserve_min)

    def start(self) -> list[float]:
        """Return what each source holds at the failure: minutes, or a share of full."""
        gone = {"alternator": {"alternator"}, "all": {"alternator", "battery"}, "pump": {"engine_drive"}}
        kinds = set().union(*(gone.get(each, set()) for each in self.state.failure))
        held = []
        for name in self.names:
            source = self.sources[name]
            if source.kind in kinds or source.ready is False:
                held.append(0.0)
            elif source.kind not in STORED:
                held.append(math.inf if self.engine > 0 else 0.0)
            elif source.duration is None:
                held.append(share_left(source, self.state))
            else:
                twice = 2.0 if source.duration.unshed_ratio is None else source.duration.unshed_ratio
                before = twice * (source.duration.shed_by_min or 0.0)
                extra = before if source.duration.counts_from == "shed" else 0.0
                held.append(share_left(source, self.state) * (source.duration.minutes + extra))
        return held

    def fixed(self) -> list[float]:
        own = [each.duration.shed_by_min or 0.0 for each in self.sources.values() if each.duration is not None]
        warned = 5.0 if self.aircraft.warning_light else 10.0
        return [*own, *self.off.values(), self.shed_done, self.aircraft.recognition_min, warned, self.engine]

    def feeders(self, name: str, now: float, alive: dict[str, bool]) -> tuple[str, ...]:
        """Return the sources that now stand behind a name, none if it is dead."""
        if name in self.sources:
            return (name,) if alive[name] else ()
        bus = self.aircraft.network.buses[name]
        steps: list[list[str]] = []
        for feeder in bus.fed_by:
            if bus.takes_over.get(feeder) == "tied":
                steps[-1].append(feeder)
            else:
                steps.append([feeder])
        for step in steps:
            if bus.takes_over.get(step[0]) == "by hand" and now < self.aircraft.recognition_min:
                continue
            behind = tuple(each for feeder in step for each in self.feeders(feeder, now, alive))
            if behind:
                # The pool keeps its name when one of it is empty: what was switched on for it stays on.
                return tuple(step) if len(step) > 1 else behind
        return ()

    def pools(self, now: float, alive: dict[str, bool]) -> dict[tuple[str, ...], list[Load]]:
        """Return which loads hang on which source or pool, and note when each gets and loses its supply."""
        found: dict[tuple[str, ...], list[Load]] = {}
        for load in self.aircraft.network.loads.values():
            pool: tuple[str, ...] = ()
            for name in load.fed_by:
                pool = pool or self.feeders(name, now, alive)
            spells = self.spells.setdefault(load.id, [] if load.fed_by else [[0.0, math.inf]])
            if pool and (not spells or spells[-1][1] < math.inf):
                spells.append([now, math.inf])
            elif not pool and load.fed_by:
                if spells and spells[-1][1] == math.inf:
                    spells[-1][1] = now
                continue
            if load.fed_by and now < self.off.get(load.id, math.inf):
                found.setdefault(pool, []).append(load)
        return found

    def rates(self, now: float, held: Sequence[float]) -> tuple[list[float], list[tuple[list[float], str]]]:
        """Return what each source loses a minute, and the alarms of landings to come.

        An alarm is a pool, and for how many minutes a full charge of each of its members carries the landing load.
        """
        alive = {name: each > 0 for name, each in zip(self.names, held, strict=True)}
        pools = self.pools(now, alive)
        amps = dict.fromkeys(self.names, 0.0)
        whole = dict.fromkeys(self.names, 0.0)
        used: set[str] = set()
        waits: list[tuple[tuple[str, ...], float]] = []
        for pool, loads in pools.items():
            cells = self.sources[pool[0]].capacity is not None and self.sources[pool[0]].duration is None
            flying = [load for load in loads if not (load.landing and cells)]
            coming = [load for load in loads if load.landing and cells]
            total = sum(load.mean_a for load in flying)
            extra = sum(load.mean_a for load in coming)
            key = "+".join(pool)
            if key in self.landing:
                total += extra
            elif coming and flying:
                waits.append((pool, extra))
            if not flying and key not in self.landing:
                continue
            left = [name for name in pool if alive[name]]
            weights = {name: self._weight(name) for name in left}
            for name in left:
                used.add(name)
                part = 1.0 if len(left) == 1 else weights[name] / sum(weights.values())
                amps[name] += part * total
                whole[name] += total
        out = [
            self._rate(name, now, (amps[name], whole[name]), used=name in used, alive=alive[name])
            for name in self.names
        ]
        alarms = []
        for pool, extra in waits:
            worth = [0.0] * len(self.names)
            for name in pool:
                if alive[name]:
                    worth[self.names.index(name)] = full_minutes(self.sources[name], whole[name] + extra)
            alarms.append((worth, "+".join(pool)))
        return out, alarms

    def _weight(self, name: str) -> float:
        source = self.sources[name]
        if source.capacity is None:
            return 1.0
        size = source.capacity.ah * (0.85 if source.capacity.rate_h == 5 else 1.0)
        return size * share_left(source, self.state)

    def _rate(self, name: str, now: float, drawn: tuple[float, float], *, used: bool, alive: bool) -> float:
        source, (amps, whole) = self.sources[name], drawn
        if source.kind not in STORED or not alive:
            return 0.0
        if source.duration is None:
            return amps / whole / full_minutes(source, whole) if used and whole > 0 else 0.0
        twice = 2.0 if source.duration.unshed_ratio is None else source.duration.unshed_ratio
        by = source.duration.shed_by_min
        if source.duration.counts_from == "shed":
            assert by is not None
            if used:
                return twice if now < max(by, self.shed_done) else 1.0
            return twice * share_left(source, self.state) if now < by else 0.0
        foreseen = (5.0 if self.aircraft.warning_light else 10.0) if by is None else by
        return 0.0 if not used else (twice if foreseen <= now < self.shed_done else 1.0)

    # --- what is left of information -------------------------------------------------------------

    def covered(self, loads: Sequence[Load]) -> float:
        """Return until when one of the loads works without a gap, minute by small minute."""
        dead = "display" in self.state.failure
        spans = []
        for load in loads:
            if dead and load.primary_display:
                continue
            limit = self.credit.get(load.id, math.inf)
            spans += [(begin, min(end, limit)) for begin, end in self.spells[load.id]]
        reached = 0.0
        while True:
            further = max((end for begin, end in spans if begin <= reached), default=0.0)
            if further <= reached:
                return reached
            reached = further

    def unsure(self, loads: Sequence[Load]) -> bool:
        """Return whether an engine-driven source, of which nobody knows how long it runs, could help."""
        if self.state.fuel_min is not None:
            return False
        gone = {"alternator": "alternator", "all": "alternator", "pump": "engine_drive"}
        dead = {gone[each] for each in self.state.failure if each in gone}
        driven = {name for name in self.names if self.sources[name].kind not in {*STORED, *dead}}

        def behind(name: str) -> bool:
            if name in self.sources:
                return name in driven
            return any(behind(each) for each in self.aircraft.network.buses[name].fed_by)

        shown = [load for load in loads if not ("display" in self.state.failure and load.primary_display)]
        return any(behind(name) for load in shown for name in load.fed_by)

    def information(self) -> float | None:
        """Return the end of information; ``None`` if not known."""
        loads = [load for _, load in sorted(self.aircraft.network.loads.items())]
        ends: dict[str, float | None] = {}

        def last(giving: Sequence[Load]) -> float | None:
            sure = self.covered(giving)
            return None if sure == 0 and self.unsure(giving) else sure

        def least(*values: float | None) -> float | None:
            if 0.0 in values:
                return 0.0
            return None if None in values else min(each for each in values if each is not None)

        def most(*values: float | None) -> float | None:
            sure = max((each for each in values if each is not None), default=0.0)
            return None if sure == 0 and None in values else sure

        light = last([load for load in loads if "panel_light" in load.gives])
        for name in FUNCTIONS:
            giving = [load for load in loads if name in load.gives]
            if self.state.night and not self.state.torch and name in {"attitude", "airspeed", "altitude"}:
                bright = last([load for load in giving if load.own_light])
                dim = last([load for load in giving if not load.own_light])
                ends[name] = most(bright, least(light, dim))
            else:
                ends[name] = last(giving)
        if self.state.icing or (self.state.oat_c is not None and self.state.oat_c <= 5):
            ends["airspeed"] = least(ends["airspeed"], ends["pitot_heat"])
            if not self.aircraft.alternate_static:
                ends["altitude"] = least(ends["altitude"], ends["pitot_heat"])
        engine = math.inf if self.state.fuel_min is None else self.engine
        needed = [ends["attitude"], ends["airspeed"], ends["altitude"], engine]
        needed += [ends[name] for name in ("engine", "fuel_feed") if any(name in load.gives for load in loads)]
        return least(*needed)


def _worth(held: Any, worth: Any) -> Any:
    """Return for how many minutes what is held carries a landing load; engines carry none."""
    return (np.where(np.isfinite(held), held, 0.0) * worth).sum(axis=-1)


class Walk:
    """Worlds that go through time together; what their sources hold and lose is in arrays (worlds, sources)."""

    def __init__(self, worlds: Sequence[World]) -> None:
        self.worlds = list(worlds)
        shape = (len(worlds), max(len(world.names) for world in worlds))
        self.held, self.rate = np.zeros(shape), np.zeros(shape)
        self.worth = np.zeros((shape[0], 8, shape[1]))  # no network of the test has more sources or pools in use
        self.waiting = np.zeros(self.worth.shape[:2], dtype=bool)
        self.landing_min = np.array([world.aircraft.landing_min for world in worlds])
        self.next_fixed = np.full(shape[0], np.inf)
        for number, world in enumerate(worlds):
            self.held[number, : len(world.names)] = world.start()
            self.look(number, 0.0)

    def look(self, number: int, now: float) -> None:
        """Ask one world anew who feeds whom."""
        world = self.worlds[number]
        wide = slice(len(world.names))
        world.landing.clear()
        while True:
            rates, alarms = world.rates(now, self.held[number, wide].tolist())
            self.rate[number, wide] = rates
            self.waiting[number] = False
            begun = False
            for slot, (values, key) in enumerate(alarms):
                self.worth[number, slot, wide] = values
                self.waiting[number, slot] = True
                if _worth(self.held[number], self.worth[number, slot]) <= self.landing_min[number]:
                    world.landing.add(key)
                    begun = True
            if not begun:
                break
        self.next_fixed[number] = min((each for each in world.fixed() if now < each), default=np.inf)

    def step(self, now: float) -> None:
        alive = self.held > 0
        self.held -= self.rate * STEP_MIN
        due = now >= self.next_fixed
        short = (self.waiting & (_worth(self.held[:, None, :], self.worth) <= self.landing_min[:, None])).any(
            axis=1
        )
        for number in np.flatnonzero((alive & (self.held <= 0)).any(axis=1) | due | short):
            world = self.worlds[number]
            self.held[number] = np.maximum(self.held[number], 0.0)
            if world.engine > 0 and now >= world.engine:
                driven = [world.sources[name].kind not in STORED for name in world.names]
                self.held[number, : len(driven)][driven] = 0.0
            self.look(int(number), now)

    def sweep(self, now: float) -> None:
        """Leave behind the worlds in which information is over, or nothing is drawn and nothing more is to come."""
        goes = self.rate.any(axis=1) | np.isfinite(self.next_fixed)
        goes &= np.array([(world.information() or 0.0) > now for world in self.worlds])
        self.worlds = [world for world, on in zip(self.worlds, goes, strict=True) if on]
        for name in ("held", "rate", "worth", "waiting", "landing_min", "next_fixed"):
            setattr(self, name, getattr(self, name)[goes])


def walk(worlds: Sequence[World]) -> list[float | None]:
    """Return the end of information in each world, stepping all of them through time together."""
    together = Walk(worlds)
    for step in range(1, int(LAST_MIN / STEP_MIN) + 1):
        together.step(step * STEP_MIN)
        if step % SWEEP == 0:
            together.sweep(step * STEP_MIN)
            if not together.worlds:
                break
    return [world.information() for world in worlds]
