"""Which revision of the schema a store has, told without Alembic."""

from sqlalchemy import Connection, String, column, inspect, select, table

from refuge.errors import StoreError
from refuge.store.hidden import is_hidden

VERSION = table("alembic_version", column("version_num", String))
UNFINISHED = "copying_"
"""Begins the revision of a store into which another is being copied: see `copying`."""


def store_revision(conn: Connection, *, unfinished: bool = False) -> str | None:
    """Return the schema revision of the store; ``None`` for an empty database.

    Raises
    ------
    StoreError
        If the database holds tables of something else, or (without `unfinished`) part of a copy.
    """
    where = conn.engine.url.render_as_string(hide_password=True)
    tables = [name for name in inspect(conn).get_table_names() if not is_hidden(name)]
    if "alembic_version" not in tables:
        if tables:
            raise StoreError(
                "the database holds other tables and none of refuge's",
                where=where,
                remedy="name another store with --store",
            )
        return None
    revision: str | None = conn.execute(select(VERSION.c.version_num)).scalar()
    if revision is not None and revision.startswith(UNFINISHED) and not unfinished:
        raise StoreError(
            "a copy into it was begun and is not whole", where=where, remedy="finish it: refuge store copy FROM TO"
        )
    return revision
