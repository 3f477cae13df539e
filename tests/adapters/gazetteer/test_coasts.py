"""The map that the wheel carries: what is shipped, what it must hold, and files that are none."""

import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from refuge.coast import Coast
from refuge.errors import InputError
from refuge.files.places import load_places
from refuge.gazetteer.coasts import invented_coast, load_geojson, load_topology, world_coast
from refuge.packaged import packaged


def test_the_file_is_the_one_that_its_sources_name() -> None:
    text = (packaged("map") / "SOURCES.md").read_text(encoding="utf-8")
    digest = hashlib.sha256((packaged("map") / "countries-50m.json").read_bytes()).hexdigest()
    assert f"SHA-256 `{digest}`" in text
    assert "Permission to use, copy, modify" in (packaged("map") / "LICENSE-world-atlas").read_text(
        encoding="utf-8"
    )


def on_land(coast: Coast, lat_deg: float, lon_deg: float) -> bool:
    """Return whether a point lies on land, seen on a flat map that is cut opposite to it.

    Not for places opposite to which a continent lies: it would be cut.
    """
    for outer, *holes in coast.land:
        (west, south), (east, north) = (edge(_about(outer, lon_deg), axis=0) for edge in (np.min, np.max))
        if west <= 0.0 <= east and south <= lat_deg <= north and east - west < 300.0:
            shape = Polygon(_about(outer, lon_deg), [_about(hole, lon_deg) for hole in holes])
            if shape.buffer(0).contains(Point(0.0, lat_deg)):
                return True
    return False


def _about(ring: np.ndarray, lon_deg: float) -> np.ndarray:
    return np.column_stack(((ring[:, 0] - lon_deg + 180.0) % 360.0 - 180.0, ring[:, 1]))


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "land"),
    [
        (39.7, -105.0, True),  # Denver
        (51.477, 0.0, True),  # the meridian of Greenwich, in London
        (-25.345, 131.036, True),  # Uluru, in the middle of Australia
        (64.1, -19.0, True),  # the middle of Iceland
        (0.0, 25.0, True),  # the basin of the Congo, under the equator
        (71.2, 180.0, True),  # Wrangel Island, over 180 degrees
        (40.0, -40.0, False),  # the North Atlantic
        (0.0, -160.0, False),  # the Pacific
        (57.0, 3.0, False),  # the North Sea
        (42.0, 50.5, False),  # the Caspian Sea, a hole in the land
        (44.0, -38.0, False),  # where the demo's country is invented
        (-45.0, 179.9, False),  # the Pacific, at 180 degrees
    ],
)
def test_land_and_sea_where_they_are(lat_deg: float, lon_deg: float, land: bool) -> None:
    """Common knowledge, no source: any atlas shows it, and none of them lies close to a coast."""
    assert on_land(world_coast(), lat_deg, lon_deg) is land


def test_borders_where_they_are() -> None:
    """The 49th parallel from the Rockies to Lake of the Woods (Treaty of 1818, Convention of 1846), and no more."""
    borders = np.concatenate([line for line in world_coast().borders if (line[:, 0] > -125.0).all()])
    along = borders[
        (borders[:, 0] > -122.0) & (borders[:, 0] < -96.0) & (borders[:, 1] > 47.0) & (borders[:, 1] < 51)
    ]
    assert len(along) > 1
    assert along[:, 1] == pytest.approx(49.0, abs=0.1)


def test_nothing_is_drawn_along_the_edges_of_a_flat_map() -> None:
    coast = world_coast()
    for line in (*coast.coasts, *coast.borders):
        edge = (np.abs(line[:, 0]) == 180.0) | (line[:, 1] < -89.9)
        assert not (edge[:-1] & edge[1:]).any()
    assert all((ring[0] == ring[-1]).all() for rings in coast.land for ring in rings)


def test_the_invented_country_holds_all_its_places_and_lies_in_empty_sea() -> None:
    invented = load_geojson(packaged("demo") / "coast.geojson", said="invented")
    places, stations = load_places(packaged("demo") / "places.toml")
    mainland = Polygon(invented.land[0][0])
    where = [(p.id, p.lon_deg, p.lat_deg) for p in places] + [(s.id, s.lon_deg, s.lat_deg) for s in stations]
    for name, lon_deg, lat_deg in where:
        assert mainland.contains(Point(lon_deg, lat_deg)), name
    for rings in invented.land:
        assert Polygon(rings[0]).is_valid
        assert not any(on_land(world_coast(), lat, lon) for lon, lat in rings[0][::20])
    (border,) = invented.borders
    assert mainland.buffer(0.01).contains(LineString(border))
    assert invented_coast().said.startswith("coast and border of Velmark: invented")
    assert len(invented_coast().land) == len(invented.land) + len(world_coast().land)


SQUARES: dict[str, Any] = {
    "type": "Topology",
    "transform": {"scale": [1.0, 1.0], "translate": [10.0, 50.0]},
    "objects": {
        "land": {
            "type": "GeometryCollection", "geometries": [{"type": "MultiPolygon", "arcs": [[[0, 2]]]}]
        },
        "countries": {
            "type": "GeometryCollection",
            "geometries": [{"type": "Polygon", "arcs": [[0, 1]]}, {"type": "Polygon", "arcs": [[-2, 2]]}],
        },
    },
    "arcs": [[[1, 0], [-1, 0], [0, 1], [1, 0]], [[1, 1], [0, -1]], [[1, 1], [1, 0], [0, -1], [-1, 0]]],
}  # fmt: skip
"""Two squares side by side, by hand: the middle line is shared, the rest is coast."""


def written(folder: Path, text: str) -> Path:
    path = folder / "map.json"
    path.write_text(text, encoding="utf-8")
    return path


def test_arcs_are_put_together(tmp_path: Path) -> None:
    found = load_topology(written(tmp_path, json.dumps(SQUARES)), said="squares")
    assert [line.tolist() for line in found.borders] == [[[11.0, 51.0], [11.0, 50.0]]]
    assert len(found.coasts) == 2
    ((outer,),) = found.land
    assert Polygon(outer).equals(Polygon([(10, 50), (12, 50), (12, 51), (10, 51)]))


@pytest.mark.parametrize(
    "text", ["", "{}", "[1]", json.dumps(SQUARES | {"arcs": [[[1, 0]]]}), json.dumps(SQUARES | {"arcs": "none"})]
)
def test_what_is_no_map_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError, match="no map"):
        load_topology(written(tmp_path, text), said="")


@pytest.mark.parametrize(
    "geometry", [{"type": "Point", "coordinates": [1, 2]}, {"type": "LineString", "coordinates": [1, 2]}, None]
)
def test_what_is_no_coast_is_refused(tmp_path: Path, geometry: Any) -> None:
    feature = {"type": "Feature", "geometry": geometry, "properties": {}}
    text = json.dumps({"type": "FeatureCollection", "features": [feature]})
    with pytest.raises(InputError, match="no map"):
        load_geojson(written(tmp_path, text), said="")
