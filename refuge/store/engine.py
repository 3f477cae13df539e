"""Opening a store, and transactions on it: one to read, one to write, errors mapped once."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from sqlite3 import Connection as SqliteConnection
from sqlite3 import OperationalError as SqliteLocked

from sqlalchemy import Connection, Engine, StaticPool, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import SQLAlchemyError, StatementError
from sqlalchemy.pool import ConnectionPoolEntry

from refuge.errors import InputError, RefugeError, StoreError

Store = Engine
"""An open store, for the layers above: they name no class of the database library."""
Reader = Connection
"""A store in one transaction, as `reading` and `writing` give it."""

_BUSY_MS = 5000
_JOURNAL_LIMIT_BYTES = 64 * 1024 * 1024


def open_engine(url: str) -> Engine:
    """Return an engine on the store at `url`, with the project's SQLite settings; no table is touched.

    A file's folder is made if it is missing.
    """
    try:
        parsed = make_url(url)
    except SQLAlchemyError as exc:
        raise InputError(f"{url!r} is no store", remedy="name an SQLite file, or sqlite:///path") from exc
    if parsed.database in (None, "", ":memory:"):
        # One connection, or every transaction would see an empty database of its own.
        engine = create_engine(parsed, poolclass=StaticPool, connect_args={"check_same_thread": False})
    else:
        _make_folder(Path(str(parsed.database)))
        engine = create_engine(parsed)
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin)
    return engine


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection in one read transaction: everything read belongs to one instant."""
    with mapped_errors(engine), engine.connect() as conn, conn.begin():
        yield conn


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Give a connection in one write transaction, committed at the end, undone on an error.

    The write lock is taken at once (BEGIN IMMEDIATE): a transaction that reads first and asks for
    the lock later fails at once when another writer came between, whatever the timeout.
    """
    with mapped_errors(engine), engine.execution_options(refuge_writes=True).begin() as conn:
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
        raise StoreError(f"the store refused: {exc.orig}", where=where, remedy=_remedy(str(exc.orig))) from exc
    except SQLAlchemyError as exc:
        raise StoreError(f"the store failed: {exc}", where=where, remedy=_remedy(str(exc))) from exc


def _remedy(message: str) -> str:
    if "locked" in message or "busy" in message:
        return "another program is writing to it; try again"
    if "no such table" in message or "no such column" in message:
        return "run: refuge store upgrade"
    if "unable to open" in message or "readonly" in message:
        return "check the path and its permissions, or name another with --store"
    return "check the file, or name another store with --store"


def _make_folder(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as exc:
        raise StoreError(
            f"its folder cannot be made: {exc.strerror}", where=str(path), remedy="name another with --store"
        ) from exc


def _set_up_sqlite(connection: SqliteConnection, _entry: ConnectionPoolEntry) -> None:
    """Set what SQLite keeps per connection, and WAL, which it keeps in the file."""
    connection.isolation_level = None  # the driver's own BEGIN comes too late: see _begin
    connection.execute(f"PRAGMA busy_timeout={_BUSY_MS}")
    connection.execute("PRAGMA foreign_keys=ON")
    _switch_to_wal(connection)
    connection.execute("PRAGMA synchronous=NORMAL")
    connection.execute(f"PRAGMA journal_size_limit={_JOURNAL_LIMIT_BYTES}")


def _switch_to_wal(connection: SqliteConnection) -> None:
    """Ask for WAL; SQLite does not wait for the lock here, so several at once must wait themselves."""
    deadline_s = time.monotonic() + _BUSY_MS / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL")
        except SqliteLocked as exc:
            if "locked" not in str(exc) or time.monotonic() > deadline_s:
                raise
            time.sleep(0.02)
        else:
            return


def _begin(conn: Connection) -> None:
    writes = conn.get_execution_options().get("refuge_writes", False)
    conn.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
