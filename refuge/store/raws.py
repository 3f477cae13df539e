"""The raw texts again, to decode them anew, and what the store holds in numbers."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, select, union_all

from refuge.store.rows import TABLE_OF
from refuge.store.schema import airfields, bulletins, documents, imports, refused, stations
from refuge.weather.bulletin import Bulletin, Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredBulletin:
    """A bulletin with its number, and what it was decoded to last, as text; ``None``: it was refused."""

    id: int
    bulletin: Bulletin
    record: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class KindInfo:
    """How many bulletins of one kind there are, and the first and last receipt."""

    kind: Kind
    count: int
    oldest: datetime | None
    newest: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportInfo:
    """The last import of one sort."""

    what: str
    source: str
    imported_at: datetime
    counts: str


def bulletins_after(conn: Connection, bulletin_id: int, *, limit: int) -> list[StoredBulletin]:
    """Return up to `limit` bulletins with larger numbers than `bulletin_id`, in order."""
    records = union_all(
        *(
            select(table.c.bulletin_id, table.c.record).where(table.c.bulletin_id > bulletin_id)
            for table in TABLE_OF.values()
        )
    ).subquery()
    rows = conn.execute(
        select(bulletins, records.c.record)
        .outerjoin(records, records.c.bulletin_id == bulletins.c.id)
        .where(bulletins.c.id > bulletin_id)
        .order_by(bulletins.c.id)
        .limit(limit)
    )
    return [
        StoredBulletin(
            id=row.id,
            bulletin=Bulletin(kind=Kind(row.kind), raw=row.raw, source=row.source, received_at=row.received_at),
            record=row.record,
        )
        for row in rows
    ]


def bulletin_count(conn: Connection) -> int:
    """Return how many bulletins there are."""
    return conn.scalar(select(func.count()).select_from(bulletins)) or 0


def kinds_info(conn: Connection) -> list[KindInfo]:
    """Return the numbers of each kind, also of those that the store has none of."""
    rows = conn.execute(
        select(
            bulletins.c.kind, func.count(), func.min(bulletins.c.received_at), func.max(bulletins.c.received_at)
        ).group_by(bulletins.c.kind)
    )
    found = {row[0]: row for row in rows}
    return [
        KindInfo(kind=kind, count=row[1], oldest=row[2], newest=row[3])
        if (row := found.get(kind.value))
        else KindInfo(kind=kind, count=0, oldest=None, newest=None)
        for kind in Kind
    ]


def table_counts(conn: Connection) -> dict[str, int]:
    """Return how many rows there are of what is no bulletin, by name."""
    tables = {"refused": refused, "stations": stations, "airfields": airfields, "documents": documents}
    return {name: conn.scalar(select(func.count()).select_from(table)) or 0 for name, table in tables.items()}


def newest_import(conn: Connection) -> int:
    """Return the number of the last import, which grows with each; 0 before the first."""
    return conn.scalar(select(func.max(imports.c.id))) or 0


def last_imports(conn: Connection) -> Iterator[ImportInfo]:
    """Return the last import of each sort."""
    newest = select(func.max(imports.c.id)).group_by(imports.c.what)
    for row in conn.execute(select(imports).where(imports.c.id.in_(newest)).order_by(imports.c.what)):
        yield ImportInfo(what=row.what, source=row.source, imported_at=row.imported_at, counts=row.counts)
