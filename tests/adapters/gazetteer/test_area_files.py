"""Areas from GeoJSON and GeoPackage files. Shapes are made up."""

import json
from pathlib import Path

import geopandas
import pytest
import shapely

from refuge.errors import InputError
from refuge.gazetteer.area_files import read_areas

SQUARE = [[[1.0, 50.0], [2.0, 50.0], [2.0, 51.0], [1.0, 51.0], [1.0, 50.0]]]
ACROSS = [[[179.0, 50.0], [-179.0, 50.0], [-179.0, 51.0], [179.0, 51.0], [179.0, 50.0]]]


def written(folder: Path, *features: tuple[dict[str, object], object], kind: str = "Polygon") -> Path:
    path = folder / "areas.geojson"
    body = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": shape}}
            for properties, shape in features
        ],
    }
    path.write_text(json.dumps(body), encoding="utf-8")
    return path


def test_kinds_names_and_what_is_left_out(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        ({"name": "P-1", "kind": "prohibited"}, SQUARE),
        ({"name": "R-2", "kind": "Restricted"}, SQUARE),
        ({"name": "D-3", "kind": "DANGER"}, SQUARE),
        ({"name": "M", "kind": "MOA"}, SQUARE),
        ({"name": None, "kind": "adiz"}, SQUARE),
    )
    areas, report = read_areas(path)
    assert [(area.name, area.kind) for area in areas] == [
        ("P-1", "prohibited"),
        ("R-2", "restricted"),
        ("D-3", "restricted"),
        ("area 5", "adiz"),
    ]
    assert report.count("dropped", "kind of area that is not looked at") == 1
    assert {area.source for area in areas} == {"areas.geojson"}


def test_a_geopackage_in_another_system_comes_to_degrees(tmp_path: Path) -> None:
    frame = geopandas.GeoDataFrame(
        {"TYPE_CODE": ["P"], "NAME": ["P-9"]}, geometry=[shapely.box(1, 50, 2, 51)], crs=4326
    )
    path = tmp_path / "areas.gpkg"
    frame.to_crs(3857).to_file(path, driver="GPKG")
    ((area,), _) = read_areas(path)
    assert (area.name, area.kind) == ("P-9", "prohibited")
    assert shapely.bounds(area.shape).tolist() == pytest.approx([1, 50, 2, 51], abs=1e-6)


def test_a_ring_across_the_180th_meridian_is_drawn_on(tmp_path: Path) -> None:
    ((area,), _) = read_areas(written(tmp_path, ({"kind": "p"}, ACROSS)))
    assert shapely.bounds(area.shape).tolist() == pytest.approx([179, 50, 181, 51])


def test_a_kind_for_the_whole_file_and_none_at_all(tmp_path: Path) -> None:
    path = written(tmp_path, ({"name": "Z"}, SQUARE))
    ((area,), _) = read_areas(path, kind="adiz")
    assert area.kind == "adiz"
    with pytest.raises(InputError, match="no column says what kind"):
        read_areas(path)


def test_lines_and_places_off_the_earth_are_left_out(tmp_path: Path) -> None:
    _, report = read_areas(written(tmp_path, ({"kind": "p"}, SQUARE[0]), kind="LineString"))
    assert report.count("dropped", "no polygon in degrees") == 1
    far = [[[x * 1000, y * 1000] for x, y in SQUARE[0]]]
    _, report = read_areas(written(tmp_path, ({"kind": "p"}, far)))
    assert report.count("dropped", "no polygon in degrees") == 1


def test_what_is_no_file_of_areas(tmp_path: Path) -> None:
    path = tmp_path / "areas.geojson"
    path.write_text("no json", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be read as areas"):
        read_areas(path)


def test_a_table_without_shapes_is_no_file_of_areas(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    path.write_text("flight,from,to,kind\nA1,XTES,XLUM,p\n", encoding="utf-8")
    with pytest.raises(InputError, match="is a table without shapes"):
        read_areas(path, kind="prohibited")
