"""The power network of one aircraft, as data: what feeds what, and what gives what."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from refuge.errors import InputError

Function = Literal[
    "attitude",
    "airspeed",
    "altitude",
    "heading",
    "navigation",
    "radio",
    "transponder",
    "pitot_heat",
    "panel_light",
    "landing_light",
    "flaps",
    "gear",
    "engine",
    "fuel_feed",
]
FUNCTIONS: tuple[Function, ...] = (
    "attitude",
    "airspeed",
    "altitude",
    "heading",
    "navigation",
    "radio",
    "transponder",
    "pitot_heat",
    "panel_light",
    "landing_light",
    "flaps",
    "gear",
    "engine",
    "fuel_feed",
)
"""Every function a load may give, in the order in which they are shown."""
UNPOWERED: frozenset[Function] = frozenset({"airspeed", "altitude", "heading", "flaps", "gear"})
"""What can work without any supply: static-pitot instruments, a compass, hand-worked flaps and gear."""

SourceKind = Literal["alternator", "battery", "own_battery", "portable", "engine_drive"]
"""``own_battery`` is inside an instrument; ``portable`` is carried aboard; ``engine_drive`` is a pump."""
STORED: frozenset[SourceKind] = frozenset({"battery", "own_battery", "portable"})
Chemistry = Literal["lead-acid", "lithium", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One number from a document: its value, under what conditions it holds, and where it stands."""

    value: float
    basis: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Duration:
    """A published duration, and what it counts from.

    ``counts_from`` ``failure``: recognition and shedding are inside the minutes; ``shed``: they begin
    when the load has been shed, and hold if that was done by ``shed_by_min`` after the failure.
    ``unshed_ratio`` is the unshed load divided by the shed load: what each later minute costs.
    ``None`` is "not stated".
    """

    minutes: float
    counts_from: Literal["failure", "shed"]
    basis: str
    source: str
    shed_by_min: float | None = None
    unshed_ratio: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacityCheck:
    """The last measured capacity of a battery, in per cent of its rating, and the day of it."""

    percent: float
    on: date
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One source of power.

    A stored source (battery, own battery, portable) carries its published ``duration``; the others
    run with the engine. ``chemistry``, ``in_service`` and ``check`` are ``None`` where not stated,
    and then nothing is credited for them. ``ready`` is for what must be armed or charged before
    each flight: ``None`` is "not stated".
    """

    id: str
    kind: SourceKind
    duration: Duration | None = None
    chemistry: Chemistry | None = None
    in_service: date | None = None
    check: CapacityCheck | None = None
    ready: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bus:
    """One bus, and the sources or buses that feed it, in the order in which they take over."""

    id: str
    fed_by: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One piece of equipment, what feeds it in order of take-over, and what it gives.

    An empty ``fed_by`` is "needs no supply". ``own_light`` says that it can be read at night
    without panel light; ``primary_display`` that the failure `display` takes it away; ``shed`` that
    it is switched off when the load is shed.
    """

    id: str
    fed_by: tuple[str, ...]
    gives: tuple[Function, ...]
    own_light: bool = False
    primary_display: bool = False
    shed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Sources, buses and loads of one aircraft, by id.

    Raises
    ------
    InputError
        On anything that cannot be worked out: an unknown feeder, a loop, a stored source without
        duration. All faults are named together.
    """

    sources: Mapping[str, Source]
    buses: Mapping[str, Bus]
    loads: Mapping[str, Load]

    def __post_init__(self) -> None:
        faults = [*_source_faults(self), *_bus_faults(self), *_load_faults(self)]
        if faults:
            raise InputError("; ".join(faults), remedy="mend these entries; template.toml explains each key")

    def givers(self, function: Function) -> tuple[Load, ...]:
        """Return the loads that give `function`, by id."""
        return tuple(load for _, load in sorted(self.loads.items()) if function in load.gives)


def _source_faults(network: Network) -> Iterator[str]:
    for source in network.sources.values():
        where = f"source.{source.id}"
        if source.id in network.buses:
            yield f"{where}: a bus has the same name"
        stored = source.kind in STORED
        if stored and source.duration is None:
            yield f"{where}: a {source.kind} needs `minutes`, its published duration"
        if not stored and source.duration is not None:
            yield f"{where}: a source of kind {source.kind} runs with the engine and takes no `minutes`"
        if source.kind in {"own_battery", "portable"} and source.ready is None:
            yield f"{where}: say `ready = true` if it is armed and charged before each flight, else false"
        if source.duration is not None:
            yield from _duration_faults(where, source.duration)


def _duration_faults(where: str, duration: Duration) -> Iterator[str]:
    if not 0 <= duration.minutes < float("inf"):
        yield f"{where}: minutes must be 0 or more, not {duration.minutes}"
    if duration.counts_from == "shed" and duration.shed_by_min is None:
        yield f"{where}: minutes from shed need `shed_by_min`, by when the load must have been shed"
    if duration.shed_by_min is not None and not 0 <= duration.shed_by_min < float("inf"):
        yield f"{where}: shed_by_min must be 0 or more, not {duration.shed_by_min}"
    if duration.unshed_ratio is not None and not 1 <= duration.unshed_ratio < float("inf"):
        yield f"{where}: unshed_ratio must be 1 or more, not {duration.unshed_ratio}"


def _bus_faults(network: Network) -> Iterator[str]:
    for bus in network.buses.values():
        where = f"bus.{bus.id}"
        if not bus.fed_by:
            yield f"{where}: nothing feeds it"
        yield from _feeder_faults(network, where, bus.fed_by)
        batteries = [name for name in bus.fed_by if _kind(network, name) in STORED]
        if len(batteries) > 1:
            yield (
                f"{where}: {' and '.join(batteries)} both feed it, and how they share is not computed yet:"
                " give each battery a bus of its own, the second fed by the first bus, if they are isolated"
            )
        if bus.id in _upstream(network, bus.id):
            yield f"{where}: it feeds itself, through {' and '.join(bus.fed_by)}"


def _load_faults(network: Network) -> Iterator[str]:
    for load in network.loads.values():
        where = f"load.{load.id}"
        yield from _feeder_faults(network, where, load.fed_by)
        if not load.gives:
            yield f"{where}: it gives nothing: name what it gives, or leave it out"
        needy = [name for name in load.gives if name not in UNPOWERED]
        if needy and not load.fed_by:
            yield f"{where}: {' and '.join(needy)} cannot work without a supply: name what feeds it"
        if "attitude" in load.gives and any(_kind(network, name) == "portable" for name in load.fed_by):
            yield f"{where}: attitude from portable equipment is never counted: leave it out"
    for function in ("attitude", "airspeed", "altitude"):
        if not network.givers(function):
            yield f"load: nothing gives {function}"


def _feeder_faults(network: Network, where: str, fed_by: tuple[str, ...]) -> Iterator[str]:
    for name in fed_by:
        if name not in network.sources and name not in network.buses:
            yield f"{where}: it is fed by {name!r}, which is no source and no bus of this file"
    if len(set(fed_by)) < len(fed_by):
        yield f"{where}: a feeder is named twice"


def _kind(network: Network, name: str) -> SourceKind | None:
    source = network.sources.get(name)
    return None if source is None else source.kind


def _upstream(network: Network, bus_id: str) -> set[str]:
    found: set[str] = set()
    ahead = list(network.buses[bus_id].fed_by)
    while ahead:
        name = ahead.pop()
        if name in network.buses and name not in found:
            found.add(name)
            ahead.extend(network.buses[name].fed_by)
    return found
