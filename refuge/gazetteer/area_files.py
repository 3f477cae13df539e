"""Areas of airspace from a GeoJSON or GeoPackage file: polygons with a name and a kind.

The kind comes from the first of the columns ``kind``, ``type``, ``TYPE_CODE``, ``CLASS`` and ``airspace_type``
that a file has, or is given for the whole file. Rings that jump from one side of the 180th meridian to the
other are drawn on past it.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pandas as pd
import shapely
from shapely import Geometry

from refuge.errors import InputError
from refuge.flight.areas import Area, AreaKind
from refuge.gazetteer.report import ImportReport, Tally

KIND_COLUMNS = ("kind", "type", "type_code", "class", "airspace_type")
_REMEDY = "give a GeoJSON or GeoPackage file of polygons"
NAME_COLUMNS = ("name", "ident", "designator", "id")
KINDS: dict[str, AreaKind] = {
    "prohibited": "prohibited", "p": "prohibited",
    "restricted": "restricted", "r": "restricted", "danger": "restricted", "d": "restricted",
    "warning": "restricted", "w": "restricted",
    "adiz": "adiz", "class_b": "class_b", "class b": "class_b", "b": "class_b",
}  # fmt: skip
"""Words of files to kinds; single letters as in the FAA's special use airspace (from memory)."""


def read_areas(path: Path, *, kind: AreaKind | None = None) -> tuple[tuple[Area, ...], ImportReport]:
    """Return the areas of a file and a report of what was left out.

    Raises
    ------
    InputError
        If the file cannot be read, has no kinds, or says that it is not in degrees and cannot be brought to them.
    """
    tally = Tally()
    frame = _frame(path)
    columns = {str(name).lower(): str(name) for name in frame.columns}
    kinds = [columns[name] for name in KIND_COLUMNS if name in columns]
    if kind is None and not kinds:
        raise InputError(
            "no column says what kind of area each is",
            where=str(path),
            remedy=f"name one {' or '.join(KIND_COLUMNS[:2])} with {', '.join(KINDS)}; or give --kind",
        )
    names = [columns[name] for name in NAME_COLUMNS if name in columns]
    areas = tuple(_areas(frame, kinds[:1], names[:1], given=kind, source=path.name, tally=tally))
    report = ImportReport(
        source=path.name,
        read=(("shapes", len(frame)),),
        kept=tuple((word, sum(a.kind == word for a in areas)) for word in dict.fromkeys(a.kind for a in areas)),
        findings=tally.findings(),
    )
    return areas, report


def _frame(path: Path) -> geopandas.GeoDataFrame:
    try:
        frame = geopandas.read_file(path)
        if not isinstance(frame, geopandas.GeoDataFrame):
            raise InputError("is a table without shapes", where=str(path), remedy=_REMEDY)
        # A file that names no system is taken to be in degrees, as GeoJSON must be (RFC 7946).
        return frame if frame.crs is None else frame.to_crs(4326)
    except (OSError, ValueError, RuntimeError) as exc:
        raise InputError(
            f"cannot be read as areas: {exc}",
            where=str(path),
            remedy=_REMEDY,
        ) from exc


def _areas(
    frame: geopandas.GeoDataFrame,
    kinds: list[str],
    names: list[str],
    *,
    given: AreaKind | None,
    source: str,
    tally: Tally,
) -> Iterator[Area]:
    for number, row in enumerate(frame.to_dict("records"), 1):
        name = _text(row, names) or f"area {number}"
        word = _text(row, kinds).lower()
        kind = given or KINDS.get(word)
        if kind is None:
            tally.add("dropped", "kind of area that is not looked at", [f"{name}: {word or 'none'}"])
            continue
        shape = _shape(row["geometry"])
        if shape is None:
            tally.add("dropped", "no polygon in degrees", [name])
            continue
        yield Area(name=name, kind=kind, shape=shape, source=source)


def _text(row: dict[Any, Any], columns: list[str]) -> str:
    value = row[columns[0]] if columns else None
    return "" if value is None or pd.isna(value) else str(value).strip()


def _shape(geometry: Geometry | None) -> Geometry | None:
    """Return the polygons of a geometry, drawn on across 180 degrees and mended; ``None`` if there are none."""
    if geometry is None or shapely.is_empty(geometry):
        return None
    parts = [_drawn_on(part) for part in shapely.get_parts(geometry) if shapely.get_type_id(part) == _POLYGON]
    if not parts:
        return None
    merged = shapely.make_valid(shapely.union_all(parts))
    west, south, east, north = map(float, shapely.bounds(merged))
    good = (
        np.isfinite([west, south, east, north]).all()
        and -90 <= south <= north <= 90
        and -360 <= west <= east <= 540
    )
    return merged if good else None


_POLYGON = 3
"""shapely.GeometryType.POLYGON."""


def _drawn_on(polygon: Geometry) -> Geometry:
    """Return a polygon whose ring, where two corners are over 180 degrees apart, goes on past the meridian."""
    corners = shapely.get_coordinates(shapely.get_exterior_ring(polygon))
    lon = np.degrees(np.unwrap(np.radians(corners[:, 0])))
    if np.allclose(lon, corners[:, 0]):
        return shapely.make_valid(polygon)
    # Holes of such a polygon are filled: never smaller than it is.
    return shapely.make_valid(shapely.Polygon(np.column_stack([lon, corners[:, 1]])))
