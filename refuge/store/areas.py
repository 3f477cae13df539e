"""Areas of airspace: replaced source by source, read around a position."""

from collections.abc import Sequence
from datetime import datetime

import numpy as np
import numpy.typing as npt
import shapely
from sqlalchemy import Connection, Engine, delete, or_, select

from refuge.earth import Position, box_around
from refuge.flight.areas import Area
from refuge.store.bulk import insert_rows
from refuge.store.engine import writing
from refuge.store.places import note_import
from refuge.store.schema import areas
from refuge.store.version import data_changed


def replace_areas(engine: Engine, found: Sequence[Area], *, source: str, imported_at: datetime) -> int:
    """Put these areas in place of all that the store has from `source`; return how many. One transaction."""
    rows = []
    for area in found:
        west, south, east, north = map(float, shapely.bounds(area.shape))
        rows.append(
            {
                "name": area.name, "kind": area.kind, "source": source, "west_deg": west, "south_deg": south,
                "east_deg": east, "north_deg": north, "shape": shapely.to_wkb(area.shape),
            }
        )  # fmt: skip
    with writing(engine) as conn:
        conn.execute(delete(areas).where(areas.c.source == source))
        insert_rows(conn, areas, rows)
        note_import(conn, "areas", source, imported_at, {"areas": len(rows)})
        data_changed(conn)
    return len(rows)


def bounds_deg(found: Sequence[Area]) -> npt.NDArray[np.float64]:
    """Return west, south, east and north of each area, shape (n, 4), as they are searched by."""
    return np.array([shapely.bounds(area.shape) for area in found], dtype=np.float64).reshape(-1, 4)


def areas_within(conn: Connection, at: Position, radius_nm: float) -> tuple[Area, ...]:
    """Return the areas whose box touches one that holds the whole circle around a position."""
    box, c = box_around(at, radius_nm), areas.c
    west, east = box.lon_west_deg, box.lon_east_deg
    east += 360.0 if east < west else 0.0
    # Longitudes of shapes may pass 180 degrees, and so may the box: look one turn to either side.
    beside = or_(*((c.west_deg <= east + turn) & (c.east_deg >= west + turn) for turn in (-360.0, 0.0, 360.0)))
    rows = conn.execute(
        select(c.name, c.kind, c.source, c.shape)
        .where((c.south_deg <= box.lat_north_deg) & (c.north_deg >= box.lat_south_deg) & beside)
        .order_by(c.id)
    )
    return tuple(
        Area(name=row.name, kind=row.kind, source=row.source, shape=shapely.from_wkb(row.shape)) for row in rows
    )
