import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from refuge.earth import (
    Box,
    Position,
    along,
    box_around,
    courses_deg_true,
    distances_nm,
    parse_position,
    track_and_distance,
)
from refuge.errors import InputError
from tests.core.reference import rows

GEOD = Geod(ellps="WGS84")
lats = st.floats(-90, 90)
lons = st.floats(-180, 180)
places = st.builds(lambda lat, lon: Position(lat_deg=lat, lon_deg=lon), lats, lons)
METRE_NM = 1 / 1852


@pytest.mark.parametrize("row", rows("places"), ids=lambda row: row["text"])
def test_places(row: dict[str, str]) -> None:
    place = parse_position(f" {row['text']} ")
    assert place is not None
    assert place.lat_deg == pytest.approx(float(row["lat_deg"]), abs=1e-9)
    assert place.lon_deg == pytest.approx(float(row["lon_deg"]), abs=1e-9)


@pytest.mark.parametrize("text", ["KXYZ", "XB03", "", "33.9", "33.9S", "33.9,", "1,2,3", "33.9E,151.2S", "nan,inf"])
def test_what_has_not_the_form_of_a_position_is_none(text: str) -> None:
    assert parse_position(text) is None


@pytest.mark.parametrize(
    "text", ["91,0", "-90.1,0", "0,180.1", "0,-181", "91N,0E", "33 60.0 S 151 12.0 E", "33.9 54.0 S 151 12.0 E"]
)
def test_what_has_the_form_but_is_no_place_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_position(text)


@given(places)
def test_a_position_survives_its_own_text(place: Position) -> None:
    read = parse_position(f"{place.lat_deg:.6f},{place.lon_deg:.6f}")
    assert read is not None
    assert read.lat_deg == pytest.approx(place.lat_deg, abs=1e-6)
    assert read.lon_deg == pytest.approx(place.lon_deg, abs=1e-6)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 90.0001])
def test_no_position_outside_the_earth(value: float) -> None:
    with pytest.raises(InputError):
        Position(lat_deg=value, lon_deg=0.0)


def holds(box: Box, lat_deg: float, lon_deg: float) -> bool:
    if box.lon_west_deg <= box.lon_east_deg:
        across = box.lon_west_deg <= lon_deg <= box.lon_east_deg
    else:
        across = lon_deg >= box.lon_west_deg or lon_deg <= box.lon_east_deg
    return box.lat_south_deg <= lat_deg <= box.lat_north_deg and across


centres = st.one_of(
    places,
    st.builds(
        lambda lat, lon: Position(lat_deg=lat, lon_deg=lon),
        st.sampled_from((-90.0, -89.5, 0.0, 60.0, 75.0, 85.0, 88.0, 89.99, 90.0)),
        st.sampled_from((-180.0, -179.9, 0.0, 179.9, 180.0)),
    ),
)


@given(centres, st.floats(0.001, 900), st.floats(0, 360), st.floats(0, 1))
def test_a_box_holds_every_point_within_its_radius(
    centre: Position, radius_nm: float, bearing_deg: float, share: float
) -> None:
    lon, lat, _ = GEOD.fwd(centre.lon_deg, centre.lat_deg, bearing_deg, share * radius_nm * 1852)
    assert holds(box_around(centre, radius_nm), lat, lon)


def test_a_box_is_a_filter_and_not_the_whole_earth() -> None:
    box = box_around(Position(lat_deg=40.0, lon_deg=179.9), 60.0)
    assert (box.lat_south_deg, box.lat_north_deg) == pytest.approx((39.0, 41.0), abs=0.02)
    assert box.lon_west_deg == pytest.approx(178.6, abs=0.05)
    assert box.lon_east_deg == pytest.approx(-178.8, abs=0.05)


@given(places, st.lists(st.tuples(lats, lons), max_size=4))
def test_tracks_and_distances_are_the_geodesics(start: Position, ends: list[tuple[float, float]]) -> None:
    lat, lon = np.array([e[0] for e in ends]), np.array([e[1] for e in ends])
    track, distance = track_and_distance(start, lat, lon)
    assert track.shape == distance.shape == lat.shape
    assert ((track >= 0) & (track < 360)).all()
    for i, (one_lat, one_lon) in enumerate(ends):
        _, _, metres = GEOD.inv(start.lon_deg, start.lat_deg, one_lon, one_lat)
        assert distance[i] == pytest.approx(metres / 1852, abs=1e-6)
    here = np.full(lat.shape, start.lat_deg), np.full(lon.shape, start.lon_deg)
    assert distances_nm(*here, lat, lon) == pytest.approx(distance, abs=1e-9)
    assert (courses_deg_true(*here, lat, lon) == track).all()


@given(places, st.floats(0, 360), st.floats(0.1, 5000))
def test_there_and_back_is_the_same_distance(start: Position, track_deg: float, distance_nm: float) -> None:
    lat, lon = along(start, np.array([track_deg]), np.array([distance_nm]))
    _, back = track_and_distance(start, lat, lon)
    assert back[0] == pytest.approx(distance_nm, abs=METRE_NM)


def test_no_point_at_all() -> None:
    track, distance = track_and_distance(Position(lat_deg=0.0, lon_deg=0.0), [], [])
    assert track.size == distance.size == 0


def test_a_course_a_hair_west_of_north_is_north_and_not_360() -> None:
    track, _ = track_and_distance(Position(lat_deg=0.0, lon_deg=0.0), [10.0], [-1e-15])
    assert 0.0 <= track[0] < 360.0
    assert track[0] == pytest.approx(0.0, abs=1e-9) or track[0] == pytest.approx(360.0, abs=1e-9)
