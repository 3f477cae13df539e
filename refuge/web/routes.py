"""The addresses: what each takes, and which answer it makes."""

from datetime import timedelta
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from starlette.responses import JSONResponse, PlainTextResponse

from refuge.earth import Box
from refuge.errors import InputError
from refuge.flight.evidence import STALE_AFTER_MIN
from refuge.options import read_as, window
from refuge.web import answers, bodies
from refuge.web.asking import kept, now_of, once, once_each, service_of, wants_geojson
from refuge.web.document import answers as responses
from refuge.web.document import refused
from refuge.web.problems import problem
from refuge.web.queries import MOST_BOX_DEG, AirfieldsQuery, ExpectQuery, FindQuery, Nothing, PlaceQuery
from refuge.zulu import iso

STATION = Path(pattern=r"^[A-Za-z0-9]{3,8}$", description="Identifier of a station.", examples=["XCOR"])
AIRFIELD = Path(pattern=r"^[A-Za-z0-9-]{2,16}$", description="Identifier of an airfield.", examples=["XCOR"])
YOUNG = timedelta(minutes=STALE_AFTER_MIN)
"""Without a bulletin for longer than this no report can be fresh: not ready."""


v1 = APIRouter(prefix="/v1", dependencies=[Depends(once_each)])
health = APIRouter()


@v1.get("/find", response_model=bodies.FindBody, responses=responses(bodies.Features, refusals=(422, 503)))
async def find(request: Request, query: Annotated[FindQuery, Query()]) -> Response:
    """Return airfields in reach of one position while the instruments last, and which will be visual.

    Without `now` the answer is as of the server's last look at its store, at most about a minute ago.
    """
    finding = answers.Finding(
        options=query.options(), limit=query.limit, geojson=wants_geojson(request, query.format), areas=query.areas
    )
    if query.now is None:
        return await kept(request, partial(answers.find_now, finding))
    store = service_of(request).engine
    return await once(request, partial(answers.find_as_of, finding, store=store, now=now_of(query.now)))


@v1.get("/expect/{station}", response_model=bodies.ExpectBody, responses=responses())
async def expect(
    request: Request, station: Annotated[str, STATION], query: Annotated[ExpectQuery, Query()]
) -> Response:
    """Return conditions to expect at a station over a window, from forecasts alone."""
    asked = window(query.start, query.end)
    if query.now is None:
        return await kept(request, partial(answers.expect_now, station.upper(), asked))
    store = service_of(request).engine
    make = partial(answers.expect_as_of, station.upper(), asked, store=store, now=now_of(query.now))
    return await once(request, make)


@v1.get("/stations/{station}", response_model=bodies.StationBody, responses=responses(bodies.Feature))
async def one_station(
    request: Request,
    station: Annotated[str, STATION],
    query: Annotated[PlaceQuery, Query()],
) -> Response:
    """Return a station, its latest report and its forecasts."""
    return await kept(request, partial(answers.station_now, station.upper(), wants_geojson(request, query.format)))


@v1.get(
    "/airfields", response_model=bodies.AirfieldsBody, responses=responses(bodies.Features, refusals=(422, 503))
)
async def airfields(request: Request, query: Annotated[AirfieldsQuery, Query()]) -> Response:
    """Return airfields in a box, or near a place: one of the two."""
    if (query.bbox is None) == (query.near is None):
        raise InputError("one of bbox and near must be given", where="--near" if query.bbox else "--bbox")
    where = answers.Where(
        box=None if query.bbox is None else read_as("--bbox", parse_box, query.bbox),
        near=query.near, within_nm=query.within_nm, limit=query.limit, geojson=wants_geojson(request, query.format),
    )  # fmt: skip
    return await kept(request, partial(answers.airfields_now, where))


@v1.get("/airfields/{airfield}", response_model=bodies.AirfieldBody, responses=responses(bodies.Feature))
async def one_airfield(
    request: Request,
    airfield: Annotated[str, AIRFIELD],
    query: Annotated[PlaceQuery, Query()],
) -> Response:
    """Return one airfield with its runways."""
    return await kept(
        request, partial(answers.airfield_now, airfield.upper(), wants_geojson(request, query.format))
    )


@v1.get("/aircraft", response_model=bodies.AircraftBody, responses=responses(refusals=(422, 503)))
async def aircraft(request: Request, _query: Annotated[Nothing, Query()]) -> Response:
    """Return the aircraft that an id names."""
    return await kept(request, answers.aircraft_now)


@v1.get("/minimums", response_model=bodies.MinimumsBody, responses=responses(refusals=(422, 503)))
async def minimums(request: Request, _query: Annotated[Nothing, Query()]) -> Response:
    """Return the minimums that an id names."""
    return await kept(request, answers.minimums_now)


@v1.get("/status", response_model=bodies.StatusBody, responses=responses(refusals=(422, 503)))
async def status(request: Request, _query: Annotated[Nothing, Query()]) -> Response:
    """Return how old the data are, how the last runs of the worker went, what is overdue."""
    return await kept(request, answers.status_now)


@health.get("/livez", response_class=PlainTextResponse)
async def livez() -> Response:
    """Return whether the process answers at all; no database is asked."""
    return PlainTextResponse("alive\n", headers={"cache-control": "no-store"})


@health.get("/readyz", response_model=bodies.Ready, responses=refused(503))
async def readyz(request: Request) -> Response:
    """Return whether answers are given, and rest on data that are young enough."""
    world = service_of(request).current().held.world
    as_of, now = world.weather.data_as_of, request.app.state.clock()
    body = {"ready": True, "read_at": iso(world.read_at), "data_as_of": None if as_of is None else iso(as_of)}
    if as_of is None or now - as_of > YOUNG:
        detail = "there is no bulletin" if as_of is None else f"the newest bulletin was received at {iso(as_of)}"
        return problem(503, f"{detail}: data too old")
    return JSONResponse(body, headers={"cache-control": "no-store"})


@health.get("/metrics", response_class=PlainTextResponse)
async def metrics(request: Request) -> Response:
    """Return what the server counts of itself, in Prometheus' text format."""
    meters = request.app.state.meters
    return Response(meters.text(), media_type=meters.media, headers={"cache-control": "no-store"})


def parse_box(text: str) -> Box:
    """Return the box that ``west,south,east,north`` names.

    Raises
    ------
    InputError
        If it is none, or too large.
    """
    try:
        west, south, east, north = map(float, text.split(","))
    except ValueError as exc:
        raise InputError(f"{text!r} is no box", remedy="write west,south,east,north in degrees") from exc
    if not (-180 <= west <= 180 and -180 <= east <= 180 and -90 <= south <= north <= 90):
        raise InputError(f"{text!r} is no box on earth", remedy="write west,south,east,north in degrees")
    high, wide = north - south, (east - west) % 360 if east != west else 0.0
    if high > MOST_BOX_DEG[0] or wide > MOST_BOX_DEG[1]:
        raise InputError(
            f"a box of {wide:g} by {high:g} degrees is too large",
            remedy=f"ask for at most {MOST_BOX_DEG[1]:g} by {MOST_BOX_DEG[0]:g}",
        )
    return Box(lat_south_deg=south, lat_north_deg=north, lon_west_deg=west, lon_east_deg=east)
