"""What is wrong with a power network, in words that name the entry and what to do."""

import math
from collections.abc import Iterator, Mapping
from itertools import pairwise

from refuge.aircraft.parts import (
    NEEDED_THROUGHOUT,
    STORED,
    UNPOWERED,
    Bus,
    Capacity,
    Duration,
    Load,
    Shed,
    Source,
    SourceKind,
)

Sources = Mapping[str, Source]
Buses = Mapping[str, Bus]
Loads = Mapping[str, Load]


def upstream(sources: Sources, buses: Buses, fed_by: tuple[str, ...]) -> set[str]:
    """Return every source and bus that can feed what is fed by `fed_by`."""
    found: set[str] = set()
    ahead = list(fed_by)
    while ahead:
        name = ahead.pop()
        if name not in found and (name in sources or name in buses):
            found.add(name)
            ahead.extend(buses[name].fed_by if name in buses else ())
    return found


def source_faults(sources: Sources, buses: Buses) -> Iterator[str]:
    """Yield what is wrong with the sources."""
    for source in sources.values():
        where = f"source.{source.id}"
        if source.id in buses:
            yield f"{where}: a bus has the same name"
        stored = source.kind in STORED
        if stored and source.duration is None and source.capacity is None:
            yield f"{where}: a {source.kind} needs `minutes`, its published duration, or `capacity` in Ah"
        if not stored:
            yield from _driven_faults(where, source)
        if source.rated_a is not None and not (source.kind == "alternator" and 0 < source.rated_a.value < math.inf):
            yield f"{where}: `rated_a` is for an alternator, and more than 0"
        if source.kind in {"own_battery", "portable"} and source.ready is None:
            yield f"{where}: say `ready = true` if it is armed and charged before each flight, else false"
        if source.charge is not None and not 0 <= source.charge.value <= 100:
            yield f"{where}: `charge` is per cent, 0 to 100, not {source.charge.value}"
        if source.duration is not None:
            yield from _duration_faults(where, source.duration)
        if source.capacity is not None:
            yield from _capacity_faults(where, source.capacity)
        if source.warming is not None and not 0 <= source.warming.c_per_h < math.inf:
            yield f"{where}: warming.c_per_h must be 0 or more, not {source.warming.c_per_h}"


def _driven_faults(where: str, source: Source) -> Iterator[str]:
    for key, given in (
        ("minutes", source.duration),
        ("capacity", source.capacity),
        ("charge", source.charge),
        ("warming", source.warming),
    ):
        if given is not None:
            yield f"{where}: a source of kind {source.kind} runs with the engine and takes no `{key}`"


def _duration_faults(where: str, duration: Duration) -> Iterator[str]:
    if not 0 <= duration.minutes < math.inf:
        yield f"{where}: minutes must be 0 or more, not {duration.minutes}"
    if duration.counts_from == "shed" and duration.shed_by_min is None:
        yield f"{where}: minutes from shed need `shed_by_min`, by when the load must have been shed"
    if duration.shed_by_min is not None and not 0 <= duration.shed_by_min < math.inf:
        yield f"{where}: shed_by_min must be 0 or more, not {duration.shed_by_min}"
    if duration.unshed_ratio is not None and not 1 <= duration.unshed_ratio < math.inf:
        yield f"{where}: unshed_ratio must be 1 or more, not {duration.unshed_ratio}"


def _capacity_faults(where: str, capacity: Capacity) -> Iterator[str]:
    if not 0 < capacity.ah < math.inf:
        yield f"{where}: capacity must be more than 0 Ah, not {capacity.ah}"
    if not 0 < capacity.rate_h < math.inf:
        yield f"{where}: rate_h must be more than 0 hours, not {capacity.rate_h}"
    if capacity.peukert is not None and not 1 <= capacity.peukert <= 2:
        yield f"{where}: peukert must be 1 to 2, not {capacity.peukert}"
    elif capacity.peukert == 1 and capacity.rate_h > 1 and capacity.rate_h != 5:
        yield (
            f"{where}: a rating at {capacity.rate_h:g} hours with peukert 1 would credit it wholly at any current:"
            " give the capacity at the 1-hour rate, or an exponent above 1"
        )


def bus_faults(sources: Sources, buses: Buses) -> Iterator[str]:
    """Yield what is wrong with the buses."""
    for bus in buses.values():
        where = f"bus.{bus.id}"
        if not bus.fed_by:
            yield f"{where}: nothing feeds it"
        yield from _feeder_faults(sources, buses, where, bus.fed_by)
        yield from _take_over_faults(sources, where, bus)
        if bus.id in upstream(sources, buses, bus.fed_by):
            yield f"{where}: it feeds itself, through {' and '.join(bus.fed_by)}"


def _take_over_faults(sources: Sources, where: str, bus: Bus) -> Iterator[str]:
    for name in sorted(set(bus.takes_over) - set(bus.fed_by)):
        yield f"{where}: it says how {name} takes over, which does not feed it"
    batteries = [name for name in bus.fed_by if _kind(sources, name) in STORED]
    for name in batteries[1:]:
        if name not in bus.takes_over:
            yield (
                f"{where}: {batteries[0]} and {name} both feed it: say how {name} takes over,"
                ' {from = "NAME", takes_over = "isolated"}, "by hand" or "tied"'
            )
    if bus.fed_by and bus.fed_by[0] in bus.takes_over:
        yield f"{where}: {bus.fed_by[0]} is the first to feed it, and takes over from nothing"
    for before, name in pairwise(bus.fed_by):
        if bus.takes_over.get(name) == "tied":
            bare = [each for each in (before, name) if not _in_ah(sources, each)]
            if bare:
                yield (
                    f"{where}: {before} and {name} are tied and share the load:"
                    f" that needs batteries with `capacity` and no `minutes`, and {' and '.join(bare)} is none"
                )


def load_faults(sources: Sources, buses: Buses, loads: Loads) -> Iterator[str]:
    """Yield what is wrong with the loads."""
    for load in loads.values():
        where = f"load.{load.id}"
        yield from _feeder_faults(sources, buses, where, load.fed_by)
        if not load.gives and load.amps is None:
            yield f"{where}: it gives nothing and draws nothing: name what it gives, or leave it out"
        needy = [name for name in load.gives if name not in UNPOWERED]
        if needy and not load.fed_by:
            yield f"{where}: {' and '.join(needy)} cannot work without a supply: name what feeds it"
        if "attitude" in load.gives and any(
            _kind(sources, name) == "portable" for name in upstream(sources, buses, load.fed_by)
        ):
            yield f"{where}: attitude from portable equipment is never counted: leave it out"
        if load.amps is not None and not 0 < load.amps.value < math.inf:
            yield f"{where}: amps must be more than 0, not {load.amps.value}"
        held = [name for name in load.gives if name in NEEDED_THROUGHOUT]
        if load.landing and held:
            yield f"{where}: {' and '.join(held)} is needed all the time, not only for the landing"
        if load.landing and load.amps is None:
            yield f"{where}: a landing load needs `amps`"
        if not 0 < load.duty <= 1:
            yield f"{where}: duty must be more than 0 and at most 1, not {load.duty}"
    for function in ("attitude", "airspeed", "altitude"):
        if not any(function in load.gives for load in loads.values()):
            yield f"load: nothing gives {function}"


def shed_faults(loads: Loads, sheds: tuple[Shed, ...]) -> Iterator[str]:
    """Yield what is wrong with the steps of shedding."""
    named = [name for shed in sheds for name in shed.loads]
    for name in sorted(set(named)):
        if name not in loads:
            yield f"shed: {name!r} is no load of this file"
        if named.count(name) > 1:
            yield f"shed: {name} is shed twice"
    for number, shed in enumerate(sheds, start=1):
        if not 0 <= shed.after_min < math.inf:
            yield f"shed {number}: after_min must be 0 or more, not {shed.after_min}"
    for before, shed in pairwise(shed for shed in sheds if shed.by == "pilot"):
        if shed.after_min < before.after_min:
            yield f"shed: the pilot sheds {' and '.join(shed.loads)} before the step above it: put them in order"


def capacity_faults(sources: Sources, buses: Buses, loads: Loads) -> Iterator[str]:
    """Yield the loads that draw on a battery counted in Ah without saying how much."""
    for load in loads.values():
        behind = sorted(name for name in upstream(sources, buses, load.fed_by) if _in_ah(sources, name))
        if load.amps is None and behind:
            yield f"load.{load.id}: it needs `amps`, as {' and '.join(behind)} is counted in Ah"


def _feeder_faults(sources: Sources, buses: Buses, where: str, fed_by: tuple[str, ...]) -> Iterator[str]:
    for name in fed_by:
        if name not in sources and name not in buses:
            yield f"{where}: it is fed by {name!r}, which is no source and no bus of this file"
    if len(set(fed_by)) < len(fed_by):
        yield f"{where}: a feeder is named twice"


def _kind(sources: Sources, name: str) -> SourceKind | None:
    source = sources.get(name)
    return None if source is None else source.kind


def _in_ah(sources: Sources, name: str) -> bool:
    source = sources.get(name)
    return source is not None and source.capacity is not None and source.duration is None
