"""The newest report and forecast of each station, kept as they come in, so that reading them all is quick.

A row is the newest of *all* that the store has, by time of observation or issue, then correction,
then receipt. Whoever asks as of an instant may use it only where it was received and made by then:
the newest of all is then the newest of those too. Where it was not, the reader must look among the
rest (`refuge.store.reads`). So a replay is as exact as if there were no such table.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, Table, delete, func, insert, literal, null, select

from refuge.store.bulk import in_parts, insert_or_replace
from refuge.store.schema import forecasts, latest, observations
from refuge.weather.bulletin import Kind

_STAMP = {Kind.METAR: (observations, "observed_at"), Kind.TAF: (forecasts, "issued_at")}
_ORDER = ("stamped_at", "correction", "received_at", "bulletin_id")


def note_latest(conn: Connection, table: Table, rows: Iterable[Mapping[str, Any]]) -> None:
    """Put decoded rows, just inserted, in place of the newest so far where they are newer."""
    kind = next((kind for kind, (of, _) in _STAMP.items() if of is table), None)
    if kind is None:
        return
    best: dict[str, dict[str, Any]] = {}
    for row in rows:
        fresh = _latest_row(kind, row)
        known = best.get(fresh["station"])
        if known is None or _newness(fresh) > _newness(known):
            best[fresh["station"]] = fresh
    insert_or_replace(conn, latest, list(best.values()), newer_by=_ORDER)


def renew_latest(conn: Connection, kind: Kind, stations: Collection[str]) -> None:
    """Find the newest of these stations anew among all rows: after some were changed in place."""
    if kind not in _STAMP:
        return
    table, stamp = _STAMP[kind]
    for some in in_parts(stations):
        conn.execute(delete(latest).where(latest.c.kind == kind, latest.c.station.in_(some)))
        order = [table.c[stamp], table.c.correction, table.c.received_at, table.c.bulletin_id]
        place = func.row_number().over(partition_by=table.c.station, order_by=[column.desc() for column in order])
        ranked = select(table, place.label("place")).where(table.c.station.in_(some)).subquery()
        values = {
            "kind": literal(str(kind)),
            "station": ranked.c.station,
            "bulletin_id": ranked.c.bulletin_id,
            "stamped_at": ranked.c[stamp],
            "correction": ranked.c.correction,
            "received_at": ranked.c.received_at,
            "valid_from": ranked.c.valid_from if kind is Kind.TAF else null(),
            "record": ranked.c.record,
        }
        newest = select(*values.values()).where(ranked.c.place == 1)
        conn.execute(insert(latest).from_select(list(values), newest))


def _latest_row(kind: Kind, row: Mapping[str, Any]) -> dict[str, Any]:
    shared = {name: row[name] for name in ("station", "bulletin_id", "correction", "received_at", "record")}
    return shared | {"kind": kind, "stamped_at": row[_STAMP[kind][1]], "valid_from": row.get("valid_from")}


def _newness(row: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(row[name] for name in _ORDER)
