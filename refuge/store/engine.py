"""Opening a store, and transactions on it: one to read, one to write, errors mapped once."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Engine
from sqlalchemy.engine import make_url
from sqlalchemy.exc import SQLAlchemyError, StatementError

from refuge.errors import InputError, RefugeError, StoreError
from refuge.store.postgres import open_postgres
from refuge.store.sqlite import open_sqlite

Store = Engine
"""An open store, for the layers above: they name no class of the database library."""
Reader = Connection
"""A store in one transaction, as `reading` and `writing` give it."""

_OF_ONE_INSTANT = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}


def open_engine(url: str) -> Engine:
    """Return an engine on the store at `url`, with the project's settings; no table is touched.

    An SQLite file's folder is made if it is missing.
    """
    try:
        parsed = make_url(url)
        return open_postgres(parsed) if is_postgres(parsed.get_backend_name()) else open_sqlite(parsed)
    except SQLAlchemyError as exc:
        raise InputError(
            f"{url!r} is no store", remedy="name an SQLite file, sqlite:///path or postgresql://..."
        ) from exc


def is_postgres(dialect_name: str) -> bool:
    """Return whether a dialect of this name speaks to PostgreSQL; all others are SQLite's."""
    return dialect_name == "postgresql"


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection in one read transaction: everything read belongs to one instant."""
    options: dict[str, Any] = _OF_ONE_INSTANT if is_postgres(engine.dialect.name) else {}
    with mapped_errors(engine), engine.execution_options(**options).connect() as conn, conn.begin():
        yield conn


@contextmanager
def writing(engine: Engine, *, wait_ms: int | None = None) -> Iterator[Connection]:
    """Give a connection in one write transaction, committed at the end, undone on an error.

    The write lock is taken at once, waited for up to `wait_ms` (the usual five seconds without it).
    """
    options = {"refuge_writes": True} | ({} if wait_ms is None else {"refuge_wait_ms": wait_ms})
    with mapped_errors(engine), engine.execution_options(**options).begin() as conn:
        yield conn


@contextmanager
def mapped_errors(engine: Engine) -> Iterator[None]:
    """Turn the database's errors into the project's."""
    where = engine.url.render_as_string(hide_password=True)
    try:
        yield
    except StatementError as exc:
        if isinstance(exc.orig, RefugeError):
            raise exc.orig from exc
        said = str(exc.orig).strip().partition("\n")[0]
        raise StoreError(f"the store refused: {said}", where=where, remedy=_remedy(said)) from exc
    except SQLAlchemyError as exc:
        raise StoreError(f"the store failed: {exc}", where=where, remedy=_remedy(str(exc))) from exc


_REMEDIES = (
    ("locked|busy|lock timeout", "another program is writing to it; try again"),
    (r"no such (?:table|column)|(?:relation|column) \S+ does not exist", "run: refuge store upgrade"),
    ("postgis", "install PostGIS for that server, and as its superuser: CREATE EXTENSION postgis"),
    ("no such module: rtree", "the SQLite of this Python lacks R*Trees: use another Python"),
    ("unable to open|readonly", "check the path and its permissions, or name another with --store"),
    (
        "connection|authentication|database .* does not exist",
        "check that the server runs, and the address, user and database",
    ),
)


def _remedy(message: str) -> str:
    for signs, remedy in _REMEDIES:
        if re.search(signs, message):
            return remedy
    return "check it, or name another store with --store"
