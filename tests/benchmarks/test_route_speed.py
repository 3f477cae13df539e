"""How fast a whole flight is, as ratios within one run: against a plain loop over all pairs, and as it grows.

pytest tests/benchmarks/test_route_speed.py --benchmark-enable
"""

import math
import random
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import product
from pathlib import Path

import pytest
from pyproj import Geod
from pytest_benchmark.fixture import BenchmarkFixture

from refuge.aircraft.case import FlightState
from refuge.aircraft.endurance import endurance
from refuge.airfield import Airfield, Station
from refuge.earth import Position
from refuge.files.aircraft import load_aircraft
from refuge.flight.minimums import FLOOR
from refuge.flight.minutes import pairs_in_reach
from refuge.flight.question import Question, Wind
from refuge.flight.route import build
from refuge.flight.situation import Hearing, Situation
from refuge.flight.track import Block, RouteQuestion, Waypoint, fly
from refuge.flight.ways import Variant, ways
from refuge.weather.metar import decode_observation
from refuge.weather.reports import Forecast, Level, Levels, LevelsAt, Observation
from refuge.weather.taf import decode_forecast

ROOT = Path(__file__).resolve().parents[2]
NOW = datetime(2026, 6, 10, 15, tzinfo=UTC)
LEVELS_FT = (3000, 6000, 9000, 12000)
MOST_ALOFT = 40.0
TIMES = 5
START = Position(lat_deg=40.0, lon_deg=-105.0)
GEOD = Geod(ellps="WGS84")


@cache
def world(fields: int) -> Situation:
    """Return made-up airfields with a report each, one in four with a forecast, over 25-65 N, 130-60 W."""
    chance = random.Random(1)  # noqa: S311 - no secret
    airfields, stations, reports, forecasts, hearing = [], {}, {}, {}, {}
    for i in range(fields):
        name, lat, lon = f"K{i:04d}", chance.uniform(25.0, 60.0), chance.uniform(-130.0, -60.0)
        height = chance.uniform(0, 1500)
        stations[name] = Station(
            id=name, name=name, lat_deg=lat, lon_deg=lon, elevation_ft=height, country="US", reports=True,
            forecasts=i % 4 == 0,
        )  # fmt: skip
        airfields.append(
            Airfield(
                id=f"F{i:04d}", name="field", lat_deg=lat, lon_deg=lon, elevation_ft=height, country="US",
                station_id=name,
            )
        )  # fmt: skip
        report = decode_observation(
            f"METAR K{i % 1000:03d} 101450Z 26012KT 10SM BKN{chance.randint(20, 90):03d} 14/08 A2992",
            received_at=NOW,
        )
        assert isinstance(report, Observation)
        reports[name] = replace(report, station=name)
        hearing[name] = Hearing(reports=True, forecasts=i % 4 == 0, ever_ceiling=True, ever_visibility=True)
        if i % 4 == 0:
            forecast = decode_forecast(
                f"TAF K{i % 1000:03d} 101130Z 1012/1118 26010KT P6SM BKN{chance.randint(15, 80):03d}"
                f" TEMPO 1014/1018 5SM BR BKN{chance.randint(12, 60):03d}"
                f" FM101900 28012KT P6SM BKN{chance.randint(15, 80):03d} FM110300 28008KT P6SM SCT050",
                received_at=NOW,
            )
            assert isinstance(forecast, Forecast)
            forecasts[name] = (replace(forecast, station=name),)
    return Situation(
        read_at=NOW, airfields=tuple(airfields), stations=stations, observations=reports, forecasts=forecasts,
        hearing=hearing,
    )  # fmt: skip


def flight(miles: float) -> RouteQuestion:
    aircraft = load_aircraft(ROOT / "fixtures" / "aircraft" / "D41.toml")
    lasts = endurance(aircraft, FlightState(on=NOW.date(), oat_c=10.0, torch=True))
    aircraft = replace(aircraft, cruise_tas_kt=100.0)
    lon, lat, _ = GEOD.fwd(START.lon_deg, START.lat_deg, 80.0, miles * 1852.0)
    question = Question(
        at=START, place="start", now=NOW, fails_at=NOW, failure="alternator", aircraft=aircraft, endurance=lasts,
        minimums=FLOOR, margin_min=15.0, altitude_ft=6000.0, wind=Wind(dir_deg_true=350.0, speed_kt=10.0),
        lowest_safe_ft_amsl=2500.0, oat_c=10.0, slip_min=30.0,
    )  # fmt: skip
    return RouteQuestion(
        question=question,
        waypoints=(
            Waypoint(place="start", at=START), Waypoint(place="end", at=Position(lat_deg=lat, lon_deg=lon))
        ),
        blocks=(Block(from_min=0, endurance=lasts),),
    )  # fmt: skip


def pairs_by_loop(asked: RouteQuestion, points: list[tuple[float, float]], situation: Situation) -> int:
    """Return how many pairs are in reach, by a loop over all: distance, triangle and window; no weather at all."""
    wind, tas, found = asked.question.wind, asked.question.aircraft.cruise_tas_kt, 0
    assert wind is not None
    lasts = asked.question.endurance
    assert lasts.information_min is not None
    budget = lasts.information_min - lasts.recognition_min - asked.question.margin_min
    for minute, (lat, lon) in enumerate(points):
        turn = NOW.timestamp() + 60.0 * (minute + lasts.recognition_min)
        for field in situation.airfields:
            track, _, metres = GEOD.inv(lon, lat, field.lon_deg, field.lat_deg)
            angle = math.radians(wind.dir_deg_true - track)
            cross = wind.speed_kt * math.sin(angle)
            gs = tas * math.sqrt(1 - (cross / tas) ** 2) - wind.speed_kt * math.cos(angle)
            latest = metres / 1852.0 / (gs - 10.0) * 60.0 + 7.0
            start, end = turn + 60.0 * (latest - 30.0), turn + 60.0 * (latest + 70.0)
            found += latest <= budget and start < end
    return found


def best_of(times: int, work: Callable[[], object]) -> float:
    """Return the least seconds of processor time of several runs: a busy machine counts less.

    Of this thread alone: large products of matrices wake another, which then waits busily beside what follows.
    """
    seconds = []
    for _ in range(times):
        before = time.thread_time()
        work()
        seconds.append(time.thread_time() - before)
    return min(seconds)


def test_route_against_a_plain_loop(benchmark: BenchmarkFixture) -> None:
    """945 NM against 3,400 airfields: pairs in reach at least 50 times as fast as the loop that finds the same."""
    asked, situation = flight(945.0), world(3400)
    plan = benchmark.pedantic(lambda: build(asked, situation), rounds=2, warmup_rounds=1)  # type: ignore[no-untyped-call]
    assert 500 <= plan.track.minutes.size <= 640
    assert plan.meeting.minute.size > 1000
    if benchmark.disabled:
        return
    lat, lon = plan.track.at(plan.track.minutes.astype(float))
    some = list(zip(lat.tolist(), lon.tolist(), strict=True))[::8]
    loop = best_of(2, lambda: pairs_by_loop(asked, some, situation)) * plan.track.minutes.size / len(some)
    route, pairs = best_of(3, lambda: build(asked, situation)), best_of(3, lambda: reached(asked, situation))
    benchmark.extra_info["pairs in reach, times as fast"] = round(loop / pairs, 1)
    benchmark.extra_info["whole route, times as fast"] = round(loop / route, 1)
    assert loop / pairs >= 50.0


def reached(asked: RouteQuestion, situation: Situation) -> int:
    """Return how many pairs are in reach, as the route finds them: what the loop does, and no more."""
    track = fly(asked, situation)
    return pairs_in_reach(asked, situation, track)


def windy(situation: Situation) -> Situation:
    """Return the same with winds aloft: sites 120 NM apart, a west wind with waves in it, at three times."""
    sites, places = [], {}
    for lat, lon in product(range(24, 63, 2), range(-132, -57, 3)):
        name = f"W{lat}{-lon}"
        places[name] = Station(
            id=name, name=name, lat_deg=float(lat), lon_deg=float(lon), elevation_ft=None, country="US",
            reports=False, forecasts=False,
        )  # fmt: skip
        wave = math.sin(math.radians(6.0 * lon))
        from_deg, kt = round(27 + 4 * wave) * 10, 12 + round(8 * wave)
        sites.append((name, [(ft, from_deg, kt + ft // 400) for ft in LEVELS_FT]))
    winds = tuple(
        Levels(
            raw="made up", product="made up", based_on=NOW - timedelta(hours=3), valid_at=valid,
            use_from=valid - timedelta(hours=5), use_to=valid + timedelta(hours=6), unread=(),
            sites=tuple(
                LevelsAt(
                    site=name,
                    levels=tuple(
                        Level(
                            altitude_ft=ft, dir_deg_true=(wind_from + number * 10) % 360, speed_kt=kt + 3 * number,
                            temperature_c=None if ft == LEVELS_FT[0] else 10, at_least=False,
                        )
                        for ft, wind_from, kt in levels
                    ),
                )
                for name, levels in sites
            ),
        )
        for number, valid in enumerate(NOW + timedelta(hours=hours) for hours in (3, 9, 15))
    )  # fmt: skip
    return replace(situation, winds=winds, wind_sites=places)


@pytest.mark.parametrize(
    ("aloft", "each_at_each", "most"), [(False, True, 15.0), (True, False, 15.0), (True, True, MOST_ALOFT)]
)
def test_departures_and_levels_against_one_route(
    benchmark: BenchmarkFixture, aloft: bool, each_at_each: bool, most: float
) -> None:
    """48 departures and 3 levels take less than 15 times one route, one thing changed at a time as `--ways` does.

    In the pilot's wind so does each departure at each level, 144 flights. In winds aloft no way is like another's,
    from one departure to the next: the bound for these 144 is that of what was measured.
    """
    asked, situation = flight(945.0), world(3400)
    if aloft:
        asked = replace(asked, question=replace(asked.question, wind=None))
        situation = windy(situation)
    levels, minutes = (4000.0, 6000.0, 8000.0), range(0, 720, 15)
    changes = list(product(levels, minutes))
    if not each_at_each:
        as_planned = asked.question.altitude_ft
        changes = [(as_planned, each) for each in minutes] + [(level, 0) for level in (4000.0, 8000.0, 10_000.0)]
    variants = [
        Variant(
            kind="departure",
            label=f"{later} min later at {level:.0f} ft",
            cost="",
            asked=replace(
                asked, question=replace(asked.question, fails_at=NOW + timedelta(minutes=later), altitude_ft=level)
            ),
        )
        for level, later in changes
    ]
    found = benchmark.pedantic(lambda: ways(variants[:2], situation), rounds=1)  # type: ignore[no-untyped-call]
    assert len(found) == 2
    if benchmark.disabled:
        return
    ratio = best_of(1, lambda: ways(variants, situation)) / best_of(3, lambda: build(asked, situation))
    benchmark.extra_info[f"{len(variants)} ways over one route"] = round(ratio, 1)
    assert ratio < most


def test_growth_with_the_length_of_the_way(benchmark: BenchmarkFixture) -> None:
    """From 50 to 2,000 NM the time for the pairs grows no faster than the minutes."""
    situation = world(3400)
    lengths = (50.0, 500.0, 2000.0)
    benchmark.pedantic(lambda: reached(flight(50.0), situation), rounds=1)  # type: ignore[no-untyped-call]
    if benchmark.disabled:
        return
    took = {miles: best_of(3, lambda miles=miles: build(flight(miles), situation)) for miles in lengths}  # type: ignore[misc]
    for miles, seconds in took.items():
        benchmark.extra_info[f"{miles:.0f} NM, ms"] = round(1000.0 * seconds)
    assert took[2000.0] / took[500.0] <= 4.4


def thinned(situation: Situation, share: int) -> Situation:
    """Return every so many of the airfields, and their stations alone."""
    fields = situation.airfields[::share]
    stations = {str(f.station_id): situation.stations[str(f.station_id)] for f in fields}
    return replace(situation, airfields=fields, stations=stations)


@pytest.mark.parametrize("miles", [50.0, 500.0, 2000.0])
def test_growth_with_the_airfields_in_reach(benchmark: BenchmarkFixture, miles: float) -> None:
    """At one length the time for the pairs grows no faster than their number, for 1 to 8 times the airfields.

    Few airfields share what is worked out once for a flight: each pair of many takes no longer than one of few.
    """
    asked, whole = flight(miles), world(13_600)
    some = [thinned(whole, share) for share in (8, 4, 2, 1)]
    benchmark.pedantic(lambda: reached(asked, some[0]), rounds=1)  # type: ignore[no-untyped-call]
    if benchmark.disabled:
        return
    pairs = [reached(asked, situation) for situation in some]
    took = [best_of(5, lambda situation=situation: repeated(asked, situation)) for situation in some]  # type: ignore[misc]
    assert pairs[-1] > 4 * pairs[0]
    each = [1e6 * seconds / (TIMES * n) for seconds, n in zip(took, pairs, strict=True)]
    for n, us in zip(pairs, each, strict=True):
        benchmark.extra_info[f"{n} pairs, us for each"] = round(us, 2)
    assert each[-1] <= 1.6 * each[0]


def repeated(asked: RouteQuestion, situation: Situation) -> int:
    """Return pairs in reach, found several times, so that the clock's ticks count for little."""
    return sum(reached(asked, situation) for _ in range(TIMES))
