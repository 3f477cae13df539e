"""A network made ready to be simulated: in which order things feed each other, and what each draws."""

from collections.abc import Mapping
from dataclasses import dataclass

from refuge.aircraft.charge import Cell
from refuge.aircraft.network import Network
from refuge.aircraft.parts import FUNCTIONS, Bus, Duration, Function, Load

Tap = tuple[str, ...]
"""What is drawn from at once: one source, one bus, or batteries that are tied and share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Feeder:
    """One step of a bus's order of take-over; ``by_hand`` waits for the pilot."""

    tap: Tap
    by_hand: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One load as the simulation sees it."""

    id: str
    fed_by: tuple[str, ...]
    amps: float
    landing: bool


class Circuit:
    """What a run needs of a network, worked out once.

    ``buses`` come in an order in which each is fed only by those before it. Order is by id, so that the order
    of a file's tables changes no last digit.
    """

    __slots__ = ("buses", "cells", "durations", "givers", "loads", "network")

    def __init__(self, network: Network) -> None:
        self.network = network
        self.buses = _in_order(network.buses)
        self.loads = tuple(
            Drawn(id=load.id, fed_by=load.fed_by, amps=load.mean_a, landing=load.landing)
            for _, load in sorted(network.loads.items())
            if load.fed_by
        )
        self.givers: Mapping[Function, tuple[Load, ...]] = {name: network.givers(name) for name in FUNCTIONS}
        self.cells: Mapping[str, Cell] = {
            source.id: Cell(source.capacity, source.chemistry)
            for source in network.sources.values()
            if source.capacity is not None and source.duration is None
        }
        self.durations: Mapping[str, Duration] = {
            source.id: source.duration for source in network.sources.values() if source.duration is not None
        }


def _in_order(buses: Mapping[str, Bus]) -> tuple[tuple[str, tuple[Feeder, ...]], ...]:
    found: dict[str, tuple[Feeder, ...]] = {}

    def place(name: str) -> None:
        if name in found or name not in buses:
            return
        for feeder in buses[name].fed_by:
            place(feeder)
        found[name] = _feeders(buses[name])

    for name in sorted(buses):
        place(name)
    return tuple(found.items())


def _feeders(bus: Bus) -> tuple[Feeder, ...]:
    """Return the steps of take-over: a tied battery belongs to the step of the one before it."""
    steps: list[Feeder] = []
    for name in bus.fed_by:
        how = bus.takes_over.get(name)
        if how == "tied":
            steps[-1] = Feeder(tap=(*steps[-1].tap, name), by_hand=steps[-1].by_hand)
        else:
            steps.append(Feeder(tap=(name,), by_hand=how == "by hand"))
    return tuple(steps)
