"""How circles divide, and where areas of good weather lie: against plain geometry."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point

from refuge.earth import Position
from refuge.flight.area import compass_point, good_areas, shares
from tests.core.flight import situations as s


def test_one_good_station_at_the_centre_holds_the_whole_circle() -> None:
    found = shares(15.0, np.array([0.0]), np.array([0.0]), np.array([True]))
    assert (found.good, found.other, found.untold) == (1.0, 0.0, 0.0)


def test_two_stations_halve_the_circle() -> None:
    """A good one north and a bad one south: the border is the perpendicular bisector (Euclid)."""
    found = shares(10.0, np.array([8.0, 8.0]), np.array([0.0, 180.0]), np.array([True, False]))
    assert found.good == pytest.approx(0.5, abs=0.01)
    assert found.other == pytest.approx(0.5, abs=0.01)


def test_beyond_twenty_miles_of_a_station_nothing_is_told() -> None:
    """A circle of 40 NM about a station: within 20 NM lies (20/40)^2 = a quarter."""
    found = shares(40.0, np.array([0.0]), np.array([0.0]), np.array([True]))
    assert found.good == pytest.approx(0.25, abs=0.01)
    assert found.untold == pytest.approx(0.75, abs=0.01)


def test_at_the_same_place_the_bad_one_counts() -> None:
    found = shares(5.0, np.zeros(2), np.zeros(2), np.array([True, False]))
    assert found.good == 0.0


def test_without_stations_nothing_is_told() -> None:
    assert shares(5.0, np.zeros(0), np.zeros(0), np.zeros(0, dtype=bool)).untold == 1.0


station_lists = st.lists(
    st.tuples(st.floats(0.0, 60.0), st.floats(0.0, 359.0), st.booleans()), min_size=1, max_size=8
)


@given(station_lists, st.floats(3.0, 40.0), st.integers(0, 7))
def test_a_station_that_turns_bad_adds_no_good(
    stations: list[tuple[float, float, bool]], radius: float, which: int
) -> None:
    nm, deg, good = (np.array(each) for each in zip(*stations, strict=True))
    worse = good.copy()
    worse[which % good.size] = False
    before, after = shares(radius, nm, deg, good), shares(radius, nm, deg, worse)
    assert after.good <= before.good
    assert before.good + before.other + before.untold == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("azimuth", "word"), [(0, "north"), (22.4, "north"), (22.6, "north-east"), (225, "south-west"), (359, "north")]
)
def test_directions(azimuth: float, word: str) -> None:
    """Eight points of the compass, 45 degrees each (common practice, no source)."""
    assert compass_point(azimuth) == word


def placed(centre: Position, *polar: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    points = [s.at(bearing, nm, centre) for bearing, nm in polar]
    return np.array([p.lat_deg for p in points]), np.array([p.lon_deg for p in points])


@pytest.mark.parametrize("lon", [-100.0, 179.9, -179.95])
def test_south_west_forty_miles_wide(lon: float) -> None:
    """One good station 60 NM to the south-west: its circle of 20 NM, from 40 NM on, 40 NM wide (plain geometry)."""
    centre = Position(lat_deg=40.0, lon_deg=lon)
    lat, lons = placed(centre, (225.0, 60.0))
    (found,) = good_areas(centre, lat, lons, np.array([True]), radius_nm=150.0)
    assert found.direction == "south-west"
    assert found.from_nm == pytest.approx(40.0, abs=0.2)
    assert 39.5 < found.width_nm <= 40.0
    assert found.stations == (0,)
    assert found.said == "south-west, from 41 NM on, 39 NM wide" or found.from_nm <= 40.0
    assert found.shape is not None
    west, south, east, north = found.shape.bounds
    assert -180.0 <= west < east <= 180.0
    assert south > 38.0
    assert north < 40.0
    # 20 NM of latitude are a third of a degree; across 180 degrees the pieces keep the area of the circle.
    flat = math.pi * (20.0 / 60.0) ** 2 / math.cos(math.radians(lat[0]))
    assert found.shape.area == pytest.approx(flat, rel=0.02)


def test_a_bad_station_takes_its_circle_out() -> None:
    centre = Position(lat_deg=40.0, lon_deg=-100.0)
    lat, lon = placed(centre, (90.0, 30.0), (90.0, 60.0), (90.0, 45.0))
    assert len(good_areas(centre, lat, lon, np.array([True, True, True]), radius_nm=150.0)) == 1
    found = good_areas(centre, lat, lon, np.array([True, True, False]), radius_nm=150.0)
    assert found
    for area in found:
        assert area.shape is not None
        assert not area.shape.contains(Point(lon[2], lat[2]))
        # Not within 20 NM of the bad station: 45 - 20 NM and 45 + 20 NM east of the centre.
        nm = s.apart_nm(area.centre.lat_deg, area.centre.lon_deg, float(lat[2]), float(lon[2]))
        assert nm > 20.0 + area.width_nm / 2 - 0.1


def test_around_the_position_is_said_so() -> None:
    centre = Position(lat_deg=40.0, lon_deg=-100.0)
    lat, lon = placed(centre, (180.0, 5.0))
    (found,) = good_areas(centre, lat, lon, np.array([True]), radius_nm=150.0)
    assert found.from_nm == 0.0
    assert found.said == "around the position, most of it south, 39 NM wide"


def test_near_a_pole_there_are_words_and_no_polygon() -> None:
    centre = Position(lat_deg=89.5, lon_deg=0.0)
    lat, lon = placed(centre, (180.0, 5.0))
    (found,) = good_areas(centre, lat, lon, np.array([True]), radius_nm=150.0)
    assert found.shape is None
    assert "NM wide" in found.said


@given(station_lists, st.floats(0.0, 360.0), st.floats(0.0, 100.0))
def test_every_point_of_an_area_passes_the_check_of_an_area(
    stations: list[tuple[float, float, bool]], bearing: float, nm: float
) -> None:
    """Within 20 NM of a point at least one station is good and none is not (method.md 5)."""
    centre = Position(lat_deg=40.0, lon_deg=-100.0)
    lat, lon = placed(centre, *[(deg, away) for away, deg, _ in stations])
    good = np.array([each for *_, each in stations])
    point = s.at(bearing, nm, centre)
    inside = any(
        area.shape is not None and area.shape.contains(Point(point.lon_deg, point.lat_deg))
        for area in good_areas(centre, lat, lon, good, radius_nm=100.0)
    )
    apart = [s.apart_nm(point.lat_deg, point.lon_deg, *each) for each in zip(lat, lon, strict=True)]
    if inside:
        assert any(d <= 20.05 and g for d, g in zip(apart, good, strict=True))
        assert not any(d < 19.95 and not g for d, g in zip(apart, good, strict=True))
