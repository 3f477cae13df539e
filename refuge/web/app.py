"""The application: a store, a clock, the addresses, and the layer in front of them."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager, suppress
from datetime import UTC, datetime
from typing import Any

from fastapi import FastAPI
from starlette.types import ASGIApp

from refuge.store.engine import Store
from refuge.web.bodies import Feature, Features
from refuge.web.document import DESCRIPTION, TITLE, VERSION, as_text, complete
from refuge.web.flight_bodies import RouteFeatures
from refuge.web.flight_routes import flights
from refuge.web.front import Front
from refuge.web.meters import Meters
from refuge.web.problems import Problem, add_handlers
from refuge.web.routes import health, v1
from refuge.web.service import Service, keep


class Addresses(FastAPI):
    """The addresses; their OpenAPI document holds every schema that it names."""

    def openapi(self) -> dict[str, Any]:
        """Return the OpenAPI document."""
        if self.openapi_schema is None:
            self.openapi_schema = complete(super().openapi(), (Problem, Feature, Features, RouteFeatures))
        return self.openapi_schema


def utc_now() -> datetime:
    """Return the time now."""
    return datetime.now(UTC)


def create_app(engine: Store, store: str | None, *, at: datetime | None = None) -> tuple[ASGIApp, Service]:
    """Return the application on an open store, and the service behind it.

    `store` is what the person named the store. With `at` the clock stands still: a replay.
    """
    meters = Meters()
    service = Service(engine, store, meters=meters, moving=at is None)
    clock: Callable[[], datetime] = utc_now if at is None else lambda: at

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        keeper = asyncio.create_task(keep(service, clock))
        try:
            yield
        finally:
            keeper.cancel()
            with suppress(asyncio.CancelledError):
                await keeper
            service.close()

    app = bare_app(lifespan=lifespan)
    app.state.service, app.state.clock, app.state.meters = service, clock, meters
    return Front(app, service, meters), service


def bare_app(lifespan: Callable[[FastAPI], AbstractAsyncContextManager[None]] | None = None) -> Addresses:
    """Return the addresses alone: enough for their OpenAPI document."""
    app = Addresses(
        title=TITLE, version=VERSION, description=DESCRIPTION, lifespan=lifespan, docs_url=None, redoc_url=None,
        openapi_url="/openapi.json", redirect_slashes=False, strict_content_type=False,
    )  # fmt: skip
    add_handlers(app)
    app.include_router(v1)
    app.include_router(flights)
    app.include_router(health)
    return app


def openapi_text() -> str:
    """Return the OpenAPI document, as it stands in deploy/openapi.json."""
    return as_text(bare_app().openapi())
