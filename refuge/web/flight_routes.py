"""The addresses of whole flights: a route, its ways out of a gap, the brief of a roster."""

import asyncio
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response

from refuge.errors import InputError
from refuge.web import flight_bodies as bodies
from refuge.web.asking import kept, now_of, once, once_each, service_of, wants_geojson
from refuge.web.document import answers as responses
from refuge.web.document import briefed, refused
from refuge.web.flights import (
    MOST_ROSTER_BYTES,
    MOST_ROSTER_FLIGHTS,
    MOST_ROSTER_ROWS,
    Flying,
    brief_as_of,
    brief_now,
    flight_as_of,
    flight_now,
)
from refuge.web.problems import problem
from refuge.web.queries import MOST_OVER, BriefQuery, RouteQuery, WaysQuery, places_of

BODY_WITHIN_S = 20.0
"""A roster that takes longer to come is not waited for."""
ROSTER = {
    "type": "string",
    "description": "A roster, as `refuge brief` takes it: one flight a row, UTF-8; at most"
    f" {MOST_ROSTER_BYTES:,} bytes, {MOST_ROSTER_ROWS} rows, {MOST_ROSTER_FLIGHTS} flights.",
    "examples": ["flight,from,to,departs,aircraft,minimums\nA1,XTES,XLUM,2026-03-10T15:45Z,XA-GLASS,XS-SCHOOL\n"],
}

flights = APIRouter(prefix="/v1", dependencies=[Depends(once_each)])


@flights.get(
    "/route", response_model=bodies.RouteBody, responses=responses(bodies.RouteFeatures, refusals=(422, 503))
)
async def route(request: Request, query: Annotated[RouteQuery, Query()]) -> Response:
    """Return for every minute of a flight where to go if the supply fails then, and the gaps without a refuge."""
    flying = Flying(options=query.options(), geojson=wants_geojson(request, query.format))
    return await _flown(request, flying, query.now)


@flights.get(
    "/ways", response_model=bodies.WaysBody, responses=responses(bodies.RouteFeatures, refusals=(422, 503))
)
async def ways(request: Request, query: Annotated[WaysQuery, Query()]) -> Response:
    """Return the same, and other departures, levels and aircraft with the gap minutes that each leaves."""
    over = () if query.over is None else places_of(query.over, "--over", MOST_OVER)
    flying = Flying(options=query.options(), geojson=wants_geojson(request, query.format), ways=True, over=over)
    return await _flown(request, flying, query.now)


async def _flown(request: Request, flying: Flying, now: str | None) -> Response:
    if now is None:
        return await kept(request, partial(flight_now, flying), long=True)
    store = service_of(request).engine
    return await once(request, partial(flight_as_of, flying, store=store, now=now_of(now)), long=True)


@flights.post(
    "/brief",
    response_model=bodies.BriefBody,
    responses=refused(408, 413, 414, 415, 422, 503),
    openapi_extra=briefed(ROSTER),
)
async def brief(request: Request, query: Annotated[BriefQuery, Query()]) -> Response:
    """Return one line for each flight of a roster and each aircraft that may fly it, exceptions first.

    A row that cannot be used is named with its line and reason, and takes nothing from the others.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "text/csv":
        return problem(415, "a roster is sent as text/csv", [("roster", "is no text/csv")])
    try:
        async with asyncio.timeout(BODY_WITHIN_S):
            sent = await _body(request)
    except TimeoutError:
        return problem(408, f"the roster did not come within {BODY_WITHIN_S:.0f} s")
    if sent is None:
        said = f"is longer than {MOST_ROSTER_BYTES:,} bytes"
        return problem(413, f"the roster {said}", [("roster", said)])
    try:
        roster = sent.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        raise InputError("it is no UTF-8", where="roster", remedy="send a CSV text in UTF-8") from exc
    service = service_of(request)
    held = service.current().held
    work = partial(brief_now, roster, held)
    if query.now is not None:
        work = partial(brief_as_of, roster, held, store=service.engine, now=now_of(query.now))
    ready = await service.long_once(work)
    headers = {"cache-control": "no-store", "x-content-type-options": "nosniff"}
    return Response(ready.body, headers=headers, media_type="application/json")


async def _body(request: Request) -> bytes | None:
    """Return the body of a request, ``None`` if it is too long to be read."""
    found = bytearray()
    async for chunk in request.stream():
        found += chunk
        if len(found) > MOST_ROSTER_BYTES:
            return None
    return bytes(found)
