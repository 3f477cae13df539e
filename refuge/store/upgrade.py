"""Migrations, applied under the write lock: of several at once, one works and the others find it done."""

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from alembic.util.exc import CommandError
from sqlalchemy import Connection, Engine

from refuge.errors import StoreError
from refuge.packaged import packaged
from refuge.store.engine import writing
from refuge.store.revision import store_revision

_WAIT_MS = 60_000
"""Longer than usual: a migration by another process may rewrite tables."""


def alembic_config(conn: Connection | None = None) -> Config:
    """Return Alembic's configuration without an ini file, on the migrations of this installation."""
    config = Config()
    # "%" begins an interpolation there, and may be in a path.
    config.set_main_option("script_location", str(packaged("migrations")).replace("%", "%%"))
    config.attributes["connection"] = conn
    return config


def upgrade(engine: Engine) -> tuple[str | None, str]:
    """Bring the store's schema to the newest revision; return the revision before and after."""
    # The write lock is held from here on, and DDL is part of the transaction on both databases.
    with writing(engine, wait_ms=_WAIT_MS) as conn:
        before = store_revision(conn)
        head = head_revision()
        if before == head:
            return before, head
        try:
            command.upgrade(alembic_config(conn), "head")
        except CommandError as exc:
            raise StoreError(
                f"its schema is of revision {before}, which this refuge does not know",
                where=engine.url.render_as_string(hide_password=True),
                remedy="it was made by a newer refuge: install that one, or name another store",
            ) from exc
    return before, head


def head_revision() -> str:
    """Return the newest revision among the migrations."""
    head = ScriptDirectory.from_config(alembic_config()).get_current_head()
    if head is None:
        raise StoreError(
            "there are no migrations", where=str(packaged("migrations")), remedy="install refuge again"
        )
    return head
