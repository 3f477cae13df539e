"""From what a person names to a whole flight: the places of its way, and how long the instruments last along it."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import parse_failure
from refuge.aircraft.endurance import Endurance, is_longer
from refuge.aircraft.timeline import FunctionEnd
from refuge.ask import Weather, wind_sites
from refuge.earth import Position
from refuge.errors import InputError
from refuge.flight.minimums import Minimums
from refuge.flight.question import Question
from refuge.flight.situation import Situation
from refuge.flight.track import Block, RouteQuestion, Track, Waypoint, fly
from refuge.options import RouteOptions, at_least_zero, read_as
from refuge.wiring import carried_of, endurance_at, question_of
from refuge.world import World
from refuge.zulu import parse_instant

SLIP_MIN = 30.0
"""How late a planned flight may leave (method.md 4); a proposal."""
BLOCK_MIN = 10
"""The endurance is worked out once in so many minutes, and counts as the worse of its two ends."""


def with_weather(world: World, files: Weather | None) -> World:
    """Return a world in which the weather is that of files, if there are any."""
    if files is None:
        return world
    sites = wind_sites(world.places.ordered_stations, files.winds) if files.winds else {}
    return replace(world, weather=files, wind_sites=sites)


def route_question(
    asked: RouteOptions, parties: tuple[Aircraft, Minimums], world: World, *, now: datetime
) -> tuple[RouteQuestion, Situation]:
    """Return the flight that the options ask of, and everything known that can bear on it.

    Raises
    ------
    InputError
        As `flight_of` does.
    """
    flight, track = flight_of(asked, parties, world, now=now)
    return flight, situation_of(world, [flight], [track])


def flight_of(
    asked: RouteOptions, parties: tuple[Aircraft, Minimums], world: World, *, now: datetime
) -> tuple[RouteQuestion, Track]:
    """Return the flight that the options ask of, and its way.

    Raises
    ------
    InputError
        If an option cannot be used, the flight begins in the past, or the wind stops it.
    """
    departs = now if asked.departs is None else read_as("--departs", parse_instant, asked.departs)
    if departs < now:
        raise InputError(
            "the flight begins in the past", where="--departs",
            remedy="give a time to come; for a flight in the air, --from-position where it is now",
        )  # fmt: skip
    if len(asked.places) < 2:
        raise InputError("a flight needs two places at least", remedy="name where it begins and where it ends")
    since = at_least_zero(asked.since_failure_min, "--since-failure")
    if since is not None and not asked.airborne:
        raise InputError(
            "nobody departs after the failure", where="--since-failure",
            remedy="say where the aircraft is: --from-position",
        )  # fmt: skip
    question = _question(asked, parties, world, now=now, fails_at=departs - timedelta(minutes=since or 0.0))
    flight = RouteQuestion(
        question=question,
        waypoints=tuple(waypoint(world, text) for text in asked.places),
        blocks=(Block(from_min=0, endurance=question.endurance, notes=question.notes),),
        airborne=asked.airborne,
        since_failure_min=since,
    )
    track = fly(flight, world.situation_between())
    flight = replace(flight, blocks=blocks_of(asked, flight, world, track))
    return replace(flight, question=replace(question, endurance=flight.blocks[0].endurance)), track


def situation_of(world: World, flights: Sequence[RouteQuestion], tracks: Sequence[Track]) -> Situation:
    """Return everything known that can bear on any of several flights, at the longest endurance of each."""
    asked = [replace(each.question, endurance=block.endurance) for each in flights for block in each.blocks]
    places = [track.at(np.append(track.minutes.astype(float), track.total_min)) for track in tracks]
    lat, lon = (np.concatenate(column) for column in zip(*places, strict=True))
    return world.situation_along(asked, lat, lon)


def _question(
    asked: RouteOptions, parties: tuple[Aircraft, Minimums], world: World, *, now: datetime, fails_at: datetime
) -> Question:
    """Return the question of the first minute: the departure slip is for flights that are still planned."""
    question = question_of(
        replace(asked, at=asked.places[0], fails=None),
        parties,
        now=now,
        position=world.position,
        level=world.level_temperature,
    )
    return replace(question, fails_at=fails_at, slip_min=0.0 if asked.airborne else SLIP_MIN)


def waypoint(world: World, text: str) -> Waypoint:
    """Return the place that a text names, with the height of its ground where it is an airfield or station."""
    name = text.upper()
    known = world.places.airfields.get(name) or world.places.stations.get(name)
    return Waypoint(place=text, at=world.position(text), elevation_ft=None if known is None else known.elevation_ft)


def blocks_of(asked: RouteOptions, flight: RouteQuestion, world: World, track: Track) -> tuple[Block, ...]:
    """Return how long the instruments last along the way; what lasts as long as before opens no new block.

    Fuel is what is aboard at the beginning, less what is flown by the end of the block.
    """
    if flight.since_failure_min is not None:
        return (_block(asked, flight, world, track, 0),)
    found: list[Block] = []
    for first in range(0, track.minutes.size, BLOCK_MIN):
        block = _block(asked, flight, world, track, first)
        if not found or (block.endurance, block.notes) != (found[-1].endurance, found[-1].notes):
            found.append(block)
    return tuple(found)


def _block(asked: RouteOptions, flight: RouteQuestion, world: World, track: Track, first: int) -> Block:
    question = flight.question
    last = first if flight.since_failure_min is not None else first + BLOCK_MIN
    carried = carried_of(asked, question.aircraft)
    if carried.fuel_min is not None:
        carried = replace(carried, fuel_min=max(0.0, carried.fuel_min - last))
    ends: list[tuple[Endurance, tuple[str, ...]]] = []
    for minute in {first, last}:
        lat, lon = track.at(np.array([float(minute)]))
        at = Position(lat_deg=float(lat[0]), lon_deg=float(lon[0]))
        when = question.fails_at + timedelta(minutes=minute)
        level = world.level_temperature(at, question.altitude_ft, when) if carried.oat_c is None else None
        ends.append(
            endurance_at(
                question.aircraft, at, when, failed=parse_failure(question.failure), carried=carried, level=level
            )
        )
    notes = min(ends, key=lambda end: _worth(end[0]))[1]
    endurance = worse_of([end for end, _ in ends])
    dry = worse_of([end.dry or end for end, _ in ends])
    return Block(
        from_min=first, endurance=replace(endurance, dry=dry if is_longer(dry, endurance) else None), notes=notes
    )


def worse_of(ends: Sequence[Endurance]) -> Endurance:
    """Return the shortest endurance with the shortest navigation: one may be short where the other is not."""
    navigation = min((end.functions["navigation"] for end in ends), key=_navigation_min)
    worst = min(ends, key=_worth)
    return replace(worst, functions={**worst.functions, "navigation": navigation})


def _navigation_min(navigation: FunctionEnd) -> float:
    return np.inf if navigation.state == "not_limited" else navigation.end_min or 0.0


def _worth(endurance: Endurance) -> tuple[bool, bool, float, float]:
    """Return what orders endurances, the worst first: not known, not dependable, short."""
    return (
        endurance.information_min is not None,
        endurance.dependable,
        endurance.information_min or 0.0,
        _navigation_min(endurance.functions["navigation"]),
    )
