"""Station guidance as of an instant, and the stations of which it is worth keeping."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, select, true

from refuge.store.bulk import in_parts
from refuge.store.schema import airfield_codes, airfields, bulletins, guidance, refused, stations
from refuge.weather.bulletin import Kind
from refuge.weather.guidance import Guidance, decode_guidance, product_of
from refuge.weather.reports import Unreadable

MADE_WITHIN = timedelta(hours=6)
"""Guidance is made every hour; what is older than six runs is stale (common practice, no source)."""
HEARD_WITHIN = timedelta(days=1)
_AHEAD = timedelta(hours=1)
_SHORT = 3
"""Codes of so many characters go with a K before them in the Blend's list of stations (K00F for 00F)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StationGuidance:
    """The guidance of one station: the newest block of each product, and what hides some.

    ``unreadable`` says of each product whose newest block could not be read why: it may have been
    of worse weather, so no older one stands in for it.
    """

    station: str
    blocks: tuple[Guidance, ...]
    unreadable: tuple[str, ...] = ()


def guidance_as_of(
    conn: Connection, now: datetime, station_ids: Collection[str] | None = None
) -> dict[str, StationGuidance]:
    """Return for each station its newest guidance as of `now`; stations without any are not there.

    Of several of one product and run, the last received. Nothing received after `now`, nor made
    more than `MADE_WITHIN` before it.
    """
    ids = None if station_ids is None else list(station_ids)
    newest: dict[tuple[str, str], Any] = {}
    refusals: list[Any] = []
    for some in [None] if ids is None else in_parts(ids):
        newest |= _newest(conn, now, some)
        refusals += _refusals(conn, now, some)
    hidden = _hidden(newest, refusals)
    read = _read(conn, [row.bulletin_id for key, row in newest.items() if key not in hidden])
    found: dict[str, list[Guidance]] = {}
    for key, row in newest.items():
        found.setdefault(key[0], [])
        if key in hidden:
            continue
        value = read[row.bulletin_id]
        if isinstance(value, Unreadable):  # by a decoder that is stricter than the one that let it in
            hidden[key] = value.error
        else:
            found[key[0]].append(value)
    reasons: dict[str, list[str]] = {}
    for (station, _), reason in hidden.items():
        reasons.setdefault(station, []).append(reason)
    return {
        station: StationGuidance(
            station=station,
            blocks=tuple(found.get(station, ())),
            unreadable=tuple(dict.fromkeys(reasons.get(station, ()))),
        )
        for station in sorted({*found, *reasons})
    }


def guided_stations(conn: Connection, now: datetime, station_ids: Collection[str] | None = None) -> frozenset[str]:
    """Return the stations of which guidance was heard, readable or not, in the day before `now`.

    Whether guidance bears on a place must not hang on whether the newest arrived: who had some within
    `HEARD_WITHIN` and has none now is unknown, not absent.
    """
    ids = None if station_ids is None else list(station_ids)
    found: set[str] = set()
    for some in [None] if ids is None else in_parts(ids):
        for table, of_kind in ((guidance, true()), (refused, refused.c.kind == Kind.GUIDANCE)):
            names = select(table.c.station).distinct()
            names = names.where(table.c.received_at > now - HEARD_WITHIN, table.c.received_at <= now, of_kind)
            if some is not None:
                names = names.where(table.c.station.in_(some))
            found |= {name for name in conn.scalars(names) if name is not None}
    return frozenset(found)


def wanted_stations(conn: Connection) -> frozenset[str]:
    """Return the names by which guidance may speak of the stations and airfields that the store has."""
    names = set(conn.scalars(select(stations.c.id))) | set(conn.scalars(select(airfields.c.id)))
    names |= set(conn.scalars(select(airfield_codes.c.code)))
    return frozenset(names | {f"K{name}" for name in names if len(name) == _SHORT})


def _newest(conn: Connection, now: datetime, station_ids: Collection[str] | None) -> dict[tuple[str, str], Any]:
    """Return the newest row by station and product, less its record: the index alone answers."""
    g = guidance.c
    rows = conn.execute(
        select(g.station, g.product, g.based_on, g.received_at, g.bulletin_id)
        .where(
            g.based_on >= now - MADE_WITHIN,
            g.based_on <= now + _AHEAD,
            g.received_at <= now,
            true() if station_ids is None else g.station.in_(station_ids),
        )
        .order_by(g.station, g.product, g.based_on.desc(), g.received_at.desc(), g.bulletin_id.desc())
    )
    return {key: next(same) for key, same in groupby(rows, key=lambda row: (row.station, row.product))}


def _refusals(conn: Connection, now: datetime, station_ids: Collection[str] | None) -> list[Any]:
    r = refused.c
    return list(
        conn.execute(
            select(r.station, r.raw, r.error, r.received_at)
            .where(
                r.kind == Kind.GUIDANCE,
                r.received_at >= now - MADE_WITHIN,
                r.received_at <= now,
                r.station.is_not(None) if station_ids is None else r.station.in_(station_ids),
            )
            .order_by(r.received_at, r.id)
        )
    )


def _hidden(newest: dict[tuple[str, str], Any], refusals: Iterable[Any]) -> dict[tuple[str, str], str]:
    """Return, by station and product, why what is known of it does not count.

    A refused block hides its product, or any where it does not tell which it is of, until one of
    that product was received later.
    """
    found: dict[tuple[str, str], str] = {}
    for row in refusals:
        product = product_of(row.raw)
        if product == "other":
            continue
        keys = [key for key in newest if key[0] == row.station and product in (None, key[1])]
        for key in keys or [(row.station, product or "")]:
            if key not in newest or newest[key].received_at <= row.received_at:
                found[key] = row.error
    return found


def _read(conn: Connection, bulletin_ids: Iterable[int]) -> dict[int, Guidance | Unreadable]:
    found: dict[int, Guidance | Unreadable] = {}
    for some in in_parts(bulletin_ids):
        rows = conn.execute(
            select(bulletins.c.id, bulletins.c.raw, bulletins.c.received_at).where(bulletins.c.id.in_(some))
        )
        found |= {row.id: decode_guidance(row.raw, received_at=row.received_at) for row in rows}
    return found
