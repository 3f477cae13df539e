"""What a reader polls to learn that something landed: one number that only moves forward.

It is a row of its own because numbers of bulletins will not do: on PostgreSQL they are given before
a transaction ends, in an order that others do not see, and decoding anew gives none.
"""

from sqlalchemy import Connection, select, update

from refuge.store.schema import versions

DataVersion = int
"""Compare with ``!=``: how much it grew means nothing."""
_DATA = "data"


def data_version(conn: Connection) -> DataVersion:
    """Return a number that grows with every transaction that changes what answers rest on.

    Reports, forecasts and winds, also decoded anew, unreadable texts, airfields, stations, documents
    count; logs of work do not. Read it in the transaction in which the rest is read.
    """
    return conn.scalar(select(versions.c.number).where(versions.c.what == _DATA)) or 0


def data_changed(conn: Connection) -> None:
    """Say in a write transaction that it changes what answers rest on."""
    conn.execute(update(versions).where(versions.c.what == _DATA).values(number=versions.c.number + 1))
