"""The invented country served: at 15:00Z of its story, the clock standing still."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
import uvicorn
from click.testing import CliRunner
from starlette.types import ASGIApp

from refuge.cli import app
from refuge.cli.demo import NOW, load
from refuge.store.opening import open_store
from refuge.web.app import create_app
from refuge.web.service import Service
from refuge.zulu import parse_instant

Served = tuple[httpx.Client, Service]


@contextmanager
def on_loopback(front: ASGIApp, *, background: bool = False) -> Iterator[httpx.Client]:
    """Give a client of an application that is served for real; it looks at its store only if `background`."""
    config = uvicorn.Config(
        front, host="127.0.0.1", port=0, log_level="critical", ws="none", lifespan="on" if background else "off"
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        wait_for(lambda: server.started)
        port = server.servers[0].sockets[0].getsockname()[1]
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=60) as client:
            yield client
    finally:
        server.should_exit = True
        thread.join(20)
    assert not thread.is_alive()


def wait_for(true: Callable[[], bool], within_s: float = 20.0) -> None:
    deadline_s = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < deadline_s
        time.sleep(0.02)


@pytest.fixture(scope="session")
def demo_store(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("demo") / "refuge-demo.sqlite"
    load(str(path))
    return str(path)


@pytest.fixture(scope="module")
def serve() -> Iterator[Callable[[str, datetime], Served]]:
    """Return what serves a store as of an instant: a client, and the service to make it read anew."""
    with ExitStack() as stack:

        def start(store: str, at: datetime) -> Served:
            engine = open_store(store)
            stack.callback(engine.dispose)
            front, service = create_app(engine, store, at=at)
            stack.callback(service.close)
            service.refresh(at)
            return stack.enter_context(on_loopback(front)), service

        yield start


@pytest.fixture(scope="module")
def client(demo_store: str, serve: Callable[[str, datetime], Served]) -> httpx.Client:
    return serve(demo_store, parse_instant(NOW))[0]


@pytest.fixture(scope="session")
def typed(demo_store: str) -> Callable[..., bytes]:
    """Return what runs a command on the demo's store, as bytes of its output."""

    def run(*words: str) -> bytes:
        return CliRunner().invoke(app, [*words, "--store", demo_store]).stdout_bytes

    return run


@pytest.fixture
def empty_store(tmp_path: Path) -> str:
    """Return where a store may be made whose name finds the demo's aircraft and minimums."""
    return str(tmp_path / "refuge-demo-test.sqlite")


def at(text: str) -> datetime:
    return datetime.fromisoformat(f"2026-03-10T{text}").replace(tzinfo=UTC)
