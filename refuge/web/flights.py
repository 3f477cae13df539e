"""What the addresses of whole flights answer: a route, its ways out of a gap, the brief of a roster."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from pydantic import ValidationError

from refuge.alternatives import alternatives
from refuge.brief import brief, options_of
from refuge.earth import Position, track_and_distance
from refuge.errors import InputError
from refuge.files.roster import RosterRow, parse_roster
from refuge.flight.briefing import BadRow
from refuge.flight.route import build
from refuge.options import RouteOptions, read_as
from refuge.planning import flight_of, situation_of
from refuge.render.brief import brief_json
from refuge.render.find_json import json_line
from refuge.render.route_json import route_geojson, route_json
from refuge.render.ways import ways_json
from refuge.store.engine import Store, reading
from refuge.web.queries import MOST_PLACES, RouteQuery
from refuge.web.ready import GEOJSON, JSON, Made
from refuge.web.service import Held
from refuge.world import World, read_world

MOST_ROUTE_NM, MOST_WAYS_NM = 2500.0, 1000.0
"""Length of the way at most: of one flight, and of one of which many changes are tried, each as long again."""
MOST_ROUTE_MIN, MOST_WAYS_MIN = 900, 660
MOST_ROSTER_BYTES = 64 * 1024
MOST_ROSTER_ROWS, MOST_ROSTER_FLIGHTS = 100, 50
"""Rows of a roster at most, and flights: a row is one with each aircraft that may fly it."""


class TooMuchError(InputError):
    """More is asked of one flight than a server that others ask too works out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flying:
    """A flight that is asked of, whether its ways out are, and the form of the answer."""

    options: RouteOptions
    geojson: bool
    ways: bool = False
    over: tuple[str, ...] = ()


def flight_now(flying: Flying, held: Held) -> Made:
    """Return the plan of a flight as of the world's instant."""
    return _flown(flying, held, held.world)


def flight_as_of(flying: Flying, held: Held, store: Store, now: datetime) -> Made:
    """Return the plan of a flight as the store would have given it at `now`."""
    return _flown(flying, held, world_as_of(held, store, now))


def world_as_of(held: Held, store: Store, now: datetime) -> World:
    """Return what the store knew at `now`, read in one transaction."""
    with reading(store) as conn:
        return read_world(conn, now, held.world)


def _flown(flying: Flying, held: Held, world: World) -> Made:
    asked, now = flying.options, world.read_at
    parties = held.parties.pair(asked.aircraft, asked.minimums)
    check_length(world, asked, over=flying.over, most_nm=MOST_WAYS_NM if flying.ways else MOST_ROUTE_NM)
    try:
        flight, track = flight_of(asked, parties, world, now=now)
    except InputError as exc:
        raise InputError(exc.what, where=exc.where or "--places", remedy=exc.remedy) from exc
    most_min = MOST_WAYS_MIN if flying.ways else MOST_ROUTE_MIN
    if track.minutes.size > most_min:
        raise TooMuchError(
            f"the flight takes {track.total_min:,.0f} min", where="--places", remedy=f"ask for at most {most_min}"
        )
    plan = build(flight, situation_of(world, [flight], [track]))
    body = route_geojson(plan) if flying.geojson else route_json(plan)
    if flying.ways:
        others = alternatives(asked, parties, world, now=now, fleet=held.parties.aircraft, over=flying.over)
        body |= ways_json(others.ways, others.refused)
    # As of when it was worked out, and with how new data, is no part of what the answer says.
    says = body | {"data_as_of": None, "question": body["question"] | {"now": None}}
    return Made(body=json_line(body), covers=json_line(says), media=GEOJSON if flying.geojson else JSON)


def check_length(world: World, asked: RouteOptions, *, over: Sequence[str] = (), most_nm: float) -> None:
    """Refuse a way that is too long, before anything is worked out of it.

    Raises
    ------
    TooMuchError
        If it is.
    InputError
        If a place is not known.
    """
    first = "--from-position" if asked.airborne else "--places"
    begins = read_as(first, world.position, asked.places[0])
    middle = [read_as("--places", world.position, text) for text in asked.places[1:-1]]
    ends = read_as("--places", world.position, asked.places[-1])
    _refuse_longer([begins, *middle, ends], "--places", most_nm)
    for text in over:
        _refuse_longer([begins, *middle, read_as("--over", world.position, text), ends], "--over", most_nm)


def _refuse_longer(way: Sequence[Position], option: str, most_nm: float) -> None:
    length_nm = sum(float(track_and_distance(a, [b.lat_deg], [b.lon_deg])[1][0]) for a, b in pairwise(way))
    if length_nm > most_nm:
        raise TooMuchError(
            f"the way is {length_nm:,.0f} NM long", where=option, remedy=f"ask for at most {most_nm:,.0f} NM"
        )


def brief_now(roster: str, held: Held) -> Made:
    """Return the brief of a roster as of the world's instant."""
    return _briefed(roster, held, held.world)


def brief_as_of(roster: str, held: Held, store: Store, now: datetime) -> Made:
    """Return the brief of a roster as the store would have given it at `now`."""
    return _briefed(roster, held, world_as_of(held, store, now))


def _briefed(roster: str, held: Held, world: World) -> Made:
    rows = list(parse_roster(roster, "roster"))
    flights = sum(len(row.aircraft) for row in rows if isinstance(row, RosterRow))
    if len(rows) > MOST_ROSTER_ROWS or flights > MOST_ROSTER_FLIGHTS:
        raise TooMuchError(
            f"{len(rows)} rows with {flights} flights are too many", where="roster",
            remedy=f"send {MOST_ROSTER_ROWS} rows with {MOST_ROSTER_FLIGHTS} flights at most",
        )  # fmt: skip
    fit = [part for row in rows for part in _fit(row, world)]
    known = held.parties
    found = brief(fit, world, now=world.read_at, aircraft_of=known.aircraft_of, minimums_of=known.minimums_of)
    text = json_line(brief_json(found))
    return Made(body=text, covers=text)


def _fit(row: RosterRow | BadRow, world: World) -> Iterator[RosterRow | BadRow]:
    """Yield a row, or why it is one that this door does not take: its bounds are those of /v1/route."""
    if isinstance(row, BadRow):
        yield row
        return
    if len(row.places) > MOST_PLACES:
        reason = f"{len(row.places)} places are too many: at most {MOST_PLACES}"
        yield BadRow(line=row.line, flight=row.cells["flight"], reason=reason)
        return
    try:
        asked = options_of(row, row.aircraft[0])
        RouteQuery.model_validate(_as_query(asked))
        check_length(world, asked, most_nm=MOST_ROUTE_NM)
    except TooMuchError as exc:
        yield BadRow(line=row.line, flight=row.cells["flight"], reason=exc.what)
    except InputError:
        yield row  # the brief itself says what is wrong, of each aircraft
    except ValidationError as exc:
        said = "; ".join(f"{fault['loc'][-1]}: {fault['msg']}" for fault in exc.errors())
        yield BadRow(line=row.line, flight=row.cells["flight"], reason=said)
    else:
        yield row


def _as_query(asked: RouteOptions) -> dict[str, object]:
    return {
        "places": ";".join(asked.places), "departs": asked.departs, "aircraft": asked.aircraft,
        "minimums": asked.minimums, "altitude": asked.altitude, "failure": asked.failure, "wind": asked.wind,
        "lowest_safe": asked.lowest_safe, "oat": asked.oat_c, "soak": asked.soak_c, "fuel_min": asked.fuel_min,
        "margin": asked.margin_min,
    }  # fmt: skip
