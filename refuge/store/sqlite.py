"""SQLite as measured best: WAL, waiting for locks, writers take the lock at once."""

import time
from pathlib import Path
from sqlite3 import Connection as SqliteConnection
from sqlite3 import OperationalError as SqliteLocked

from sqlalchemy import URL, Connection, Engine, StaticPool, create_engine, event
from sqlalchemy.pool import ConnectionPoolEntry

from refuge.errors import StoreError

BUSY_MS = 5000
_JOURNAL_LIMIT_BYTES = 64 * 1024 * 1024
_CACHE_KIB = 32 * 1024
"""Room for the newest report of every station of the world (12 MB), which else are read anew each time."""


def open_sqlite(url: URL) -> Engine:
    """Return an engine on an SQLite file, whose folder is made if it is missing, or on one in memory."""
    if url.database in (None, "", ":memory:"):
        # One connection, or every transaction would see an empty database of its own.
        engine = create_engine(url, poolclass=StaticPool, connect_args={"check_same_thread": False})
    else:
        _make_folder(Path(str(url.database)))
        engine = create_engine(url)
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    return engine


def _make_folder(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as exc:
        raise StoreError(
            f"its folder cannot be made: {exc.strerror}", where=str(path), remedy="name another with --store"
        ) from exc


def _set_up(connection: SqliteConnection, _entry: ConnectionPoolEntry) -> None:
    """Set what SQLite keeps per connection, and WAL, which it keeps in the file."""
    connection.isolation_level = None  # the driver's own BEGIN comes too late: see _begin
    connection.execute(f"PRAGMA busy_timeout={BUSY_MS}")
    connection.execute("PRAGMA foreign_keys=ON")
    _switch_to_wal(connection)
    connection.execute("PRAGMA synchronous=NORMAL")
    connection.execute(f"PRAGMA journal_size_limit={_JOURNAL_LIMIT_BYTES}")
    connection.execute(f"PRAGMA cache_size=-{_CACHE_KIB}")


def _switch_to_wal(connection: SqliteConnection) -> None:
    """Ask for WAL; SQLite does not wait for the lock here, so several at once must wait themselves."""
    deadline_s = time.monotonic() + BUSY_MS / 1000
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
    """Begin; to write, with the lock at once: a reader that asks for it later fails when another came between."""
    options = conn.get_execution_options()
    conn.exec_driver_sql(f"PRAGMA busy_timeout={options.get('refuge_wait_ms', BUSY_MS)}")
    conn.exec_driver_sql("BEGIN IMMEDIATE" if options.get("refuge_writes", False) else "BEGIN")
