"""One aircraft in one state of flight: what has failed, what is cold, dark or iced."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Literal, get_args

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.circuit import Circuit
from refuge.aircraft.derating import Derating, derate
from refuge.aircraft.parts import STORED, Source
from refuge.aircraft.power import Run, Setting
from refuge.aircraft.timeline import Surroundings, ends_min, information_min
from refuge.errors import InputError

Failure = Literal["alternator", "all", "pump", "display"]
FAILURES: tuple[Failure, ...] = get_args(Failure)
ALTERNATOR: frozenset[Failure] = frozenset({"alternator"})
COLDEST_C, WARMEST_C = -90.0, 60.0
"""The records of Earth, rounded outward: no air is colder or warmer."""
PITOT_HEAT_C = 5.0
"""In cloud at this temperature or colder airspeed is lost with pitot heat: method.md 2."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightState:
    """What is known of the flight when the supply fails.

    ``on`` is the day, for the age of batteries. ``oat_c`` is the outside temperature at the level,
    ``soak_c`` the temperature the aircraft stood in; ``None`` is "not given". ``fuel_min`` is all fuel
    aboard in minutes at cruise; the aircraft's reserve is taken off it. ``shed_min`` is when the
    pilot begins to shed the load: at recognition where ``None``. ``not_shed`` names loads that are not
    switched off, or ``all``. ``flown_min`` is how long a box that warms in flight has warmed. ``as_if_dry``
    asks as if there were no cloud to lose airspeed in, whatever the temperature.
    """

    on: date
    failure: frozenset[Failure] = ALTERNATOR
    oat_c: float | None = None
    soak_c: float | None = None
    icing: bool = False
    night: bool = False
    torch: bool = False
    fuel_min: float | None = None
    shed_min: float | None = None
    not_shed: frozenset[str] = frozenset()
    flown_min: float = 0.0
    as_if_dry: bool = False


def parse_failure(text: str) -> frozenset[Failure]:
    """Return the failures that a text such as ``alternator+pump`` names, one or two.

    Raises
    ------
    InputError
        If a word is no failure, or there are more than two.
    """
    words = text.split("+")
    known = [failure for failure in FAILURES if failure in words]
    if not 1 <= len(words) <= 2 or len(known) != len(words):
        raise InputError(
            f"{text!r} is no failure", where="--failure", remedy=f"one of {', '.join(FAILURES)}, or two joined by +"
        )
    return frozenset(known)


def failure_text(failure: frozenset[Failure]) -> str:
    """Return a failure as it is written: ``alternator+pump``."""
    return "+".join(name for name in FAILURES if name in failure)


@dataclass(frozen=True, kw_only=True)  # no slots: what is worked out once is kept
class Case:
    """One aircraft in one state, ready to be run with different shares of its batteries."""

    aircraft: Aircraft
    state: FlightState
    circuit: Circuit

    @cached_property
    def begins_min(self) -> float:
        """Return when the pilot begins to shed the load."""
        return self.aircraft.recognition_min if self.state.shed_min is None else self.state.shed_min

    @cached_property
    def shed_min(self) -> float:
        """Return when all that is shed has been shed; `inf` if something is not."""
        if self.state.not_shed:
            return math.inf
        return max((self.begins_min, *self._off_min(self.begins_min).values()))

    @cached_property
    def sheds(self) -> bool:
        """Return whether the failure calls for shedding: the alternator still carries the load in others."""
        return bool(self.state.failure & {"alternator", "all"})

    @cached_property
    def engine_min(self) -> float | None:
        """Return how long the fuel above the reserve lasts; ``None`` if it is not given."""
        if self.state.fuel_min is None:
            return None
        return max(0.0, self.state.fuel_min - self.aircraft.fuel_reserve_min)

    @cached_property
    def dead(self) -> frozenset[str]:
        """Return the sources that the failure takes away at once."""
        kinds: set[str] = set()
        if "alternator" in self.state.failure:
            kinds |= {"alternator"}
        if "all" in self.state.failure:
            kinds |= {"alternator", "battery"}
        if "pump" in self.state.failure:
            kinds |= {"engine_drive"}
        return frozenset(source.id for source in self.aircraft.network.sources.values() if source.kind in kinds)

    @cached_property
    def iced(self) -> bool:
        """Return whether airspeed depends on pitot heat in this cloud."""
        cold = self.state.oat_c is not None and self.state.oat_c <= PITOT_HEAT_C
        return not self.state.as_if_dry and (self.state.icing or cold)

    def _off_min(self, begins_min: float) -> dict[str, float]:
        """Return when each load that is shed is switched off, if the pilot begins at `begins_min`."""
        network = self.aircraft.network
        found = {load.id: begins_min for load in network.loads.values() if load.shed}
        for shed in network.sheds:
            at_min = shed.after_min + (begins_min if shed.by == "pilot" else 0.0)
            found.update(dict.fromkeys(shed.loads, at_min))
        return found

    @cached_property
    def off_min(self) -> dict[str, float]:
        """Return when each load that is shed is really switched off; `inf` for one that is not."""
        if not self.sheds:
            return {}
        off = self._off_min(self.begins_min)
        undone = off.keys() if "all" in self.state.not_shed else self.state.not_shed
        return off | dict.fromkeys(undone, math.inf)

    @cached_property
    def shed_steps(self) -> dict[float, tuple[str, ...]]:
        """Return which loads are switched off, by when; no names where the file does not list the steps."""
        if not self.sheds:
            return {}
        if not self.aircraft.network.sheds:
            return {} if self.state.not_shed else {self.begins_min: ()}
        found: dict[float, tuple[str, ...]] = {}
        for name, minute in sorted(self.off_min.items()):
            if minute < math.inf:
                found[minute] = (*found.get(minute, ()), name)
        return found

    @cached_property
    def credit_min(self) -> dict[str, float]:
        """Return until when each load that is shed counts: shedding late must never look like an advantage."""
        if not self.sheds:
            return {}
        usual, meant = self._off_min(self.aircraft.recognition_min), self._off_min(self.begins_min)
        return {name: min(end_min, meant[name]) for name, end_min in usual.items()}

    @property
    def dark(self) -> bool:
        """Return whether only what shines by itself can be read once the panel light is gone."""
        return self.state.night and not self.state.torch

    def around(self, *, dry: bool) -> Surroundings:
        """Return what failure and flight take beyond the supply; as if `dry`, without ice."""
        loads = self.aircraft.network.loads.values()
        display = "display" in self.state.failure
        return Surroundings(
            dead_loads=frozenset(load.id for load in loads if display and load.primary_display),
            dark=self.dark,
            iced=self.iced and not dry,
            alternate_static=self.aircraft.alternate_static,
            engine_min=math.inf if self.engine_min is None else self.engine_min,
            credit_min=self.credit_min,
        )

    def run(self, factors: Mapping[str, float]) -> Run:
        """Return a run of the network with these shares of the stored sources."""
        return Run(
            self.circuit,
            Setting(
                dead=self.dead,
                factors=factors,
                engine_min=self.engine_min,
                shed_min=self.shed_min,
                usual_shed_min=self.aircraft.usual_recognition_min,
                hand_min=self.aircraft.recognition_min,
                landing_min=self.aircraft.landing_min,
                off_min=self.off_min,
            ),
        )

    def information_left_min(self, factors: Mapping[str, float], *, dry: bool = False) -> float | None:
        """Return the end of information with these shares; ``None`` if not known."""
        return information_min(ends_min(self.run(factors), self.around(dry=dry)))


def check(aircraft: Aircraft, state: FlightState) -> None:
    """Raise if a figure of `state` cannot be, or its failure means nothing to `aircraft`.

    Raises
    ------
    InputError
        With what to do about it.
    """
    for option, value in (
        ("--fuel-min", state.fuel_min),
        ("--shed-min", state.shed_min),
        ("--flown", state.flown_min),
    ):
        if value is not None and not 0 <= value < math.inf:
            raise InputError(f"{value:g} min cannot be", where=option, remedy="give 0 or more minutes")
    for option, value in (("--oat", state.oat_c), ("--soak", state.soak_c)):
        if value is not None and not COLDEST_C <= value <= WARMEST_C:
            raise InputError(
                f"{value:g} C is no temperature of the air", where=option, remedy="give degrees Celsius"
            )
    network = aircraft.network
    strange = sorted(state.not_shed - {"all"} - network.shed_loads())
    if strange:
        raise InputError(
            f"{' and '.join(strange)} is nothing that {aircraft.id} sheds",
            where="--not-shed",
            remedy="name a load of its shed list, or all",
        )
    _check_failure(aircraft, state)


def _check_failure(aircraft: Aircraft, state: FlightState) -> None:
    network = aircraft.network
    if "pump" in state.failure and all(source.kind != "engine_drive" for source in network.sources.values()):
        raise InputError(
            f"pump: {aircraft.id} has no source of kind engine_drive", where="--failure",
            remedy="name another failure",
        )  # fmt: skip
    if "display" in state.failure and not any(load.primary_display for load in network.loads.values()):
        raise InputError(
            f"display: no load of {aircraft.id} is its primary display",
            where="--failure",
            remedy="set `primary_display = true` on it in the aircraft's file",
        )


def temperature_c(state: FlightState) -> float | None:
    """Return the colder of what is given: a battery is not taken to be warmer than either."""
    given = [value for value in (state.oat_c, state.soak_c) if value is not None]
    return min(given) if given else None


def box_c(source: Source, state: FlightState) -> float | None:
    """Return the temperature of a battery at the failure.

    The colder of what is given; or, where the file says how its box warms, what it warms to
    from the temperature it stood in, if that is given. It is never taken to warm by less than nothing.
    """
    colder_c = temperature_c(state)
    warming = source.warming
    if warming is None or state.soak_c is None or colder_c is None:
        return colder_c
    warmed_c = min(warming.up_to_c, state.soak_c + warming.c_per_h * state.flown_min / 60)
    return max(colder_c, warmed_c)


def derate_all(aircraft: Aircraft, state: FlightState) -> dict[str, Derating]:
    """Return the derating of every stored source, by its id."""
    return {
        source.id: derate(source, on=state.on, temperature_c=box_c(source, state))
        for source in aircraft.network.sources.values()
        if source.kind in STORED
    }
