"""Stations and airfields: written as a whole, read by identifier or around a position."""

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

import numpy as np
import numpy.typing as npt
from sqlalchemy import Connection, Engine, Table, delete, insert, select
from sqlalchemy.engine import RowMapping

from refuge.airfield import Airfield, Station
from refuge.store.airfield_rows import airfield_of, airfield_row, runway_of, runway_row
from refuge.store.bulk import in_parts, insert_rows
from refuge.store.engine import writing
from refuge.store.near import near, refill_tree
from refuge.store.schema import airfield_codes, airfields, imports, runways, stations
from refuge.store.version import data_changed


@dataclass(frozen=True, slots=True, kw_only=True)
class AirfieldColumns:
    """Airfields as columns, for arithmetic over all at once; row i of each is the same airfield.

    ``elevation_ft`` means something only where ``elevation_known`` is true.
    """

    ids: tuple[str, ...]
    names: tuple[str, ...]
    lat_deg: npt.NDArray[np.float64]
    lon_deg: npt.NDArray[np.float64]
    elevation_ft: npt.NDArray[np.float64]
    elevation_known: npt.NDArray[np.bool_]
    station_ids: tuple[str | None, ...]


def replace_airfields(
    engine: Engine,
    fields: Iterable[Airfield],
    *,
    source: str,
    imported_at: datetime,
    counts: Mapping[str, int] | None = None,
    codes: Mapping[str, Sequence[str]] | None = None,
) -> int:
    """Put these airfields in place of all that the store has; return how many. One transaction.

    `codes` are those that each goes or went by, by identifier, the most trusted first.
    """
    rows, strips = [], []
    for field in fields:
        rows.append(airfield_row(field))
        strips += [runway_row(field.id, i, runway) for i, runway in enumerate(field.runways or ())]
    with writing(engine) as conn:
        for table in (runways, airfield_codes):
            conn.execute(delete(table))
        _refill(conn, airfields, rows)
        insert_rows(conn, runways, strips)
        insert_rows(conn, airfield_codes, _code_rows({row["id"] for row in rows}, codes or {}))
        note_import(conn, "airfields", source, imported_at, {"airfields": len(rows)} | dict(counts or {}))
    return len(rows)


def replace_stations(
    engine: Engine,
    places: Iterable[Station],
    *,
    source: str,
    imported_at: datetime,
    counts: Mapping[str, int] | None = None,
) -> int:
    """Put these stations, as they are to be believed, in place of all; return how many. One transaction."""
    with writing(engine) as conn:
        listed = {row["id"]: row["listed_elevation_ft"] for row in conn.execute(select(stations)).mappings()}
        rows = [_station_row(place, listed.get(place.id, place.elevation_ft)) for place in places]
        _refill(conn, stations, rows)
        note_import(conn, "stations", source, imported_at, {"stations": len(rows)} | dict(counts or {}))
    return len(rows)


def refresh_stations(
    engine: Engine,
    places: Iterable[Station],
    *,
    source: str,
    imported_at: datetime,
    counts: Mapping[str, int] | None = None,
) -> int:
    """Put a newly fetched list of stations in place of all; return how many. One transaction.

    Where the list says of a station what it said before, the elevation that was mended since (by
    the airfield it stands at) stays: some are listed in feet for metres.
    """
    with writing(engine) as conn:
        before = {row["id"]: row for row in conn.execute(select(stations)).mappings()}
        rows = []
        for place in places:
            row = _station_row(place, place.elevation_ft)
            old = before.get(place.id)
            if old and all(old[name] == row[name] for name in ("lat_deg", "lon_deg", "listed_elevation_ft")):
                row["elevation_ft"] = old["elevation_ft"]
            rows.append(row)
        _refill(conn, stations, rows)
        note_import(conn, "stations", source, imported_at, {"stations": len(rows)} | dict(counts or {}))
    return len(rows)


def airfields_within(conn: Connection, lat_deg: float, lon_deg: float, radius_nm: float) -> AirfieldColumns:
    """Return the airfields in an area that holds the whole circle: a few more than lie within it, none fewer."""
    a = airfields.c
    rows = conn.execute(
        select(a.id, a.name, a.lat_deg, a.lon_deg, a.elevation_ft, a.station_id).where(
            near(conn, airfields, lat_deg, lon_deg, radius_nm)
        )
    ).all()
    # Sorted here: databases differ in how they order texts.
    ordered = sorted(rows, key=lambda row: row.id)
    ids, names, lats, lons, elevations, station_ids = zip(*ordered, strict=True) if rows else ((),) * 6
    return AirfieldColumns(
        ids=ids,
        names=names,
        lat_deg=np.array(lats, dtype=np.float64),
        lon_deg=np.array(lons, dtype=np.float64),
        elevation_ft=np.array([0.0 if x is None else x for x in elevations], dtype=np.float64),
        elevation_known=np.array([x is not None for x in elevations], dtype=np.bool_),
        station_ids=station_ids,
    )


def all_airfields(conn: Connection) -> tuple[Airfield, ...]:
    """Return every airfield that the store has, by identifier."""
    found = airfields_by_id(conn, conn.scalars(select(airfields.c.id)).all())
    return tuple(found[id_] for id_ in sorted(found))


def place_ids(conn: Connection) -> set[str]:
    """Return the identifiers of every airfield and station of the store."""
    return {*conn.scalars(select(airfields.c.id)), *conn.scalars(select(stations.c.id))}


def airfield_codes_of(conn: Connection) -> dict[str, tuple[str, ...]]:
    """Return the codes that each airfield goes or went by, the most trusted first; none of imports before 0002."""
    found: dict[str, list[str]] = {}
    for row in conn.execute(select(airfield_codes).order_by(airfield_codes.c.rank)):
        found.setdefault(row.airfield_id, []).append(row.code)
    return {id_: tuple(codes) for id_, codes in found.items()}


def airfields_by_code(conn: Connection, code: str) -> tuple[str, ...]:
    """Return the identifiers of airfields that go or went by a code, the most trusted use first."""
    rows = conn.execute(select(airfield_codes).where(airfield_codes.c.code == code)).all()
    return tuple(row.airfield_id for row in sorted(rows, key=lambda row: (row.rank, row.airfield_id)))


def has_airfields(conn: Connection) -> bool:
    """Return whether the store has any airfield at all."""
    return conn.execute(select(airfields.c.id).limit(1)).first() is not None


def is_source(conn: Connection, name: str) -> bool:
    """Return whether any airfield of the store has `name` among its sources."""
    return (
        conn.execute(select(airfields.c.id).where(airfields.c.source.contains(name)).limit(1)).first() is not None
    )


def airfield(conn: Connection, airfield_id: str) -> Airfield | None:
    """Return the airfield of this identifier with its runways; ``None`` if the store has none."""
    return airfields_by_id(conn, [airfield_id]).get(airfield_id)


def airfields_by_id(conn: Connection, ids: Collection[str]) -> dict[str, Airfield]:
    """Return the airfields of these identifiers with their runways; those that the store lacks are left out."""
    found: dict[str, Airfield] = {}
    for some in in_parts(ids):
        strips = conn.execute(
            select(runways)
            .where(runways.c.airfield_id.in_(some))
            .order_by(runways.c.airfield_id, runways.c.ordinal)
        )
        of_field = {
            key: tuple(map(runway_of, same)) for key, same in groupby(strips, key=lambda row: row.airfield_id)
        }
        rows = conn.execute(select(airfields).where(airfields.c.id.in_(some))).mappings()
        found |= {row["id"]: airfield_of(row, of_field.get(row["id"], ())) for row in rows}
    return found


def station(conn: Connection, station_id: str) -> Station | None:
    """Return the station of this identifier; ``None`` if the store has none."""
    row = conn.execute(select(stations).where(stations.c.id == station_id)).mappings().first()
    return _station(row) if row else None


def all_stations(conn: Connection) -> tuple[Station, ...]:
    """Return every station that the store has, by identifier."""
    rows = conn.execute(select(stations)).mappings()
    return tuple(sorted(map(_station, rows), key=lambda place: place.id))


def stations_within(conn: Connection, lat_deg: float, lon_deg: float, radius_nm: float) -> tuple[Station, ...]:
    """Return the stations in an area that holds the whole circle: a few more than lie within it, none fewer."""
    rows = conn.execute(select(stations).where(near(conn, stations, lat_deg, lon_deg, radius_nm))).mappings()
    return tuple(sorted(map(_station, rows), key=lambda place: place.id))


def _refill(conn: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    conn.execute(delete(table))
    insert_rows(conn, table, rows)
    refill_tree(conn, table, [(row["id"], row["lat_deg"], row["lon_deg"]) for row in rows])
    data_changed(conn)


def _code_rows(ids: Collection[str], codes: Mapping[str, Sequence[str]]) -> list[dict[str, Any]]:
    return [
        {"airfield_id": id_, "rank": rank, "code": code}
        for id_, of_field in codes.items()
        if id_ in ids
        for rank, code in enumerate(dict.fromkeys(of_field))
    ]


def note_import(conn: Connection, what: str, source: str, imported_at: datetime, counts: Mapping[str, int]) -> None:
    """Note what was imported when, from where, and how many."""
    text = json.dumps(counts, ensure_ascii=False)
    conn.execute(insert(imports).values(what=what, source=source, imported_at=imported_at, counts=text))


def _station_row(place: Station, listed_elevation_ft: float | None) -> dict[str, Any]:
    values = {name: getattr(place, name) for name in Station.__slots__}
    return values | {"listed_elevation_ft": listed_elevation_ft}


def _station(row: RowMapping) -> Station:
    return Station(**{name: row[name] for name in Station.__slots__})
