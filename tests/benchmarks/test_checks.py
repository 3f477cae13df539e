"""What all checks cost beside the weather alone, for every airfield within 150 NM, by day and by night.

pytest tests/benchmarks/test_checks.py --benchmark-enable
"""

import random
import time as clock
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import numpy as np
import pytest
import shapely

from refuge.airfield import EVERY_DAY, Airfield, Hours, LightDetail, Runway, Tower
from refuge.flight.areas import Area
from refuge.flight.arrival import arrive
from refuge.flight.bearing import FieldArrays
from refuge.flight.minimums import STANDARD
from refuge.flight.question import Question
from refuge.flight.shortlist import build
from refuge.flight.situation import Situation
from refuge.flight.starts import one_start
from refuge.flight.station_weather import network_of
from refuge.flight.weigh import weigh
from tests.benchmarks.test_find import AT, NOW, question, world

TIMES_THE_WEATHER = 3.0


def furnished(known: Situation) -> Situation:
    """Return the situation with two runways, lights and towers at each field, and 100 areas."""
    chance = random.Random(2)  # noqa: S311 - no secret

    def field(one: Airfield) -> Airfield:
        strips = tuple(
            Runway(
                idents=idents, length_ft=chance.randint(1500, 8000), surface="hard", lighted=True,
                heading_deg_true=heading,
            )
            for idents, heading in (("09/27", 90.0), ("18/36", 180.0))
        )  # fmt: skip
        hours = (Hours(days=EVERY_DAY, opens_min=360, closes_min=1320),)
        return replace(
            one,
            runways=strips,
            lights=chance.choice(("dusk_to_dawn", "until", "radio", "none", "unknown")),
            lights_detail=LightDetail(until_local=time(23), after="radio"),
            tower=Tower(text="0600-2200", hours=hours) if chance.random() < 0.1 else None,
            time_zone="America/Chicago",
        )

    spots = [(AT.lon_deg + chance.uniform(-3, 3), AT.lat_deg + chance.uniform(-2.5, 2.5)) for _ in range(100)]
    areas = tuple(
        Area(name="A", kind="restricted", shape=shapely.Point(spot).buffer(0.1), source="made up") for spot in spots
    )
    return replace(known, airfields=tuple(map(field, known.airfields)), areas=areas)


def best_of(runs: int, work: object, *arguments: object) -> float:
    assert callable(work)
    found = []
    for _ in range(runs):
        start = clock.perf_counter()
        work(*arguments)
        found.append(clock.perf_counter() - start)
    return min(found)


def weather_alone(asked: Question, known: Situation) -> None:
    """Answer what the weather check alone answers: arrival, stations and their states, and what they come to."""
    fields = known.airfields
    lat, lon, ground = (
        np.array([getattr(field, name) for field in fields], dtype=float)
        for name in ("lat_deg", "lon_deg", "elevation_ft")
    )
    arrival = arrive(asked, one_start(asked, known, len(fields)), lat, lon, ground)
    last = datetime.fromtimestamp(float(arrival.end_s.max()), tz=UTC)
    network = network_of(known, asked.now, last)
    every = FieldArrays(
        lat_deg=lat, lon_deg=lon, elevation_ft=ground, height_known=np.ones(lat.shape, dtype=bool),
        station=np.array([network.index.get(field.station_id or "", -1) for field in fields], dtype=np.int64),
        required_ft=np.full(lat.shape, 2500.0), required_sm=np.full(lat.shape, 5.0), night=arrival.night,
        error_radius_nm=arrival.error_radius_nm,
    )  # fmt: skip
    weigh(every, network, arrival, asked.now.timestamp(), 2680.0)


@pytest.mark.parametrize("hours", [0, 12], ids=["day", "night"])
def test_all_checks_cost_no_more_than_three_times_the_weather(hours: int) -> None:
    now, known = NOW + timedelta(hours=hours), furnished(world(1500, 120))
    asked: Question = replace(
        question(),
        now=now,
        fails_at=now,
        minimums=replace(STANDARD, max_crosswind_kt=15.0, runway_length_ft=2500.0),
    )
    weather, everything = best_of(7, weather_alone, asked, known), best_of(7, build, asked, known)
    print(f"weather {weather * 1e3:.0f} ms, all checks {everything * 1e3:.0f} ms: {everything / weather:.2f} times")  # noqa: T201
    assert everything <= TIMES_THE_WEATHER * weather
