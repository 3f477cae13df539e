"""A worker of this process, on a store that other processes can open, and a service on this machine."""

import threading
from collections.abc import Iterator

import pytest
from pytest_httpserver import HTTPServer
from sqlalchemy import Engine

from refuge.store.opening import opened_store
from refuge.worker.run import Job
from tests.adapters.worker.replay import Service


@pytest.fixture
def shared_engine(store_url: str) -> Iterator[Engine]:
    """Give an engine on a store that others can open as well."""
    with opened_store(store_url) as engine:
        yield engine


@pytest.fixture
def service() -> Service:
    """Give what the service has: nothing yet."""
    return Service()


@pytest.fixture
def stop() -> threading.Event:
    """Give what stops a worker of this process."""
    return threading.Event()


@pytest.fixture
def job(shared_engine: Engine, service: Service, httpserver: HTTPServer, stop: threading.Event) -> Job:
    """Give a worker of this process on that store and that service."""
    url = service.serve(httpserver)
    return Job(engine=shared_engine, worker="one", wait=stop.wait, base_url=url, guidance_url=url)
