"""Where the aircraft is when: by hand, along the equator."""

from dataclasses import replace

import numpy as np
import pytest

from refuge.flight.question import Wind
from refuge.flight.track import Waypoint, fly
from tests.core.flight import situations as s
from tests.core.flight.flights import START, east, flight

NOTHING = s.situation([])


def test_cruise_against_the_wind() -> None:
    """90 NM at 110 kt against 20 kt: 90 kt, an hour."""
    track = fly(flight(START, east(90.0), wind=Wind(dir_deg_true=90.0, speed_kt=20.0)), NOTHING)
    assert track.total_min == pytest.approx(60.0, abs=0.01)
    assert track.minutes.tolist() == list(range(60))
    lat, lon = track.at(np.array([20.0]))
    assert s.apart_nm(0.0, -100.0, float(lat[0]), float(lon[0])) == pytest.approx(30.0, abs=0.01)


def test_a_climb_by_figures_is_slower_and_below_cloud() -> None:
    """From 500 ft to 2,500 ft at 500 ft/min and 80 kt: 4 min for 5.33 NM, then 110 kt (by pieces of 5 NM)."""
    bare = flight(START, east(60.0))
    aircraft = replace(bare.question.aircraft, climb_ft_min=500.0, climb_tas_kt=80.0)
    climbing = replace(
        bare,
        question=replace(bare.question, aircraft=aircraft),
        waypoints=(replace(bare.waypoints[0], elevation_ft=500.0), bare.waypoints[1]),
    )
    track = fly(climbing, NOTHING)
    assert track.total_min == pytest.approx(4.0 + (60.0 - 80.0 * 4.0 / 60.0) / 110.0 * 60.0, abs=1.1)
    assert track.total_min > fly(bare, NOTHING).total_min
    assert track.altitude_ft(np.array([0.0, 2.0, 4.0, 10.0])).tolist() == [500.0, 1500.0, 2500.0, 2500.0]


def test_without_figures_a_climb_credits_nothing_and_a_descent_goes_by_its_rate() -> None:
    bare = flight(START, east(110.0))
    end = Waypoint(place="end", at=bare.waypoints[1].at, elevation_ft=500.0)
    track = fly(replace(bare, waypoints=(replace(bare.waypoints[0], elevation_ft=0.0), end)), NOTHING)
    # 500 ft/min from 2,500 ft to 500 ft: the last 4 min of 60.
    assert track.altitude_ft(np.array([0.0, 56.0, 58.0])).tolist() == pytest.approx(
        [2500.0, 2500.0, 1500.0], abs=2.0
    )
    assert fly(bare, NOTHING).altitude_ft(np.array([59.0])).tolist() == [2500.0], "no height of the end is known"


def test_a_way_over_a_point_between() -> None:
    track = fly(flight(START, east(55.0), START), NOTHING)
    assert track.distance_nm == pytest.approx(110.0, abs=0.01)
    lat, lon = track.at(np.array([30.0, 60.0, 99.0]))
    assert s.apart_nm(0.0, -100.0, float(lat[0]), float(lon[0])) == pytest.approx(55.0, abs=0.01)
    assert (lon[1], lon[2]) == (-100.0, -100.0)
