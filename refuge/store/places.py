"""Stations and airfields: written as a whole, read by identifier or around a position."""

import json
import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

import numpy as np
import numpy.typing as npt
from sqlalchemy import ColumnElement, Connection, Engine, Table, delete, insert, or_, select, true
from sqlalchemy.engine import RowMapping

from refuge.airfield import Airfield, Runway, Station
from refuge.store.engine import writing
from refuge.store.schema import airfields, imports, runways, stations

_NM_PER_DEG = 59.7
"""Fewest nautical miles in one degree of latitude on WGS84 (110.574 km at the equator): no box is too small."""


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
) -> int:
    """Put these airfields in place of all that the store has; return how many. One transaction."""
    rows, strips = [], []
    for field in fields:
        rows.append(_airfield_row(field))
        strips += [_runway_row(field.id, i, runway) for i, runway in enumerate(field.runways or ())]
    with writing(engine) as conn:
        conn.execute(delete(runways))
        _refill(conn, airfields, rows)
        if strips:
            conn.execute(insert(runways), strips)
        _note_import(conn, "airfields", source, imported_at, {"airfields": len(rows)} | dict(counts or {}))
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
        _note_import(conn, "stations", source, imported_at, {"stations": len(rows)} | dict(counts or {}))
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
        _note_import(conn, "stations", source, imported_at, {"stations": len(rows)} | dict(counts or {}))
    return len(rows)


def airfields_within(conn: Connection, lat_deg: float, lon_deg: float, radius_nm: float) -> AirfieldColumns:
    """Return the airfields in a box that holds the whole circle: a few more than lie within it, none fewer."""
    a = airfields.c
    rows = conn.execute(
        select(a.id, a.name, a.lat_deg, a.lon_deg, a.elevation_ft, a.station_id).where(
            _box(airfields, lat_deg, lon_deg, radius_nm)
        )
    ).all()
    ids, names, lats, lons, elevations, station_ids = zip(*rows, strict=True) if rows else ((),) * 6
    return AirfieldColumns(
        ids=ids,
        names=names,
        lat_deg=np.array(lats, dtype=np.float64),
        lon_deg=np.array(lons, dtype=np.float64),
        elevation_ft=np.array([0.0 if x is None else x for x in elevations], dtype=np.float64),
        elevation_known=np.array([x is not None for x in elevations], dtype=np.bool_),
        station_ids=station_ids,
    )


def has_airfields(conn: Connection) -> bool:
    """Return whether the store has any airfield at all."""
    return conn.execute(select(airfields.c.id).limit(1)).first() is not None


def airfield(conn: Connection, airfield_id: str) -> Airfield | None:
    """Return the airfield of this identifier with its runways; ``None`` if the store has none."""
    return airfields_by_id(conn, [airfield_id]).get(airfield_id)


def airfields_by_id(conn: Connection, ids: Collection[str]) -> dict[str, Airfield]:
    """Return the airfields of these identifiers with their runways; those that the store lacks are left out."""
    strips = conn.execute(
        select(runways)
        .where(runways.c.airfield_id.in_(list(ids)))
        .order_by(runways.c.airfield_id, runways.c.ordinal)
    )
    of_field = {key: tuple(map(_runway, same)) for key, same in groupby(strips, key=lambda row: row.airfield_id)}
    rows = conn.execute(select(airfields).where(airfields.c.id.in_(list(ids)))).mappings()
    return {row["id"]: _airfield(row, of_field.get(row["id"], ())) for row in rows}


def station(conn: Connection, station_id: str) -> Station | None:
    """Return the station of this identifier; ``None`` if the store has none."""
    row = conn.execute(select(stations).where(stations.c.id == station_id)).mappings().first()
    return _station(row) if row else None


def all_stations(conn: Connection) -> tuple[Station, ...]:
    """Return every station that the store has, by identifier."""
    rows = conn.execute(select(stations).order_by(stations.c.id)).mappings()
    return tuple(map(_station, rows))


def stations_within(conn: Connection, lat_deg: float, lon_deg: float, radius_nm: float) -> tuple[Station, ...]:
    """Return the stations in a box that holds the whole circle: a few more than lie within it, none fewer."""
    rows = conn.execute(select(stations).where(_box(stations, lat_deg, lon_deg, radius_nm))).mappings()
    return tuple(map(_station, rows))


def _box(table: Table, lat_deg: float, lon_deg: float, radius_nm: float) -> ColumnElement[bool]:
    """Return the condition "in the box", whole parallels near a pole, in two parts across the antimeridian."""
    reach_deg = radius_nm / _NM_PER_DEG
    south, north = lat_deg - reach_deg, lat_deg + reach_deg
    in_band = table.c.lat_deg.between(south, north)
    if south <= -90 or north >= 90 or reach_deg >= 90:
        return in_band
    # The meridians that touch a circle of angular radius r around latitude phi: sin(d) = sin(r) / cos(phi).
    ratio = math.sin(math.radians(reach_deg)) / math.cos(math.radians(lat_deg))
    if ratio >= 1:
        return in_band
    # The sphere's angle may be short of the ellipsoid's by its flattening, 1 in 298.
    half_deg = math.degrees(math.asin(ratio)) * 1.01
    west, east = lon_deg - half_deg, lon_deg + half_deg
    parts = [table.c.lon_deg.between(west + turn, east + turn) for turn in (-360, 0, 360)]
    return in_band & (or_(*parts) if half_deg < 180 else true())


def _refill(conn: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    conn.execute(delete(table))
    if rows:
        conn.execute(insert(table), rows)


def _note_import(
    conn: Connection, what: str, source: str, imported_at: datetime, counts: Mapping[str, int]
) -> None:
    text = json.dumps(counts, ensure_ascii=False)
    conn.execute(insert(imports).values(what=what, source=source, imported_at=imported_at, counts=text))


def _station_row(place: Station, listed_elevation_ft: float | None) -> dict[str, Any]:
    values = {name: getattr(place, name) for name in Station.__slots__}
    return values | {"listed_elevation_ft": listed_elevation_ft}


def _station(row: RowMapping) -> Station:
    return Station(**{name: row[name] for name in Station.__slots__})


def _airfield_row(field: Airfield) -> dict[str, Any]:
    row = {name: getattr(field, name) for name in airfields.c.keys() if name != "runways_known"}  # noqa: SIM118
    return row | {"runways_known": field.runways is not None}


def _airfield(row: RowMapping, strips: tuple[Runway, ...]) -> Airfield:
    values = {name: value for name, value in row.items() if name != "runways_known"}
    return Airfield(**values, runways=strips if row["runways_known"] else None)


def _runway_row(airfield_id: str, ordinal: int, runway: Runway) -> dict[str, Any]:
    values = {name: getattr(runway, name) for name in Runway.__slots__}
    return {"airfield_id": airfield_id, "ordinal": ordinal} | values


def _runway(row: Any) -> Runway:  # noqa: ANN401 - a row of a SELECT * has no narrower type
    return Runway(**{name: getattr(row, name) for name in Runway.__slots__})
