"""Bulletins into the store: raw text once, what it was decoded to, and who was heard."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Table, delete, select

from refuge.store.bulk import among, in_parts, insert_if_absent
from refuge.store.hearing import add_hearing
from refuge.store.identity import digest_of
from refuge.store.latest import note_latest, renew_latest
from refuge.store.rows import TABLE_OF, Decoded, Refusal, decoded_row, refused_row
from refuge.store.schema import bulletins, refused
from refuge.store.version import data_changed
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.reports import Forecast, Observation


def known_digests(conn: Connection, digests: Iterable[str]) -> set[str]:
    """Return those of `digests` that the store has already, as bulletin or as refused text."""
    found: set[str] = set()
    for some in in_parts(digests):
        for table in (bulletins, refused):
            found |= set(conn.scalars(select(table.c.digest).where(among(conn, table.c.digest, some))))
    return found


def add_bulletins(conn: Connection, items: Mapping[str, tuple[Bulletin, Decoded]], *, decoder: str) -> set[str]:
    """Store bulletins with what they were decoded to, by digest; return the digests of those that were new.

    A bulletin that is there already keeps its first receipt and its decoded row.
    """
    known = known_digests(conn, items)
    new = {digest: item for digest, item in items.items() if digest not in known}
    if not new:
        return set()
    insert_if_absent(conn, bulletins, [_bulletin_row(digest, item[0]) for digest, item in new.items()])
    ids = _ids_of(conn, new)
    _add_decoded(conn, [(ids[digest], digest, *item) for digest, item in new.items()], decoder=decoder)
    data_changed(conn)
    return set(new)


def add_unusable(conn: Connection, items: Iterable[tuple[Bulletin, str]]) -> int:
    """Keep texts of a feed that are no bulletins at all, each with the reason; return how many were new."""
    rows = {
        (digest := digest_of(text)): refused_row(
            Refusal(error=error), text, digest=digest, bulletin_id=None, decoder="none"
        )
        for text, error in items
    }
    known = known_digests(conn, rows)
    new = [row for digest, row in rows.items() if digest not in known]
    insert_if_absent(conn, refused, new)
    if new:
        data_changed(conn)
    return len(new)


def replace_decoded(conn: Connection, items: Sequence[tuple[int, Bulletin, Decoded]], *, decoder: str) -> None:
    """Put what a newer decoder makes of stored bulletins (id, bulletin, value) in place of the old."""
    ids = [bulletin_id for bulletin_id, _, _ in items]
    before = _stations_of(conn, ids)
    for table in (*TABLE_OF.values(), refused):
        for some in in_parts(ids):
            conn.execute(delete(table).where(table.c.bulletin_id.in_(some)))
    _add_decoded(conn, [(number, digest_of(text), text, value) for number, text, value in items], decoder=decoder)
    for kind, stations in _stations_of(conn, ids).items():
        renew_latest(conn, kind, stations | before[kind])
    data_changed(conn)


def _stations_of(conn: Connection, bulletin_ids: Sequence[int]) -> dict[Kind, set[str]]:
    """Return the stations that these bulletins were decoded to speak of."""
    found: dict[Kind, set[str]] = {Kind.METAR: set(), Kind.TAF: set()}
    for kind, stations in found.items():
        table = TABLE_OF[kind]
        for some in in_parts(bulletin_ids):
            stations |= set(conn.scalars(select(table.c.station).where(table.c.bulletin_id.in_(some))))
    return found


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
        insert_if_absent(conn, table, some)
        note_latest(conn, table, some)
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
    found: dict[str, int] = {}
    for some in in_parts(digests):
        rows = conn.execute(select(bulletins.c.digest, bulletins.c.id).where(among(conn, bulletins.c.digest, some)))
        found |= {row.digest: row.id for row in rows}
    return found
