"""Opening a store for use: its schema is brought up to date first, without Alembic when it is."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine

from refuge.errors import MissingDataError
from refuge.store.engine import open_engine, reading
from refuge.store.revision import store_revision
from refuge.store.schema import HEAD
from refuge.store.url import resolve_store_url


def open_store(text: str | None) -> Engine:
    """Return an engine on the store that `text` names (see `resolve_store_url`), its schema up to date."""
    engine = open_engine(resolve_store_url(text))
    try:
        ensure_schema(engine)
    except BaseException:
        engine.dispose()
        raise
    return engine


@contextmanager
def opened_store(text: str | None) -> Iterator[Engine]:
    """Give an engine as `open_store` does, and close its connections at the end."""
    engine = open_store(text)
    try:
        yield engine
    finally:
        engine.dispose()


@contextmanager
def existing_store(text: str | None) -> Iterator[Engine]:
    """Give an engine as `opened_store` does, on a store that is there: for commands that only read.

    Raises
    ------
    MissingDataError
        If `text` names no file that is there: to make an empty store of a slip of the pen would hide it.
    """
    url = resolve_store_url(text)
    file = store_file(url)
    if file is not None and not file.exists():
        raise MissingDataError(f"there is no store at {file}", remedy=_HOW_NAMED if text else _HOW_FIRST)
    with opened_store(url) as engine:
        yield engine


_HOW_NAMED = "check the path, or make it: refuge collect, refuge import, or refuge demo --keep FILE"
_HOW_FIRST = (
    "make it: refuge collect stations, refuge import airfields, refuge collect; or try refuge demo; or name one"
    " with --store"
)


def store_file(url: str) -> Path | None:
    """Return the file of an SQLite store of this URL; ``None`` for one in memory or of a server."""
    if not url.startswith("sqlite:///"):
        return None
    name = url.removeprefix("sqlite:///").partition("?")[0]
    return None if name in {"", ":memory:"} or name.startswith("file:") else Path(name)


def ensure_schema(engine: Engine) -> None:
    """Apply the migrations that the store lacks; one SELECT, and no Alembic, when it lacks none."""
    with reading(engine) as conn:
        current = store_revision(conn)
    if current != HEAD:
        # Alembic costs more than a whole answer: imported only when there is something to migrate.
        from refuge.store.upgrade import upgrade  # noqa: PLC0415

        upgrade(engine)
