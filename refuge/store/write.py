"""Bulletins into the store: raw text once, what it was decoded to, and who was heard."""

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, select
from sqlalchemy.dialects import postgresql, sqlite

from refuge.store.hearing import add_hearing
from refuge.store.identity import digest_of
from refuge.store.rows import TABLE_OF, Decoded, Refusal, decoded_row, refused_row
from refuge.store.schema import bulletins, refused
from refuge.weather.bulletin import Bulletin
from refuge.weather.reports import Forecast, Observation


def known_digests(conn: Connection, digests: Iterable[str]) -> set[str]:
    """Return those of `digests` that the store has already, as bulletin or as refused text."""
    wanted = list(digests)
    found = set(conn.scalars(select(bulletins.c.digest).where(bulletins.c.digest.in_(wanted))))
    return found | set(conn.scalars(select(refused.c.digest).where(refused.c.digest.in_(wanted))))


def add_bulletins(conn: Connection, items: Sequence[tuple[Bulletin, Decoded]], *, decoder: str) -> set[str]:
    """Store bulletins with what they were decoded to; return the digests of those that were new.

    A bulletin that is there already keeps its first receipt and its decoded row.
    """
    by_digest: dict[str, tuple[Bulletin, Decoded]] = {}
    for bulletin, value in items:
        by_digest.setdefault(digest_of(bulletin), (bulletin, value))
    known = known_digests(conn, by_digest)
    new = {digest: item for digest, item in by_digest.items() if digest not in known}
    if not new:
        return set()
    _insert_if_absent(conn, bulletins, [_bulletin_row(digest, item[0]) for digest, item in new.items()])
    ids = _ids_of(conn, new)
    _add_decoded(conn, [(ids[digest], digest, *item) for digest, item in new.items()], decoder=decoder)
    return set(new)


def add_unusable(conn: Connection, items: Iterable[tuple[Bulletin, str]]) -> int:
    """Keep texts of a feed that are no bulletins at all, each with the reason; return how many were new."""
    rows = {
        (digest := digest_of(text)): refused_row(
            Refusal(error=error), text, digest=digest, bulletin_id=None, decoder="none"
        )
        for text, error in items
    }
    new = [row for digest, row in rows.items() if digest not in known_digests(conn, rows)] if rows else []
    _insert_if_absent(conn, refused, new)
    return len(new)


def replace_decoded(conn: Connection, items: Sequence[tuple[int, Bulletin, Decoded]], *, decoder: str) -> None:
    """Put what a newer decoder makes of stored bulletins (id, bulletin, value) in place of the old."""
    ids = [bulletin_id for bulletin_id, _, _ in items]
    for table in (*TABLE_OF.values(), refused):
        conn.execute(delete(table).where(table.c.bulletin_id.in_(ids)))
    _add_decoded(conn, [(number, digest_of(text), text, value) for number, text, value in items], decoder=decoder)


def _add_decoded(conn: Connection, items: Sequence[tuple[int, str, Bulletin, Decoded]], *, decoder: str) -> None:
    rows: dict[Table, list[dict[str, Any]]] = {table: [] for table in (*TABLE_OF.values(), refused)}
    heard: list[tuple[Bulletin, Observation | Forecast]] = []
    for bulletin_id, digest, bulletin, value in items:
        if isinstance(value, Refusal):
            rows[refused].append(
                refused_row(value, bulletin, digest=digest, bulletin_id=bulletin_id, decoder=decoder)
            )
            continue
        rows[TABLE_OF[bulletin.kind]].append(
            decoded_row(value, bulletin_id=bulletin_id, received_at=bulletin.received_at, decoder=decoder)
        )
        if isinstance(value, Observation | Forecast):
            heard.append((bulletin, value))
    for table, some in rows.items():
        _insert_if_absent(conn, table, some)
    add_hearing(conn, heard)


def _bulletin_row(digest: str, bulletin: Bulletin) -> dict[str, Any]:
    return {
        "digest": digest,
        "kind": bulletin.kind,
        "raw": bulletin.raw,
        "source": bulletin.source,
        "received_at": bulletin.received_at,
    }


def _ids_of(conn: Connection, digests: Iterable[str]) -> dict[str, int]:
    rows = conn.execute(select(bulletins.c.digest, bulletins.c.id).where(bulletins.c.digest.in_(list(digests))))
    return {row.digest: row.id for row in rows}


def _insert_if_absent(conn: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    """Insert rows, leaving alone those that another writer put there first."""
    if not rows:
        return
    if conn.dialect.name == "postgresql":
        conn.execute(postgresql.insert(table).on_conflict_do_nothing(), rows)
    elif conn.dialect.name == "sqlite":
        conn.execute(sqlite.insert(table).on_conflict_do_nothing(), rows)
    else:
        conn.execute(insert(table), rows)
