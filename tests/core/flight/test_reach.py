import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.earth import Position
from refuge.flight.reach import Reach, error_radius_nm, minutes_at, reach, wind_error_kt
from refuge.flight.triangle import least_minutes
from refuge.flight.winds import WindSites
from tests.core.flight import situations as s
from tests.core.reference import rows

places = st.builds(lambda lat, lon: Position(lat_deg=lat, lon_deg=lon), st.floats(-75, 75), st.floats(-180, 180))
bearings = st.floats(0, 360)
still = WindSites.uniform(0.0, 0.0)


def sites(*winds: tuple[Position, float, float]) -> WindSites:
    """Return winds (from, knots) at places."""
    fields = [WindSites.uniform(from_deg, kt) for _, from_deg, kt in winds]
    return WindSites(
        lat_deg=np.array([place.lat_deg for place, _, _ in winds]),
        lon_deg=np.array([place.lon_deg for place, _, _ in winds]),
        east_kt=np.array([field.east_kt[0] for field in fields]),
        north_kt=np.array([field.north_kt[0] for field in fields]),
        temperature_c=np.zeros(len(winds)),
        has_temperature=np.zeros(len(winds), dtype=bool),
    )


def to(
    place: Position, start: Position = s.HERE, *, tas_kt: float = 110.0, winds: tuple[WindSites, ...] = (still,)
) -> Reach:
    return reach(start, np.array([place.lat_deg]), np.array([place.lon_deg]), tas_kt=tas_kt, winds=winds)


@pytest.mark.parametrize("row", rows("reach_disc"), ids=lambda row: row["id"])
def test_published_ways(row: dict[str, str]) -> None:
    place = s.at(float(row["track_deg_true"]), float(row["distance_nm"]))
    wind = WindSites.uniform(float(row["wind_from_deg_true"]), float(row["wind_kt"]))
    way = to(place, tas_kt=float(row["tas_kt"]), winds=(wind,))
    assert way.minutes[0] == pytest.approx(float(row["minutes"] or "inf"), abs=0.005)
    assert bool(way.reachable[0]) == bool(row["minutes"])


@pytest.mark.parametrize("row", rows("still_air"), ids=lambda row: row["id"])
def test_budgets_as_distances_in_still_air(row: dict[str, str]) -> None:
    way = to(s.at(0.0, float(row["distance_nm"])), tas_kt=float(row["tas_kt"]))
    assert way.minutes[0] == pytest.approx(float(row["budget_min"]), abs=0.01)


@pytest.mark.parametrize("row", rows("error_radius"), ids=lambda row: row["id"])
def test_error_radius(row: dict[str, str]) -> None:
    hours, distance = float(row["minutes"]) / 60, float(row["distance_nm"])
    assert distance == pytest.approx(hours * float(row["gs_kt"]))
    assert float(error_radius_nm(distance, hours)) == pytest.approx(float(row["radius_nm"]))
    assert float(error_radius_nm(distance, 0.0)) == pytest.approx(float(row["share_nm"]))


def test_the_error_radius_is_never_below_3_nm() -> None:
    assert error_radius_nm([0.0, 29.0, 31.0], 0.0).tolist() == pytest.approx([3.0, 3.0, 3.1])  # method.md 3


@given(places, bearings, st.floats(0.1, 150), st.floats(80, 250), st.tuples(bearings, st.floats(0, 60)))
def test_a_uniform_wind_is_the_closed_form(
    start: Position, bearing: float, distance: float, tas_kt: float, wind: tuple[float, float]
) -> None:
    place, (from_deg, wind_kt) = s.at(bearing, distance, start), wind
    way = to(place, start, tas_kt=tas_kt, winds=(WindSites.uniform(from_deg, wind_kt),))
    track = np.radians(way.track_deg_true[0])
    least = float(least_minutes(distance * np.sin(track), distance * np.cos(track), tas_kt, from_deg, wind_kt))
    assert way.minutes[0] == pytest.approx(least, rel=1e-6)
    assert way.earliest_min[0] <= way.minutes[0] <= way.latest_min[0]
    assert way.wind_known[0]


@given(places, bearings, st.floats(0.1, 150))
def test_without_wind_what_is_reached_is_a_circle(start: Position, bearing: float, distance: float) -> None:
    way = to(s.at(bearing, distance, start), start)
    assert way.minutes[0] == pytest.approx(60 * distance / 110, rel=1e-9)
    assert way.latest_min[0] == pytest.approx(60 * distance / 100, rel=1e-9)  # 10 kt of wind error
    assert way.earliest_min[0] == pytest.approx(60 * distance / 120, rel=1e-9)


@given(bearings, st.floats(1, 140), st.floats(0, 10), bearings, st.floats(0, 100))
def test_farther_is_never_sooner(bearing: float, distance: float, more: float, from_deg: float, kt: float) -> None:
    wind = (WindSites.uniform(from_deg, kt),)
    near, far = to(s.at(bearing, distance), winds=wind), to(s.at(bearing, distance + more), winds=wind)
    for name in ("minutes", "earliest_min", "latest_min", "distance_nm"):
        assert getattr(far, name)[0] >= getattr(near, name)[0] - 1e-9


@given(st.floats(0, 360), st.floats(0, 90), st.floats(0, 60))
def test_more_headwind_is_never_sooner(bearing: float, kt: float, more_kt: float) -> None:
    place = s.at(bearing, 60.0)
    weak, strong = (to(place, winds=(WindSites.uniform(bearing, w),)) for w in (kt, kt + more_kt))
    assert strong.minutes[0] >= weak.minutes[0] - 1e-9
    assert strong.latest_min[0] >= weak.latest_min[0] - 1e-9


def test_wind_error_is_5_per_cent_and_at_least_10_kt() -> None:
    assert wind_error_kt([0.0, 100.0, 200.0, 300.0]).tolist() == [10.0, 10.0, 10.0, 15.0]  # method.md 3


def test_a_wind_as_strong_as_the_aircraft_reaches_nothing_upwind() -> None:
    place = s.at(0.0, 30.0)
    for kt in (100.0, 110.0, 150.0):
        way = to(place, winds=(WindSites.uniform(0.0, kt),))
        assert not way.reachable[0]
        assert way.latest_min[0] == np.inf


def test_no_way_takes_no_time_whatever_the_wind() -> None:
    for kt in (0.0, 110.0, 150.0):
        way = to(s.HERE, winds=(WindSites.uniform(0.0, kt),))
        assert (way.minutes[0], way.latest_min[0], way.earliest_min[0]) == (0.0, 0.0, 0.0)
        assert way.reachable[0]
    way = to(s.HERE, winds=(sites((s.HERE, 0.0, 150.0)),))
    assert (way.minutes[0], way.latest_min[0], bool(way.reachable[0])) == (0.0, 0.0, True)


def test_minutes_at_no_groundspeed() -> None:
    assert minutes_at([0.0, 10.0, 10.0, 10.0], [0.0, 0.0, -5.0, 60.0]).tolist() == [0.0, np.inf, np.inf, 10.0]


def test_one_wind_at_every_site_is_nearly_the_uniform_one() -> None:
    place = s.at(60.0, 100.0)
    every = sites(*((s.at(bearing, 80.0), 300.0, 40.0) for bearing in (0.0, 90.0, 180.0, 270.0)))
    one, other = to(place, winds=(every,)), to(place, winds=(WindSites.uniform(300.0, 40.0),))
    assert one.minutes[0] == pytest.approx(other.minutes[0], rel=0.01)
    assert one.wind_known[0]


def test_a_wind_that_grows_along_the_way_is_felt_where_it_blows() -> None:
    place = s.at(0.0, 120.0)
    field = sites((s.HERE, 360.0, 0.0), (place, 360.0, 60.0))
    way = to(place, winds=(field,))
    weak, strong = (to(place, winds=(WindSites.uniform(360.0, kt),)) for kt in (0.0, 60.0))
    assert weak.minutes[0] < way.minutes[0] < strong.minutes[0]
    assert way.gs_kt[0] > 105  # what the pilot sets out with


def test_the_worse_of_two_fields_counts() -> None:
    place = s.at(0.0, 60.0)
    head, tail = WindSites.uniform(360.0, 30.0), WindSites.uniform(180.0, 30.0)
    both = to(place, winds=(tail, head))
    alone_head, alone_tail = to(place, winds=(head,)), to(place, winds=(tail,))
    assert both.latest_min[0] == alone_head.latest_min[0]
    assert both.minutes[0] == alone_head.minutes[0]
    assert both.earliest_min[0] == alone_tail.earliest_min[0]
    assert both.gs_kt[0] == alone_head.gs_kt[0]


def test_where_no_site_is_near_the_wind_is_not_known() -> None:
    far = sites((s.at(180.0, 400.0), 360.0, 30.0))
    assert not to(s.at(0.0, 60.0), winds=(far,)).wind_known[0]
    way = to(s.at(0.0, 60.0), winds=(still, far))
    assert not way.wind_known[0]


@pytest.mark.parametrize(
    ("start", "end"),
    [
        (Position(lat_deg=0.0, lon_deg=179.9), Position(lat_deg=0.0, lon_deg=-179.9)),
        (Position(lat_deg=89.9, lon_deg=0.0), Position(lat_deg=89.9, lon_deg=180.0)),
        (Position(lat_deg=-90.0, lon_deg=0.0), Position(lat_deg=-89.8, lon_deg=77.0)),
    ],
)
def test_over_the_date_line_and_the_poles(start: Position, end: Position) -> None:
    distance = s.apart_nm(start.lat_deg, start.lon_deg, end.lat_deg, end.lon_deg)
    assert distance < 15
    for winds in (still, sites((start, 0.0, 0.0), (end, 0.0, 0.0))):
        way = to(end, start, winds=(winds,))
        assert way.distance_nm[0] == pytest.approx(distance)
        assert way.minutes[0] == pytest.approx(60 * distance / 110)


def test_nowhere_to_go() -> None:
    for winds in (still, sites((s.HERE, 0.0, 20.0))):
        way = reach(s.HERE, np.zeros(0), np.zeros(0), tas_kt=110.0, winds=(winds,))
        assert way.minutes.size == way.wind_known.size == 0
