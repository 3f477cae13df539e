"""How fast the main job is, as ratios within one run: cold start, and arrays against a plain loop.

pytest tests/benchmarks/test_find.py --benchmark-enable
"""

import math
import os
import random
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pyproj import Geod
from pytest_benchmark.fixture import BenchmarkFixture

from refuge.aircraft.case import FlightState
from refuge.aircraft.endurance import endurance
from refuge.airfield import Airfield, Station
from refuge.earth import Position
from refuge.files.aircraft import load_aircraft
from refuge.flight.minimums import STANDARD
from refuge.flight.question import Question, Wind
from refuge.flight.shortlist import build
from refuge.flight.situation import Hearing, Situation
from refuge.weather.metar import decode_observation
from refuge.weather.reports import Forecast, Observation
from refuge.weather.taf import decode_forecast
from tests.core.flight.oracle import Asked, Oracle

ROOT = Path(__file__).resolve().parents[2]
NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
AT = Position(lat_deg=40.0, lon_deg=-95.0)
HEAVY = ("pandas", "geopandas", "apscheduler", "httpx", "alembic")


def world(fields: int, stations: int) -> Situation:
    """Return a made-up situation: fields and stations within 150 NM, two thirds of these with forecasts."""
    chance = random.Random(1)  # noqa: S311 - no secret

    def somewhere() -> tuple[float, float]:
        bearing, miles = chance.uniform(0, 2 * math.pi), 150 * math.sqrt(chance.random())
        return 40.0 + miles / 60 * math.cos(bearing), -95.0 + miles / 46 * math.sin(bearing)

    places, reports, forecasts, hearing = {}, {}, {}, {}
    for i in range(stations):
        name = f"K{i:03d}"
        lat, lon = somewhere()
        places[name] = Station(
            id=name, name=name, lat_deg=lat, lon_deg=lon, elevation_ft=chance.uniform(0, 1500), country="US",
            reports=True, forecasts=i % 3 > 0,
        )  # fmt: skip
        seen = f"{chance.choice(['10SM', '3SM', '6SM'])} BKN{chance.randint(5, 60):03d}"
        raw = f"METAR {name} 101450Z 26012KT {seen} 14/08 A2992"
        report = decode_observation(raw, received_at=NOW)
        assert isinstance(report, Observation)
        reports[name] = report
        hearing[name] = Hearing(reports=True, forecasts=i % 3 > 0, ever_ceiling=True, ever_visibility=True)
        if i % 3:
            text = (
                f"TAF {name} 101130Z 1012/1112 26010KT P6SM BKN{chance.randint(8, 60):03d} TEMPO 1014/1018 3SM BR"
                f" BKN{chance.randint(4, 40):03d} FM101800 28012KT P6SM SCT050"
            )
            forecast = decode_forecast(text, received_at=NOW)
            assert isinstance(forecast, Forecast)
            forecasts[name] = (forecast,)
    airfields = []
    for i in range(fields):
        lat, lon = somewhere()
        own = f"K{i:03d}" if i < stations else None
        if own:
            lat, lon = places[own].lat_deg, places[own].lon_deg
        airfields.append(
            Airfield(
                id=f"F{i}",
                name="field",
                lat_deg=lat,
                lon_deg=lon,
                elevation_ft=chance.uniform(0, 1500),
                country="US",
                station_id=own,
            )
        )
    return Situation(
        read_at=NOW, airfields=tuple(airfields), stations=places, observations=reports, forecasts=forecasts,
        hearing=hearing,
    )  # fmt: skip


def question() -> Question:
    aircraft = load_aircraft(ROOT / "fixtures" / "aircraft" / "D41.toml")
    return Question(
        at=AT, place="40N,95W", now=NOW, fails_at=NOW, failure="alternator", aircraft=aircraft,
        endurance=endurance(aircraft, FlightState(on=NOW.date(), oat_c=10.0, torch=True)), minimums=STANDARD,
        margin_min=15.0, altitude_ft=6000.0, wind=Wind(dir_deg_true=280.0, speed_kt=25.0),
        lowest_safe_ft_amsl=2500.0, oat_c=10.0,
    )  # fmt: skip


def plain_loop(asked: Question, situation: Situation) -> list[int]:
    """Return how many verdicts of weather, area and base come out misses, unknown and meets, by a loop over fields.

    Triangle and window of each field by scalar arithmetic, its verdicts by the plain reading of the method that
    the tests hold the arrays against: the same answer, written first as one would write it first.
    """
    geod, tas, counts = Geod(ellps="WGS84"), asked.aircraft.cruise_tas_kt, [0, 0, 0]
    assert asked.wind is not None
    assert asked.lowest_safe_ft_amsl is not None
    descent = (asked.altitude_ft - asked.lowest_safe_ft_amsl) / asked.aircraft.descent_ft_min
    turn = asked.fails_at + timedelta(minutes=asked.endurance.recognition_min)
    for field in situation.airfields:
        track, _, metres = geod.inv(AT.lon_deg, AT.lat_deg, field.lon_deg, field.lat_deg)
        angle = math.radians(asked.wind.dir_deg_true - track)
        cross = asked.wind.speed_kt * math.sin(angle)
        gs = tas * math.sqrt(1 - (cross / tas) ** 2) - asked.wind.speed_kt * math.cos(angle)
        minutes = metres / 1852.0 / (gs - 10.0) * 60.0
        latest = turn + timedelta(minutes=minutes + descent)
        earliest = turn + timedelta(minutes=metres / 1852.0 / (gs + 10.0) * 60.0)
        oracle = Oracle(
            situation,
            asked.now,
            Asked(
                field=field,
                start=max(asked.now, earliest - timedelta(minutes=30)),
                end=latest + timedelta(minutes=40),
                latest=latest,
                night=False,
                radius_nm=max(3.0, 0.1 * metres / 1852.0) + minutes / 6.0,
                limits=asked.minimums.day,
            ),
        )
        for code in (oracle.weather(), oracle.area(), oracle.break_out(asked.lowest_safe_ft_amsl)):
            counts[int(code)] += 1
    return counts


def best_of(times: int, work: Callable[[], object]) -> float:
    """Return the least seconds of processor time of several runs, children included: a busy machine counts less."""
    seconds = []
    for _ in range(times):
        before = sum(os.times()[:4])
        work()
        seconds.append(sum(os.times()[:4]) - before)
    return min(seconds)


def test_verdicts_against_a_plain_loop(benchmark: BenchmarkFixture) -> None:
    """All checks of 300 fields on arrays, against a loop that does less: at least 10 times as fast."""
    situation, asked = world(300, 100), question()
    shortlist = benchmark(build, asked, situation)
    assert shortlist.verdict.size == 300
    if benchmark.disabled:
        return
    ratio = best_of(2, lambda: plain_loop(asked, situation)) / (
        best_of(3, lambda: [build(asked, situation) for _ in range(10)]) / 10
    )
    benchmark.extra_info["times as fast as the plain loop"] = round(ratio, 1)
    assert ratio >= 10.0


def ask_demo(store: Path) -> list[str]:
    """Return the command that asks the demo's question of a store."""
    options = (
        "--at=44.0,-38.0 --aircraft XA-GLASS --minimums XS-SCHOOL --altitude 6000 --lowest-safe 2200"
        " --now 2026-03-10T15:00Z --json --store"
    )
    return [sys.executable, "-m", "refuge", "find", *options.split(), str(store)]


def test_cold_find(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """A whole cold `refuge find` takes at most 3 times the import of three libraries that it needs."""
    store = tmp_path / "refuge-demo.sqlite"
    run = [sys.executable, "-m", "refuge"]
    subprocess.run([*run, "demo", "--keep", str(store)], check=True, capture_output=True, cwd=ROOT)
    ask = ask_demo(store)

    def find() -> None:
        assert subprocess.run(ask, check=False, capture_output=True, cwd=ROOT).returncode == 0

    benchmark(find)
    if benchmark.disabled:
        return
    imports = [sys.executable, "-c", "import sqlalchemy, pyproj, numpy"]
    ratio = best_of(5, find) / best_of(5, lambda: subprocess.run(imports, check=True))
    benchmark.extra_info["times the import of sqlalchemy, pyproj and numpy"] = round(ratio, 2)
    assert ratio <= 3.0


@pytest.mark.parametrize("library", HEAVY)
def test_find_imports_nothing_heavy(library: str, tmp_path: Path) -> None:
    """A cold `refuge find` does not import what it does not need."""
    store = tmp_path / "refuge-demo.sqlite"
    run = [sys.executable, "-m", "refuge"]
    subprocess.run([*run, "demo", "--keep", str(store)], check=True, capture_output=True, cwd=ROOT)
    options = ask_demo(store)[3:]
    code = (
        f"import sys\nfrom refuge.cli import app\napp.main({options!r}, standalone_mode=False)\n"
        f"assert {library!r} not in sys.modules, 'imported'"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 0, done.stderr[-500:]
