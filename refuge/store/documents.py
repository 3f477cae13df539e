"""Aircraft and minimums files by identifier, as written."""

from datetime import datetime
from typing import Literal

from sqlalchemy import Connection, delete, insert, select

from refuge.store.schema import documents
from refuge.store.version import data_changed

DocumentKind = Literal["aircraft", "minimums"]


def put_document(conn: Connection, kind: DocumentKind, document_id: str, text: str, *, stored_at: datetime) -> None:
    """Keep `text` under this identifier, in place of what was there."""
    conn.execute(delete(documents).where(documents.c.kind == kind, documents.c.id == document_id))
    conn.execute(insert(documents).values(kind=kind, id=document_id, text=text, stored_at=stored_at))
    data_changed(conn)


def document(conn: Connection, kind: DocumentKind, document_id: str) -> str | None:
    """Return the text kept under this identifier; ``None`` if there is none."""
    text: str | None = conn.scalar(
        select(documents.c.text).where(documents.c.kind == kind, documents.c.id == document_id)
    )
    return text


def documents_of(conn: Connection, kind: DocumentKind) -> dict[str, str]:
    """Return every text of this kind that is kept, by identifier."""
    rows = conn.execute(select(documents.c.id, documents.c.text).where(documents.c.kind == kind))
    return {row.id: row.text for row in rows}
