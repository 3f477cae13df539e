"""Stations and airfields: kept whole, found around a position, poles and antimeridian included."""

from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from pyproj import Geod
from sqlalchemy import Engine

from refuge.airfield import Airfield, Runway, Station
from refuge.store.engine import reading, writing
from refuge.store.opening import opened_store
from refuge.store.places import (
    airfield,
    airfields_within,
    refresh_stations,
    replace_airfields,
    replace_stations,
    station,
    stations_within,
)
from refuge.store.raws import last_imports

NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)
WGS84 = Geod(ellps="WGS84")
M_PER_NM = 1852.0


def field(name: str, lat_deg: float, lon_deg: float, **more: object) -> Airfield:
    values: dict[str, object] = {"elevation_ft": None, "country": "XX", "source": "invented"}
    return Airfield(id=name, name=name, lat_deg=lat_deg, lon_deg=lon_deg, **(values | more))  # type: ignore[arg-type]


def place(name: str, *, lat_deg: float = 1.0, lon_deg: float = 2.0, elevation_ft: float | None = 100.0) -> Station:
    return Station(
        id=name,
        name=name,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        elevation_ft=elevation_ft,
        country="XX",
        reports=True,
        forecasts=False,
    )


FULL = field(
    "XF01",
    1.5,
    -2.5,
    elevation_ft=-12.5,
    station_id="XABC",
    lights="dusk_to_dawn",
    private=False,
    runways=(
        Runway(idents="09/27", length_ft=2500, width_ft=75, surface="hard", surface_text="ASPH", lighted=True),
        Runway(idents="18/36", length_ft=None, closed=True, heading_deg_true=181.5),
    ),
)


@pytest.mark.parametrize(
    "kept",
    [FULL, field("XF02", 0.0, 0.0, runways=()), field("XF03", 0.0, 0.0, runways=None, private=True)],
    ids=["all", "no runways", "runways unknown"],
)
def test_an_airfield_comes_back_as_it_went_in(engine: Engine, kept: Airfield) -> None:
    assert replace_airfields(engine, [kept], source="invented", imported_at=NOW) == 1
    with reading(engine) as conn:
        assert airfield(conn, kept.id) == kept
        assert airfield(conn, "XNON") is None


def test_an_import_takes_the_place_of_the_last_and_is_noted(engine: Engine) -> None:
    replace_airfields(engine, [FULL], source="one", imported_at=NOW)
    replace_airfields(engine, [field("XF04", 0, 0)], source="two", imported_at=NOW, counts={"dropped": 3})
    with reading(engine) as conn:
        assert airfields_within(conn, 0, 0, 200).ids == ("XF04",)
        (noted,) = last_imports(conn)
    assert (noted.what, noted.source, noted.imported_at) == ("airfields", "two", NOW)
    assert noted.counts == '{"airfields": 1, "dropped": 3}'


def test_columns_tell_an_unknown_elevation_from_zero(engine: Engine) -> None:
    replace_airfields(
        engine, [field("XF05", 0, 0), field("XF06", 0, 0, elevation_ft=0.0)], source="x", imported_at=NOW
    )
    with reading(engine) as conn:
        found = airfields_within(conn, 0, 0, 10)
    known = dict(zip(found.ids, found.elevation_known.tolist(), strict=True))
    assert known == {"XF05": False, "XF06": True}


def test_nothing_around(engine: Engine) -> None:
    with reading(engine) as conn:
        assert airfields_within(conn, 0, 0, 150).ids == ()
        assert airfields_within(conn, 0, 0, 150).lat_deg.shape == (0,)


CIRCLES = st.tuples(
    st.floats(-90, 90, allow_nan=False),
    st.floats(-180, 180, allow_nan=False),
    st.floats(0.1, 3000, allow_nan=False),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150)
@given(circle=CIRCLES, bearing_deg=st.floats(0, 360), share=st.floats(0, 1))
@example(circle=(89.9, 10.0, 150.0), bearing_deg=0.0, share=1.0)
@example(circle=(-89.9, 10.0, 150.0), bearing_deg=180.0, share=1.0)
@example(circle=(0.0, 179.9, 150.0), bearing_deg=90.0, share=1.0)
@example(circle=(60.0, -179.9, 150.0), bearing_deg=270.0, share=1.0)
@example(circle=(80.0, 0.0, 590.0), bearing_deg=90.0, share=1.0)
def test_the_box_leaves_out_nothing_within_the_circle(
    circle: tuple[float, float, float], bearing_deg: float, share: float
) -> None:
    # oracle: the geodesic on WGS84 (pyproj); the box is arithmetic on degrees
    lat_deg, lon_deg, radius_nm = circle
    lon, lat, _ = WGS84.fwd(lon_deg, lat_deg, bearing_deg, radius_nm * share * M_PER_NM)
    with opened_store(":memory:") as engine:
        replace_stations(engine, [place("XABC", lat_deg=lat, lon_deg=lon)], source="x", imported_at=NOW)
        with reading(engine) as conn:
            assert len(stations_within(conn, lat_deg, lon_deg, radius_nm)) == 1


def test_the_box_leaves_out_what_is_far(engine: Engine) -> None:
    far = [
        place("XAAA", lat_deg=5, lon_deg=0),
        place("XBBB", lat_deg=0, lon_deg=5),
        place("XCCC", lat_deg=0, lon_deg=180),
    ]
    replace_stations(engine, far, source="x", imported_at=NOW)
    with reading(engine) as conn:
        assert stations_within(conn, 0, 0, 150) == ()


def test_a_station_comes_back_as_it_went_in(engine: Engine) -> None:
    replace_stations(engine, [place("XABC", elevation_ft=None)], source="x", imported_at=NOW)
    with reading(engine) as conn:
        assert station(conn, "XABC") == place("XABC", elevation_ft=None)
        assert station(conn, "XNON") is None


def test_a_mended_elevation_outlives_the_next_list_while_the_list_says_the_same(engine: Engine) -> None:
    listed, mended = place("XABC", elevation_ft=26000.0), place("XABC", elevation_ft=7924.8)
    refresh_stations(engine, [listed], source="list", imported_at=NOW)
    replace_stations(engine, [mended], source="airfields", imported_at=NOW)
    refresh_stations(engine, [listed], source="list", imported_at=NOW)
    with reading(engine) as conn:
        assert station(conn, "XABC") == mended
    changed = place("XABC", elevation_ft=7900.0)
    refresh_stations(engine, [changed], source="list", imported_at=NOW)
    with reading(engine) as conn:
        assert station(conn, "XABC") == changed


def test_a_list_drops_the_stations_that_it_no_longer_has(engine: Engine) -> None:
    refresh_stations(engine, [place("XABC"), place("XDEF")], source="list", imported_at=NOW)
    refresh_stations(engine, [place("XDEF")], source="list", imported_at=NOW)
    with reading(engine) as conn:
        assert station(conn, "XABC") is None


def test_documents_are_kept_by_kind_and_identifier(engine: Engine) -> None:
    from refuge.store.documents import document, put_document

    with writing(engine) as conn:
        put_document(conn, "aircraft", "trainer", "one", stored_at=NOW)
        put_document(conn, "aircraft", "trainer", "two", stored_at=NOW)
        assert document(conn, "aircraft", "trainer") == "two"
        assert document(conn, "minimums", "trainer") is None
