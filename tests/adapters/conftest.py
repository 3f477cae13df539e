"""Stores to test on: a file, one in memory, and a database of a PostgreSQL with PostGIS."""

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import Engine, make_url, text

from refuge.store.engine import open_engine
from refuge.store.opening import opened_store

ON_POSTGIS = pytest.param("postgis", marks=pytest.mark.postgis)
_NUMBERS = count()


@pytest.fixture(scope="session")
def empty_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the file of an empty store, migrated once for all tests: to be copied, never written."""
    path = tmp_path_factory.mktemp("store") / "empty.sqlite"
    with opened_store(str(path)):
        pass
    return path


@pytest.fixture(scope="session")
def postgis_server() -> Iterator[Engine]:
    """Give an engine on the server for tests, for making databases: each statement by itself."""
    engine = open_engine(os.environ["REFUGE_TEST_POSTGIS_URL"].replace("postgres://", "postgresql://", 1))
    yield engine.execution_options(isolation_level="AUTOCOMMIT")
    engine.dispose()


def make_database(server: Engine, template: str = "") -> str:
    """Make a database from a template ("": the server's own) and return its URL."""
    name = f"refuge_test_{os.getpid()}_{next(_NUMBERS)}"
    with server.connect() as conn:
        conn.execute(text(f"CREATE DATABASE {name}" + (f" TEMPLATE {template}" if template else "")))
    return server.url.set(database=name).render_as_string(hide_password=False)


def drop_database(server: Engine, url: str) -> None:
    with server.connect() as conn:
        conn.execute(text(f"DROP DATABASE {make_url(url).database} WITH (FORCE)"))


@pytest.fixture(scope="session")
def empty_database(postgis_server: Engine) -> Iterator[str]:
    """Give the name of a database with an empty store, migrated once for all tests: a template."""
    url = make_database(postgis_server)
    with opened_store(url):
        pass
    yield str(make_url(url).database)
    drop_database(postgis_server, url)


@pytest.fixture
def bare_database(postgis_server: Engine) -> Iterator[str]:
    """Give the URL of a database in which nothing is."""
    url = make_database(postgis_server)
    yield url
    drop_database(postgis_server, url)


@pytest.fixture
def make_store(request: pytest.FixtureRequest, tmp_path: Path, empty_store: Path) -> Iterator[Callable[[str], str]]:
    """Give a function that makes an empty store, "file" or "postgis", and returns its URL."""
    made: list[str] = []

    def make(kind: str) -> str:
        if kind == "postgis":
            template = request.getfixturevalue("empty_database")
            made.append(make_database(request.getfixturevalue("postgis_server"), template))
            return made[-1]
        path = tmp_path / f"store{next(_NUMBERS)}.sqlite"
        shutil.copy(empty_store, path)
        return f"sqlite:///{path}"

    yield make
    for url in made:
        drop_database(request.getfixturevalue("postgis_server"), url)


@pytest.fixture(params=["file", ON_POSTGIS])
def store_url(request: pytest.FixtureRequest, make_store: Callable[[str], str]) -> str:
    """Give the URL of an empty store, its schema up to date: one that another program can open as well."""
    return make_store(request.param)


@pytest.fixture(params=["file", "memory", ON_POSTGIS])
def engine(request: pytest.FixtureRequest, make_store: Callable[[str], str], empty_store: Path) -> Iterator[Engine]:
    """Give an empty store, its schema up to date."""
    opened = open_engine("sqlite://" if request.param == "memory" else make_store(request.param))
    if request.param == "memory":
        source, target = sqlite3.connect(empty_store), opened.raw_connection()
        source.backup(target.driver_connection)  # type: ignore[arg-type]  # it is sqlite3's own
        source.close()
        target.close()
    yield opened
    opened.dispose()
