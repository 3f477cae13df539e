"""Which stations bear on which fields."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.flight.bearing import near_pairs
from refuge.flight.shortlist import build
from refuge.flight.words import explain
from tests.core.flight import situations as s

points = st.lists(
    st.tuples(
        st.one_of(st.floats(-90, 90), st.sampled_from((90.0, 89.9, -90.0, 0.0))),
        st.one_of(st.floats(-180, 180), st.sampled_from((180.0, -180.0, 179.95, -179.95, 0.0))),
    ),
    max_size=6,
)


@given(points, points, st.sampled_from((20.0, 30.0, 60.0, 3000.0)))
def test_near_pairs_are_those_of_the_geodesic(
    first: list[tuple[float, float]], second: list[tuple[float, float]], within_nm: float
) -> None:
    lat1, lon1 = (np.array([p[i] for p in first], dtype=float) for i in (0, 1))
    lat2, lon2 = (np.array([p[i] for p in second], dtype=float) for i in (0, 1))
    near = near_pairs(lat1, lon1, lat2, lon2, np.full(len(first), within_nm))
    expected = {
        (i, j): distance
        for i, one in enumerate(first)
        for j, other in enumerate(second)
        if (distance := s.apart_nm(*one, *other)) <= within_nm
    }
    found = zip(near.field.tolist(), near.station.tolist(), near.distance_nm.tolist(), strict=True)
    assert {(i, j): d for i, j, d in found} == pytest.approx(expected)


def weather(
    *,
    distance_nm: float = 5.0,
    station_ft: float | None = 1000.0,
    field_ft: float | None = 1000.0,
    ceiling: int = 8000,
    forecast: bool = False,
    now: datetime = s.NOW,
    spread_c: float | None = 15.0,
) -> tuple[str, str]:
    """Return weather and area at a field that borrows from one station."""
    said = s.conditions(ceiling, 10.0)
    known = s.situation(
        [s.airfield("F", s.HERE, elevation_ft=field_ft)],
        [s.station("XA", s.at(90.0, distance_nm), elevation_ft=station_ft)],
        reports=[s.report("XA", said, now=now, dew_point_c=None if spread_c is None else 20.0 - spread_c)],
        forecasts=[s.forecast("XA", said, now=now)] if forecast else [],
        now=now,
    )
    lead = 200.0 if forecast else 0.0
    checks = explain(build(s.question(now=now, fails_in_min=lead, lowest_safe_ft_amsl=5000.0), known), 0)
    return checks["weather"].verdict, checks["area"].verdict


# method.md 4: within 20 NM (report) or 30 NM (forecast) and 1,000 ft of elevation
def test_how_far_is_borrowed() -> None:
    assert weather(distance_nm=19.9) == ("meets", "meets")
    assert weather(distance_nm=20.1) == ("unknown", "unknown")
    assert weather(distance_nm=29.9, forecast=True) == ("meets", "unknown")
    assert weather(distance_nm=30.1, forecast=True) == ("unknown", "unknown")


def test_how_far_up_and_down_is_borrowed() -> None:
    assert weather(station_ft=0.0) == ("meets", "meets")
    assert weather(station_ft=-1.0) == ("unknown", "meets")  # too low to lend, and still evidence of the area
    assert weather(station_ft=2000.0) == ("meets", "meets")
    assert weather(station_ft=2001.0) == ("unknown", "unknown")  # far above: only its base bears


# ceiling over the field = min(station's height above ground, station elevation + ceiling - field elevation)
def test_a_ceiling_over_another_height() -> None:
    assert weather(ceiling=1500)[0] == "meets"
    assert weather(ceiling=1500, station_ft=900.0)[0] == "misses"
    assert weather(ceiling=1600, station_ft=900.0)[0] == "meets"
    assert weather(ceiling=1400, station_ft=1900.0)[0] == "misses"
    assert weather(ceiling=1500, station_ft=1900.0)[0] == "meets"


def test_unknown_heights_can_miss_and_cannot_meet() -> None:
    for heights in ((None, 1000.0), (1000.0, None), (None, None)):
        assert weather(station_ft=heights[0], field_ft=heights[1]) == ("unknown", "unknown")
        assert weather(station_ft=heights[0], field_ft=heights[1], ceiling=500) == ("misses", "misses")


def test_by_night_with_a_small_spread_no_visibility_crosses_300_ft() -> None:
    night = datetime(2024, 2, 29, 6, 0, tzinfo=UTC)
    assert weather(station_ft=701.0, now=night, spread_c=3.0)[0] == "meets"
    assert weather(station_ft=699.0, now=night, spread_c=3.0)[0] == "unknown"
    assert weather(station_ft=699.0, now=night, spread_c=None)[0] == "unknown"
    assert weather(station_ft=699.0, now=night, spread_c=3.5)[0] == "meets"
    assert weather(station_ft=699.0, spread_c=0.0)[0] == "meets"


def test_a_station_far_above_bears_through_its_base() -> None:
    """method.md 5: a station over 1,000 ft above the field bears only through its base above sea level."""
    said, high = s.conditions(8000, 10.0), s.conditions(200, 0.5)
    for ceiling, expected in ((high, "misses"), (s.conditions(2700, 0.5), "meets")):
        known = s.situation(
            [s.airfield("F", s.HERE, station="XA")],
            [s.station("XA", s.HERE), s.station("XM", s.at(0.0, 10.0), elevation_ft=3000.0)],
            reports=[s.report("XA", said), s.report("XM", ceiling)],
        )
        checks = explain(build(s.question(lowest_safe_ft_amsl=5000.0, altitude_ft=6000.0), known), 0)
        assert (checks["area"].verdict, checks["break_out"].verdict) == ("meets", expected)


def test_a_forecast_lent_to_a_station_of_the_area_is_carried_to_it_first() -> None:
    """XB stands 900 ft above XC, which lends it a forecast: 2,000 ft over XC are 1,100 ft over XB."""
    good = s.conditions(8000, 10.0)
    low = s.conditions(2000, 10.0)
    known = s.situation(
        [s.airfield("F", s.HERE, station="XA")],
        [
            s.station("XA", s.HERE),
            s.station("XB", s.at(90.0, 15.0), elevation_ft=1900.0),
            s.station("XC", s.at(90.0, 35.0)),
        ],
        reports=[s.report(name, good) for name in ("XA", "XB", "XC")],
        forecasts=[s.forecast("XA", good), s.forecast("XC", low)],
    )
    area = explain(build(s.question(fails_in_min=200.0), known), 0)["area"]
    assert area.verdict == "misses"
    assert "XB misses" in area.why


def test_the_pole_is_one_place() -> None:
    near = near_pairs(np.array([90.0]), np.array([0.0]), np.array([90.0]), np.array([120.0]), np.array([20.0]))
    assert near.distance_nm.tolist() == pytest.approx([0.0], abs=1e-6)
