"""What a reader polls to learn that something landed: a few numbers that only move forward."""

from datetime import datetime

from sqlalchemy import Connection, func, select

from refuge.store.schema import bulletins, documents, imports, refused

DataVersion = tuple[int, int, int, datetime | None]
"""Newest bulletin, refused text and import by number, and when a document was last stored."""


def data_version(conn: Connection) -> DataVersion:
    """Return what changes when bulletins, places or documents are added.

    What is changed in place (decoding anew) does not show: a reader reads anew now and then as well.
    """
    return (
        conn.scalar(select(func.max(bulletins.c.id))) or 0,
        conn.scalar(select(func.max(refused.c.id))) or 0,
        conn.scalar(select(func.max(imports.c.id))) or 0,
        conn.scalar(select(func.max(documents.c.stored_at))),
    )
