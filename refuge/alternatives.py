"""The flights that `--ways` tries: one thing changed of a flight that a person names."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from refuge.aircraft.airframe import Aircraft
from refuge.errors import InputError
from refuge.flight.minimums import Minimums
from refuge.flight.situation import Situation
from refuge.flight.track import Track
from refuge.flight.ways import Kind, Variant, Way, each_way
from refuge.options import RouteOptions
from refuge.planning import flight_of, situation_of
from refuge.world import World
from refuge.zulu import iso, parse_instant

DEPARTURES = tuple(minutes for minutes in range(-180, 181, 15) if minutes)
"""Minutes earlier and later than planned; none before now."""
LEVELS_FT = (-2000.0, 2000.0, 4000.0)
MORE_FUEL_MIN = 60.0
MORE_MARGIN_MIN = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing changed: what is said of it, the options and the aircraft then."""

    kind: Kind
    label: str
    cost: str
    asked: RouteOptions
    aircraft: Aircraft


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternatives:
    """What the changed flights come to, and why others could not be flown."""

    ways: tuple[Way, ...]
    refused: tuple[tuple[str, str], ...]


def alternatives(
    asked: RouteOptions,
    parties: tuple[Aircraft, Minimums],
    world: World,
    *,
    now: datetime,
    fleet: Mapping[str, Aircraft],
    over: tuple[str, ...] = (),
    progress: Callable[[int], None] | None = None,
) -> Alternatives:
    """Return the gap minutes of the flight as planned, and with one thing changed.

    `progress` is told of each flight that is done.
    """
    variants: list[Variant] = []
    tracks: list[Track] = []
    refused: list[tuple[str, str]] = []
    for change in changes(asked, parties[0], now, fleet=fleet, over=over):
        try:
            flight, track = flight_of(change.asked, (change.aircraft, parties[1]), world, now=now)
        except InputError as exc:
            refused.append((change.label, exc.what))
            continue
        variants.append(Variant(kind=change.kind, label=change.label, cost=change.cost, asked=flight))
        tracks.append(track)
    if _engine_driven(parties[0]) and asked.fuel_min is None:
        refused.append(("more fuel", "how much there is was not given: --fuel-min"))
    if not variants:
        return Alternatives(ways=(), refused=tuple(refused))
    situation: Situation = situation_of(world, [v.asked for v in variants], tracks)
    found = []
    for way in each_way(variants, situation):
        found.append(way)
        if progress is not None:
            progress(1)
    return Alternatives(ways=tuple(found), refused=tuple(refused))


def _engine_driven(aircraft: Aircraft) -> bool:
    return any(source.kind == "engine_drive" for source in aircraft.network.sources.values())


def changes(
    asked: RouteOptions, aircraft: Aircraft, now: datetime, *, fleet: Mapping[str, Aircraft], over: tuple[str, ...]
) -> Iterator[Change]:
    """Yield the flight as planned and each change of it."""

    def change(kind: Kind, label: str, cost: str, other: Aircraft | None = None, **changed: object) -> Change:
        wanted = replace(asked, **changed)  # type: ignore[arg-type]
        return Change(kind=kind, label=label, cost=cost, asked=wanted, aircraft=other or aircraft)

    yield change("as planned", "as planned", "nothing")
    if not asked.airborne:
        first = now if asked.departs is None else parse_instant(asked.departs)
        for later in DEPARTURES:
            leaves = first + timedelta(minutes=later)
            if leaves >= now:
                label = f"leave {abs(later)} min {'later' if later > 0 else 'earlier'}"
                cost = f"arrive {later} min later" if later > 0 else label
                yield change("departure", label, cost, departs=iso(leaves))
    level = asked.altitude or 10_000.0
    for step in LEVELS_FT:
        if level + step >= max(asked.lowest_safe or 0.0, 1000.0):
            cost = f"{abs(step):,.0f} ft {'more' if step > 0 else 'less'} of height"
            cost += "" if asked.wind is None else "; --wind as it is"
            # A temperature by hand is that of the planned level, and it is colder above.
            cost += "" if asked.oat_c is None else "; without --oat"
            yield change("altitude", f"at {level + step:,.0f} ft", cost, altitude=level + step, oat_c=None)
    for name, other in sorted(fleet.items()):
        if other.id != aircraft.id:
            cost = "another aircraft" + ("" if asked.fuel_min is None else ", as many minutes of fuel in it")
            yield change("aircraft", f"in {name}", cost, other)
    for place in over:
        places = (*asked.places[:-1], place, asked.places[-1])
        yield change("detour", f"over {place}", "a longer way", places=places)
    if _engine_driven(aircraft) and asked.fuel_min is not None:
        label = f"{MORE_FUEL_MIN:.0f} min more fuel"
        yield change("fuel", label, "its weight", fuel_min=asked.fuel_min + MORE_FUEL_MIN)
    margin = 15.0 if asked.margin_min is None else asked.margin_min
    label = f"a margin of {margin + MORE_MARGIN_MIN:.0f} min"
    yield change("margin", label, f"{MORE_MARGIN_MIN:.0f} min less to fly", margin_min=margin + MORE_MARGIN_MIN)
