"""What the addresses share: how an answer is kept or made once, and sent."""

from datetime import datetime
from functools import partial

from fastapi import Request, Response
from starlette.types import Receive, Scope, Send

from refuge.errors import InputError
from refuge.options import read_as
from refuge.web.ready import Conditions, Ready, conditions_of, send_ready
from refuge.web.service import Make, Service
from refuge.zulu import parse_instant


async def once_each(request: Request) -> None:
    """Refuse a query that says one thing twice."""
    names = [name for name, _ in request.query_params.multi_items()]
    for name in names:
        if names.count(name) > 1:
            raise InputError("is given more than once", where=f"--{name}", remedy="give it once")


class ReadyResponse(Response):
    """An answer that is ready, sent as the layer in front sends it."""

    def __init__(self, ready: Ready, asked: Conditions) -> None:
        super().__init__()
        self.ready, self.asked = ready, asked

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:  # noqa: ARG002 - ASGI
        """Send it."""
        await send_ready(send, self.ready, self.asked)


def service_of(request: Request) -> Service:
    """Return the service that answers."""
    service: Service = request.app.state.service
    return service


def wants_geojson(request: Request, wanted: str | None) -> bool:
    """Return whether the answer is to be GeoJSON: `format` says so, or else Accept."""
    return conditions_of(request.scope["headers"]).geojson if wanted is None else wanted == "geojson"


async def kept(request: Request, make: Make, *, long: bool = False) -> Response:
    """Return the answer that `make` makes, kept under what was asked; ``long`` is one of a whole flight."""
    asked = conditions_of(request.scope["headers"])
    key = (request.scope["raw_path"], request.scope["query_string"], asked.geojson)
    return ReadyResponse(await service_of(request).answer(key, make, long=long), asked)


async def once(request: Request, make: Make, *, long: bool = False) -> Response:
    """Return the answer that `make` makes; it is about another instant than now, and is not kept."""
    service = service_of(request)
    work = partial(make, service.current().held)
    ready = await (service.long_once if long else service.once)(work)
    return ReadyResponse(ready, conditions_of(request.scope["headers"]))


def now_of(text: str) -> datetime:
    """Return the instant of a `now`."""
    return read_as("--now", parse_instant, text)
