"""What the store keeps of lights, towers, runway ends and areas comes back as it was."""

from datetime import UTC, datetime, time

import pytest
import shapely
from sqlalchemy import Engine

from refuge.airfield import ALL_HOURS, Airfield, Hours, LightDetail, Runway, RunwayEnd, Tower
from refuge.earth import Position
from refuge.flight.areas import Area
from refuge.store.areas import areas_within, replace_areas
from refuge.store.engine import reading
from refuge.store.places import airfield, replace_airfields

NOW = datetime(2026, 3, 10, 12, tzinfo=UTC)
FIELD = Airfield(
    id="XAAA", name="Made up", lat_deg=44.0, lon_deg=-38.0, elevation_ft=100.0, country="X", lights="until",
    lights_detail=LightDetail(until_local=time(23, 30), after="radio", beacon=True, text="DUSK-2330", source="one"),
    tower=Tower(text="?", hours=(Hours(days=(0, 4), opens_min=360, closes_min=1320), ALL_HOURS), source="two"),
    time_zone="Etc/GMT+2", class_b=True, private=False, source="three",
    runways=(
        Runway(
            idents="09/27", length_ft=3000, surface="hard", lighted=True, heading_deg_true=90.0, source="four",
            ends=(
                RunwayEnd(ident="09", heading_deg_true=90.0, landing_ft=2400, right_traffic=True),
                RunwayEnd(ident="27", heading_deg_true=None),
            ),
        ),
    ),
)  # fmt: skip


def area(name: str, shape: shapely.Geometry) -> Area:
    return Area(name=name, kind="prohibited", shape=shape, source="a.geojson")


def test_an_airfield_comes_back_whole(engine: Engine) -> None:
    vague = Airfield(
        id="XBBB",
        name="",
        lat_deg=0.0,
        lon_deg=0.0,
        elevation_ft=None,
        country="",
        tower=Tower(text="?", hours=None),
    )
    replace_airfields(engine, [FIELD, vague], source="test", imported_at=NOW)
    with reading(engine) as conn:
        assert airfield(conn, "XAAA") == FIELD
        assert airfield(conn, "XBBB") == vague


@pytest.mark.parametrize(
    ("lat", "lon", "expected"),
    [
        (44.0, -38.0, ["near"]),
        (44.0, -30.0, []),
        (-16.0, 179.5, ["past 180"]),
        (-16.0, -179.5, ["past 180"]),
        (-16.0, 175.0, []),
    ],
)
def test_areas_around_a_place(engine: Engine, lat: float, lon: float, expected: list[str]) -> None:
    found = [
        area("near", shapely.box(-38.5, 43.5, -37.5, 44.5)),
        area("past 180", shapely.box(179.9, -16.5, 180.4, -15.5)),
    ]
    assert replace_areas(engine, found, source="a.geojson", imported_at=NOW) == 2
    with reading(engine) as conn:
        near = areas_within(conn, Position(lat_deg=lat, lon_deg=lon), 60.0)
    assert [one.name for one in near] == expected
    assert all(shapely.equals(one.shape, {a.name: a for a in found}[one.name].shape) for one in near)


def test_a_file_replaces_what_it_brought_before_and_nothing_else(engine: Engine) -> None:
    here = Position(lat_deg=44.0, lon_deg=-38.0)
    square = shapely.box(-38.5, 43.5, -37.5, 44.5)
    replace_areas(engine, [area("one", square)], source="a", imported_at=NOW)
    replace_areas(engine, [area("two", square)], source="b", imported_at=NOW)
    replace_areas(engine, [area("three", square)], source="a", imported_at=NOW)
    with reading(engine) as conn:
        assert sorted(one.name for one in areas_within(conn, here, 10.0)) == ["three", "two"]
