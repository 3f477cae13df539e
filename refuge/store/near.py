"""Places near a point, by the index that each database has: whole circles, a few more, none fewer.

What lies within the circle to the last place is for the caller to tell, by the geodesic.
"""

import math
from collections.abc import Sequence

from sqlalchemy import (
    ColumnElement,
    Connection,
    Table,
    column,
    false,
    func,
    literal_column,
    select,
    table,
    union_all,
)
from sqlalchemy.sql.selectable import TableClause

from refuge.store.bulk import in_parts
from refuge.store.engine import is_postgres
from refuge.units import M_PER_NM

_NM_PER_DEG = 59.7
"""Fewest nautical miles in one degree of latitude on WGS84 (110.574 km at the equator): no box is too small."""
_ON_A_SPHERE = 1.01
"""PostGIS's quick distance is that on a sphere, up to 0.6 per cent off (flattening 1 in 298, radius the mean)."""
_SPARE_M = 10.0


def near(conn: Connection, places: Table, lat_deg: float, lon_deg: float, radius_nm: float) -> ColumnElement[bool]:
    """Return the condition that a place is in an area that holds the whole circle."""
    if is_postgres(conn.dialect.name):
        centre = func.ST_MakePoint(lon_deg, lat_deg).op("::")(literal_column("geography"))
        reach_m = radius_nm * M_PER_NM * _ON_A_SPHERE + _SPARE_M
        return func.ST_DWithin(literal_column(f"{places.name}.geog"), centre, reach_m, false())
    tree = _tree(places).c
    south, north, spans = _box(lat_deg, lon_deg, radius_nm)
    in_band = (tree.north_deg >= south) & (tree.south_deg <= north)
    parts = (select(tree.place_id).where(in_band, tree.east_deg >= w, tree.west_deg <= e) for w, e in spans)
    return places.c.id.in_(union_all(*parts))


def refill_tree(conn: Connection, places: Table, rows: Sequence[tuple[str, float, float]]) -> None:
    """Put these places (identifier, latitude, longitude) in place of all in SQLite's tree; PostgreSQL needs none.

    The tree rounds outwards to 32 bits: what it finds is never too little.
    """
    if is_postgres(conn.dialect.name):
        return
    tree = _tree(places)
    conn.execute(tree.delete())
    for some in in_parts(rows):
        conn.execute(
            tree.insert(),
            [
                {"place_id": id_, "south_deg": lat, "north_deg": lat, "west_deg": lon, "east_deg": lon}
                for id_, lat, lon in some
            ],
        )


def _tree(places: Table) -> TableClause:
    names = ("south_deg", "north_deg", "west_deg", "east_deg", "place_id")
    return table(f"{places.name}_near", *(column(name) for name in names))


def _box(lat_deg: float, lon_deg: float, radius_nm: float) -> tuple[float, float, list[tuple[float, float]]]:
    """Return south, north, and (west, east) of the parts: one, two across the antimeridian, all near a pole."""
    reach_deg = radius_nm / _NM_PER_DEG
    south, north = lat_deg - reach_deg, lat_deg + reach_deg
    everywhere = [(-180.0, 180.0)]
    if south <= -90 or north >= 90 or reach_deg >= 90:
        return south, north, everywhere
    # The meridians that touch a circle of angular radius r around latitude phi: sin(d) = sin(r) / cos(phi).
    ratio = math.sin(math.radians(reach_deg)) / math.cos(math.radians(lat_deg))
    if ratio >= 1:
        return south, north, everywhere
    # The sphere's angle may be short of the ellipsoid's by its flattening, 1 in 298.
    half_deg = math.degrees(math.asin(ratio)) * 1.01
    if half_deg >= 180:
        return south, north, everywhere
    parts = [(lon_deg - half_deg + turn, lon_deg + half_deg + turn) for turn in (-360, 0, 360)]
    return south, north, [(w, e) for w, e in parts if w <= 180 and e >= -180]
