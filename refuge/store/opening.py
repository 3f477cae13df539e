"""Opening a store for use: its schema is brought up to date first, without Alembic when it is."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Engine

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


def ensure_schema(engine: Engine) -> None:
    """Apply the migrations that the store lacks; one SELECT, and no Alembic, when it lacks none."""
    with reading(engine) as conn:
        current = store_revision(conn)
    if current != HEAD:
        # Alembic costs more than a whole answer: imported only when there is something to migrate.
        from refuge.store.upgrade import upgrade  # noqa: PLC0415

        upgrade(engine)
