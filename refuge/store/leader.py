"""One leader among several workers on a store: who has the lock, and who only waits for it.

On PostgreSQL it is an advisory lock of a session of its own, on SQLite a lock on a file beside the
store. Both end with the process that holds them, however it ends.
"""

import json
import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, Engine, NullPool, create_engine, event, text

from refuge.errors import InputError, StoreError
from refuge.store.engine import mapped_errors
from refuge.zulu import iso, parse_instant

_KEY = 0x7265_6675
"""The first half of the advisory lock's name, "refu" in ASCII; the second is the schema, so that stores in
different schemas of one database have leaders of their own."""
_SECOND = "hashtext(coalesce(current_schema()::text, ''))"
_WHO_HOLDS_IT = (
    "SELECT a.application_name, a.backend_start FROM pg_locks l JOIN pg_stat_activity a USING (pid)"  # noqa: S608
    " WHERE l.locktype = 'advisory' AND l.granted"
    f" AND l.classid = {_KEY}::oid AND l.objid = {_SECOND}::oid"  # constants from above
    " AND l.database = (SELECT oid FROM pg_database WHERE datname = current_database())"
)
_GIVES_UP_S = 10
"""A server that answers nothing for so long is given up: the lock is as good as lost."""
_SILENT_S = 30
"""So long after the last word of a worker the server ends its session, and its transaction: one that is frozen, or
whose machine vanished, keeps others from leading no longer than that. It has to ask `held` more often."""
_TRIES = 5
"""Who only looks at the lock (`leader_of`) holds it for a moment."""
_NAME_LENGTH = 63
"""PostgreSQL cuts a longer application_name (NAMEDATALEN)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leader:
    """The worker that leads, and since when."""

    worker: str
    since: datetime


class FileLead:
    """The lock on a file beside an SQLite store."""

    def __init__(self, path: Path, descriptor: int) -> None:
        self._path = path
        self._descriptor = descriptor

    def held(self) -> bool:
        """Return whether the locked file is still the one at its path: else another may lock the new one."""
        return _same_file(self._path, self._descriptor)

    def release(self) -> None:
        """Let another lead."""
        os.close(self._descriptor)


class SessionLead:
    """An advisory lock of a PostgreSQL session."""

    def __init__(self, engine: Engine, conn: Connection, backend: int) -> None:
        self._engine = engine
        self._conn = conn
        self._backend = backend
        self._one_at_a_time = threading.Lock()

    def held(self) -> bool:
        """Return whether the session that took the lock still lives: its lock lives exactly as long."""
        with self._one_at_a_time:
            try:
                with mapped_errors(self._engine):
                    return bool(self._conn.scalar(text("SELECT pg_backend_pid()")) == self._backend)
            except StoreError:
                return False

    def release(self) -> None:
        """Let another lead now, and end the session."""
        with self._one_at_a_time, suppress(StoreError), mapped_errors(self._engine):
            self._conn.execute(text("SELECT pg_advisory_unlock_all()"))
        self._conn.close()
        self._engine.dispose()


Lead = FileLead | SessionLead


def try_to_lead(engine: Engine, worker: str, *, since: datetime) -> Lead | None:
    """Return the lead of this store, or ``None`` if another worker has it.

    Raises
    ------
    InputError
        If the store is in memory, and nobody else could ever read it.
    """
    if engine.dialect.name == "postgresql":
        return _session_lead(engine, worker)
    path = _lock_file(engine)
    if path is None:
        raise InputError("a store in memory ends with its worker", remedy="name a file or a database with --store")
    return _file_lead(path, Leader(worker=worker, since=since))


def leader_of(engine: Engine) -> Leader | None:
    """Return who leads this store now; ``None`` if nobody does."""
    if engine.dialect.name == "postgresql":
        return _session_leader(engine)
    path = _lock_file(engine)
    return None if path is None else _file_leader(path)


@contextmanager
def writing_only_while(engine: Engine, held: Callable[[], bool]) -> Iterator[None]:
    """Let nothing be committed on this engine once `held` says no.

    A worker whose lock was lost learns of it here at the latest: what it was writing is undone.
    Between question and commit lies a moment in which two may write; so writes are idempotent besides.
    """

    def ask(conn: Connection) -> None:
        if conn.get_execution_options().get("refuge_writes") and not held():
            raise StoreError(
                "the lock of the leading worker is lost: nothing more is written",
                where=engine.url.render_as_string(hide_password=True),
                remedy="another worker takes over; see refuge status",
            )

    event.listen(engine, "commit", ask)
    event.listen(engine, "begin", _end_if_silent)
    try:
        yield
    finally:
        event.remove(engine, "commit", ask)
        event.remove(engine, "begin", _end_if_silent)


def _end_if_silent(conn: Connection) -> None:
    """Let no frozen worker hold the lock of those who write: see `_SILENT_S`."""
    if conn.dialect.name == "postgresql" and conn.get_execution_options().get("refuge_writes"):
        conn.exec_driver_sql(f"SET LOCAL idle_in_transaction_session_timeout = '{_SILENT_S}s'")


def _lock_file(engine: Engine) -> Path | None:
    database = engine.url.database
    return None if database in (None, "", ":memory:") else Path(f"{database}.leader")


def _file_lead(path: Path, leader: Leader) -> FileLead | None:
    for _ in range(_TRIES):
        descriptor = _open_locked(path, os.O_RDWR | os.O_CREAT, shared=False)
        if descriptor is not None:
            break
        time.sleep(0.01)
    else:
        return None
    if not _same_file(path, descriptor):  # replaced between opening and locking
        os.close(descriptor)
        return None
    os.ftruncate(descriptor, 0)
    os.write(descriptor, json.dumps({"worker": leader.worker, "since": iso(leader.since)}).encode())
    return FileLead(path, descriptor)


def _file_leader(path: Path) -> Leader | None:
    if not path.exists():
        return None
    descriptor = _open_locked(path, os.O_RDONLY, shared=True)
    if descriptor is not None:
        os.close(descriptor)
        return None
    try:
        said = json.loads(path.read_bytes())
        return Leader(worker=said["worker"], since=parse_instant(said["since"]))
    except (OSError, ValueError):  # between taking the lock and writing its name
        return None


def _open_locked(path: Path, flags: int, *, shared: bool) -> int | None:
    """Return the file, open and locked, or ``None`` if the lock is taken."""
    try:
        import fcntl  # noqa: PLC0415 - not on every system
    except ImportError as exc:
        raise StoreError(
            "this system has no file locks of the kind that refuge work needs",
            remedy="use a PostgreSQL store, or collect with refuge collect",
        ) from exc
    try:
        descriptor = os.open(path, flags | os.O_CLOEXEC, 0o644)
    except OSError as exc:
        raise StoreError(
            f"the lock cannot be opened: {exc.strerror}", where=str(path), remedy="check the folder's permissions"
        ) from exc
    try:
        fcntl.flock(descriptor, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
    except OSError as exc:
        os.close(descriptor)
        if isinstance(exc, BlockingIOError):
            return None
        raise StoreError(f"its folder knows no locks: {exc.strerror}", where=str(path)) from exc
    return descriptor


def _same_file(path: Path, descriptor: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(descriptor))
    except OSError:
        return False


def _session_lead(engine: Engine, worker: str) -> SessionLead | None:
    # An engine of its own: none of the pool's connections, no hooks, no transaction.
    alone = create_engine(
        engine.url,
        poolclass=NullPool,
        isolation_level="AUTOCOMMIT",
        connect_args={
            "connect_timeout": _GIVES_UP_S,
            "tcp_user_timeout": _GIVES_UP_S * 1000,
        },
    )
    with mapped_errors(engine):
        conn = alone.connect()
        settings = {"application_name": worker[:_NAME_LENGTH], "idle_session_timeout": f"{_SILENT_S}s"}
        for name, value in settings.items():
            conn.execute(text("SELECT set_config(:name, :value, false)"), {"name": name, "value": value})
        got, backend = conn.execute(text(f"SELECT pg_try_advisory_lock({_KEY}, {_SECOND}), pg_backend_pid()")).one()
        if not got:
            conn.close()
            alone.dispose()
            return None
        return SessionLead(alone, conn, backend)


def _session_leader(engine: Engine) -> Leader | None:
    with mapped_errors(engine), engine.connect() as conn:
        row = conn.execute(text(_WHO_HOLDS_IT)).first()
    return None if row is None else Leader(worker=row.application_name or "?", since=row.backend_start)
