"""What each address answers: from a world, or as of an instant that was asked for, to a body."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial

import numpy as np

from refuge.ask import forecasts_in, level_temperature, place_of, situation_for
from refuge.earth import Box
from refuge.errors import RefugeError
from refuge.flight.shortlist import Shortlist, build
from refuge.flight.station_weather import NEVER_HEARD, is_fresh
from refuge.options import Options, read_as
from refuge.render.airfield import airfield_json, airfield_lines
from refuge.render.expect import expect_lines
from refuge.render.find_json import find_geojson, find_json, json_line
from refuge.render.parties_json import aircraft_list_json, minimums_list_json
from refuge.render.places_json import Json, airfields_json, feature, features, station_json
from refuge.status import status_json
from refuge.store.engine import Store, reading
from refuge.weather.expected import expected
from refuge.weather.reports import Forecast
from refuge.web.ready import GEOJSON, JSON, Made
from refuge.web.service import Held
from refuge.wiring import question_of
from refuge.world import World


class NotKnownError(RefugeError):
    """What an address names is not known here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A question, and the form of its answer."""

    options: Options
    limit: int
    geojson: bool
    areas: bool = False


def find_now(finding: Finding, held: Held) -> Made:
    """Return the shortlist as of the world's instant."""
    world, options = held.world, finding.options
    parties = held.parties.pair(options.aircraft, options.minimums)
    question = question_of(
        options, parties, now=world.read_at, position=world.position, level=world.level_temperature
    )
    return _found(finding, build(question, world.situation_for(question)))


def find_as_of(finding: Finding, held: Held, store: Store, now: datetime) -> Made:
    """Return the shortlist as the store would have given it at `now`, all read in one transaction."""
    options = finding.options
    parties = held.parties.pair(options.aircraft, options.minimums)
    with reading(store) as conn:
        level = partial(level_temperature, conn, now=now)
        question = question_of(options, parties, now=now, position=partial(place_of, conn), level=level)
        situation = situation_for(conn, question)
    return _found(finding, build(question, situation))


def _found(finding: Finding, shortlist: Shortlist) -> Made:
    as_json = find_geojson if finding.geojson else find_json
    body = as_json(shortlist, limit=finding.limit, areas=finding.areas)
    # As of when it was worked out, and with how new data, is no part of what the answer says.
    says = body | {"data_as_of": None, "question": body["question"] | {"now": None}}
    return Made(body=json_line(body), covers=json_line(says), media=GEOJSON if finding.geojson else JSON)


def expect_now(station: str, window: tuple[datetime, datetime], held: Held) -> Made:
    """Return what to expect at a station, from the forecasts that are known now."""
    world = held.world
    if station not in world.places.stations and station not in world.weather.forecasts:
        raise _no_station(station)
    return _expected(world.forecasts_of(station), station, window)


def expect_as_of(station: str, window: tuple[datetime, datetime], held: Held, store: Store, now: datetime) -> Made:
    """Return what to expect at a station, from the forecasts that the store knew at `now`."""
    with reading(store) as conn:
        forecasts = forecasts_in(conn, station, now)
    if not forecasts and station not in held.world.places.stations:
        raise _no_station(station)
    return _expected(forecasts, station, window)


def _expected(forecasts: Sequence[Forecast], station: str, window: tuple[datetime, datetime]) -> Made:
    text = expect_lines(expected(forecasts, station, *window))
    return Made(body=text, covers=text)


def station_now(station: str, geojson: bool, held: Held) -> Made:  # noqa: FBT001 - partial() fills it in
    """Return a station, its latest report and its forecasts."""
    world = held.world
    place = world.places.stations.get(station)
    if place is None:
        raise _no_station(station)
    observation = world.weather.observations.get(station)
    body = station_json(
        place,
        hearing=world.weather.hearing.get(station, NEVER_HEARD),
        observation=observation,
        fresh=is_fresh(observation, world.read_at),
        forecasts=world.forecasts_of(station),
    )
    return _place(body, geojson=geojson)


def airfield_now(name: str, geojson: bool, held: Held) -> Made:  # noqa: FBT001 - partial() fills it in
    """Return one airfield with its lights, tower and runways."""
    places = held.world.places
    field = places.airfield(name)
    if field is None:
        raise NotKnownError(f"no airfield {name!r} in the store", where="airfield", remedy="see /v1/airfields")
    facts = places.airfield_facts(field)
    text = json_line(feature(airfield_json(*facts))) if geojson else airfield_lines(*facts)
    return Made(body=text, covers=text, media=GEOJSON if geojson else JSON)


def _no_station(station: str) -> NotKnownError:
    return NotKnownError(f"no station {station!r} in the store", where="station")


def _place(body: Json, *, geojson: bool) -> Made:
    text = json_line(feature(body) if geojson else body)
    return Made(body=text, covers=text, media=GEOJSON if geojson else JSON)


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Which airfields: in a box, or near a place; at most ``limit``."""

    box: Box | None
    near: str | None
    within_nm: float
    limit: int
    geojson: bool


def airfields_now(where: Where, held: Held) -> Made:
    """Return airfields in a box by identifier, or near a place by distance."""
    chosen = _in_box(where.box, held.world) if where.box is not None else _near(where, held.world)
    body = airfields_json([found() for found in chosen[: where.limit]], left_out=max(0, len(chosen) - where.limit))
    text = json_line(features(body, "airfields") if where.geojson else body)
    return Made(body=text, covers=text, media=GEOJSON if where.geojson else JSON)


def _in_box(box: Box, world: World) -> list[Callable[[], Json]]:
    points = world.places.airfield_points
    east_of, west_of = points.lon_deg >= box.lon_west_deg, points.lon_deg <= box.lon_east_deg
    across = box.lon_west_deg > box.lon_east_deg
    inside = (east_of | west_of) if across else (east_of & west_of)
    inside &= (points.lat_deg >= box.lat_south_deg) & (points.lat_deg <= box.lat_north_deg)
    places = world.places
    return [partial(airfield_json, *places.airfield_facts(places.ordered[i])) for i in np.flatnonzero(inside)]


def _near(where: Where, world: World) -> list[Callable[[], Json]]:
    at = read_as("--near", world.position, where.near or "")
    index, track, distance = world.places.airfield_points.near(at, where.within_nm)
    order = np.argsort(distance, kind="stable")
    return [
        partial(_reached, world, int(index[i]), round(float(track[i]), 2), round(float(distance[i]), 2))
        for i in order
    ]


def _reached(world: World, index: int, track_deg_true: float, distance_nm: float) -> Json:
    extra = {"distance_nm": distance_nm, "track_deg_true": track_deg_true}
    return airfield_json(*world.places.airfield_facts(world.places.ordered[index])) | extra


def aircraft_now(held: Held) -> Made:
    """Return the aircraft that an id can name."""
    text = json_line(aircraft_list_json(held.parties.aircraft, held.parties.unusable_aircraft))
    return Made(body=text, covers=text)


def minimums_now(held: Held) -> Made:
    """Return the minimums that an id can name."""
    text = json_line(minimums_list_json(held.parties.minimums, held.parties.unusable_minimums))
    return Made(body=text, covers=text)


def status_now(held: Held) -> Made:
    """Return how the store is kept."""
    text = json_line(status_json(held.status))
    return Made(body=text, covers=text)
