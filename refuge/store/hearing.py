"""Which stations this store ever heard, at which hours, and with which elements.

An input of its own: a station that falls silent stays known, and so stays a reason to say
"unknown". Only first times are kept, so that what was known at any instant can be told later.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, func, select

from refuge.store.bulk import among, in_parts, insert_or_replace
from refuge.store.schema import forecasts, hearing, hearing_hours, observations
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.reports import Forecast, Observation
from refuge.weather.sky import Ceiling, KnownVisibility, UnknownCeiling, Visibility


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What was ever heard from a station, as of an instant.

    ``hours_utc`` are the hours of the day of its observations (METAR) or issues (TAF).
    ``ever_ceiling`` and ``ever_visibility`` tell whether it ever reported that element as known.
    """

    station: str
    kind: Kind
    first_heard: datetime
    last_heard: datetime
    hours_utc: frozenset[int]
    ever_ceiling: bool
    ever_visibility: bool


def hearing_as_of(
    conn: Connection, now: datetime, *, station_ids: Collection[str] | None = None
) -> dict[tuple[str, Kind], Heard]:
    """Return what was heard up to `now` by (station, kind); of all stations without `station_ids`."""
    hours: dict[tuple[str, str], set[int]] = {}
    for row in conn.execute(select(hearing_hours).where(_heard_by(hearing_hours, now, station_ids))):
        hours.setdefault((row.station, row.kind), set()).add(row.hour_utc)
    rows = conn.execute(select(hearing).where(_heard_by(hearing, now, station_ids))).all()
    later = [(row.station, row.kind) for row in rows if row.last_heard > now]
    last = _last_heard(conn, now, later)
    return {
        (row.station, Kind(row.kind)): Heard(
            station=row.station,
            kind=Kind(row.kind),
            first_heard=row.first_heard,
            last_heard=last.get((row.station, row.kind), min(row.last_heard, now)),
            hours_utc=frozenset(hours.get((row.station, row.kind), ())),
            ever_ceiling=row.ceiling_first_known is not None and row.ceiling_first_known <= now,
            ever_visibility=row.visibility_first_known is not None and row.visibility_first_known <= now,
        )
        for row in rows
    }


def _heard_by(table: Table, now: datetime, station_ids: Collection[str] | None) -> ColumnElement[bool]:
    by_then = table.c.first_heard <= now
    return by_then if station_ids is None else by_then & table.c.station.in_(list(station_ids))


def _last_heard(
    conn: Connection, now: datetime, keys: Collection[tuple[str, str]]
) -> dict[tuple[str, str], datetime]:
    """Return the last receipt up to `now` of stations that were heard again after it."""
    found: dict[tuple[str, str], datetime] = {}
    for kind, table in ((Kind.METAR, observations), (Kind.TAF, forecasts)):
        names = [station for station, of_kind in keys if of_kind == kind]
        rows = conn.execute(
            select(table.c.station, func.max(table.c.received_at))
            .where(table.c.station.in_(names), table.c.received_at <= now)
            .group_by(table.c.station)
        )
        found |= {(row[0], str(kind)): row[1] for row in rows}
    return found


def add_hearing(conn: Connection, items: Sequence[tuple[Bulletin, Observation | Forecast]]) -> None:
    """Note who was heard in these bulletins; first times move back only, last times forward only."""
    if not items:
        return
    fresh: dict[tuple[str, str], dict[str, Any]] = {}
    fresh_hours: dict[tuple[str, str, int], datetime] = {}
    for bulletin, value in items:
        at = bulletin.received_at
        key = (value.station, str(bulletin.kind))
        _merge(fresh, _note(value, str(bulletin.kind), at))
        hour = (value.observed_at if isinstance(value, Observation) else value.issued_at).hour
        fresh_hours[*key, hour] = min(at, fresh_hours.get((*key, hour), at))
    for some in in_parts({station for station, _ in fresh}):
        for row in conn.execute(select(hearing).where(among(conn, hearing.c.station, some))).mappings():
            if (row["station"], row["kind"]) in fresh:
                _merge(fresh, dict(**row))
    insert_or_replace(conn, hearing, list(fresh.values()))
    _put_hours(conn, fresh_hours)


def _note(value: Observation | Forecast, kind: str, at: datetime) -> dict[str, Any]:
    body = value.body if isinstance(value, Observation) else None
    return {
        "station": value.station,
        "kind": kind,
        "first_heard": at,
        "last_heard": at,
        "ceiling_first_known": at if body and _tells_ceiling(body.ceiling) else None,
        "visibility_first_known": at if body and _tells_visibility(body.visibility) else None,
    }


def _tells_ceiling(ceiling: Ceiling) -> bool:
    """Return whether the station can see the sky at all; an upper bound (VV///) is such a look."""
    return not isinstance(ceiling, UnknownCeiling) or ceiling.at_best_ft_agl is not None


def _tells_visibility(visibility: Visibility) -> bool:
    return isinstance(visibility, KnownVisibility) or visibility.at_best_sm is not None


def _merge(into: dict[tuple[str, str], dict[str, Any]], row: dict[str, Any]) -> None:
    key = (row["station"], row["kind"])
    other = into.get(key, row)
    firsts = ("first_heard", "ceiling_first_known", "visibility_first_known")
    merged = {name: min((x[name] for x in (row, other) if x[name] is not None), default=None) for name in firsts}
    into[key] = dict(row) | merged | {"last_heard": max(row["last_heard"], other["last_heard"])}


def _put_hours(conn: Connection, fresh: dict[tuple[str, str, int], datetime]) -> None:
    hours = {hour for _, _, hour in fresh}
    known: dict[tuple[str, str, int], datetime] = {}
    for some in in_parts({station for station, _, _ in fresh}):
        rows = conn.execute(
            select(hearing_hours).where(
                among(conn, hearing_hours.c.station, some), hearing_hours.c.hour_utc.in_(hours)
            )
        )
        known |= {(row.station, row.kind, row.hour_utc): row.first_heard for row in rows}
    earlier = [
        {"station": key[0], "kind": key[1], "hour_utc": key[2], "first_heard": at}
        for key, at in fresh.items()
        if key not in known or at < known[key]
    ]
    insert_or_replace(conn, hearing_hours, earlier)
