"""Which revision of the schema a store has, told without Alembic."""

from sqlalchemy import Connection, String, column, inspect, select, table

from refuge.errors import StoreError
from refuge.store.hidden import is_hidden

_VERSION = table("alembic_version", column("version_num", String))


def store_revision(conn: Connection) -> str | None:
    """Return the schema revision of the store; ``None`` for an empty database.

    Raises
    ------
    StoreError
        If the database holds tables of something else.
    """
    tables = [name for name in inspect(conn).get_table_names() if not is_hidden(name)]
    if "alembic_version" not in tables:
        if tables:
            raise StoreError(
                "the database holds other tables and none of refuge's",
                where=conn.engine.url.render_as_string(hide_password=True),
                remedy="name another store with --store",
            )
        return None
    return conn.execute(select(_VERSION.c.version_num)).scalar()
