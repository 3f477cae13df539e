"""Which airfields lie within a circle: each database's index loses none, to the last airfield, anywhere."""
# ruff: noqa: S311 - points from seeds, no secrets

import csv
import random
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod
from sqlalchemy import Engine

from refuge.airfield import Airfield
from refuge.store.engine import open_engine, reading
from refuge.store.places import airfields_within, replace_airfields
from tests.adapters.conftest import ON_POSTGIS

# Oracle throughout: the geodesic on WGS84 (pyproj) to every place, one by one, without any index.
WGS84 = Geod(ellps="WGS84")
M_PER_NM = 1852.0
NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)
Point = tuple[float, float]

ODD: list[Point] = [
    (90.0, 0.0),
    (-90.0, 123.0),
    (89.999, 179.0),
    (-89.9, -45.0),
    (0.0, 180.0),
    (0.0, -180.0),
    (51.9, 179.9999),
    (51.9, -179.9999),
    (-17.8, 177.4),
    (0.0, 0.0),
]
"""Poles, both sides of the antimeridian, and the null island."""


def fields(points: Sequence[Point]) -> list[Airfield]:
    return [
        Airfield(id=f"X{n:05d}", name="X", lat_deg=lat, lon_deg=lon, elevation_ft=None, country="XX", source="x")
        for n, (lat, lon) in enumerate(points)
    ]


def metres(centre: Point, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    return np.asarray(WGS84.inv(np.full(lat.size, centre[1]), np.full(lat.size, centre[0]), lon, lat)[2])


def agree(engine: Engine, points: np.ndarray, centre: Point, *radii_nm: float) -> int:
    """Compare both ways for circles round one centre; return how many places are in them."""
    away_m = metres(centre, points[:, 0], points[:, 1])
    count = 0
    for radius_nm in radii_nm:
        with reading(engine) as conn:
            found = airfields_within(conn, *centre, radius_nm)
        close = metres(centre, found.lat_deg, found.lon_deg) <= radius_nm * M_PER_NM
        numbers = np.array([int(id_[1:]) for id_ in found.ids], dtype=int)[close]
        within = np.flatnonzero(away_m <= radius_nm * M_PER_NM)
        assert sorted(numbers.tolist()) == within.tolist()
        count += within.size
    return count


@pytest.fixture(params=["file", ON_POSTGIS])
def filled(request: pytest.FixtureRequest, make_store: Callable[[str], str]) -> Iterator[Callable[..., Engine]]:
    """Give a function that fills an empty store with points."""
    engine = open_engine(make_store(request.param))

    def fill(points: Sequence[Point]) -> Engine:
        replace_airfields(engine, fields(points), source="x", imported_at=NOW)
        return engine

    yield fill
    engine.dispose()


def scattered(rng: random.Random, count: int) -> list[Point]:
    """Give points all over the globe, crowded at the poles and at the antimeridian."""
    points = list(ODD)
    while len(points) < count:
        lat = rng.choice((rng.uniform(-90, 90), rng.choice((-1, 1)) * (90 - rng.expovariate(1))))
        lon = rng.choice((rng.uniform(-180, 180), rng.choice((-1, 1)) * (180 - rng.expovariate(1))))
        if abs(lat) <= 90 and abs(lon) <= 180:
            points.append((lat, lon))
    return points


def test_circles_all_over_a_crowded_globe(filled: Callable[..., Engine]) -> None:
    rng = random.Random(1)
    points = scattered(rng, 3000)
    engine, table = filled(points), np.array(points)
    radii_nm = (0.0, 0.5, 5.0, 60.0, 150.0, 600.0, 5000.0, 10_900.0)
    assert sum(agree(engine, table, centre, *radii_nm) for centre in [*ODD, *rng.sample(points, 20)]) > 1000


def test_a_circle_through_an_airfield_holds_it(filled: Callable[..., Engine]) -> None:
    rng = random.Random(2)
    points = scattered(rng, 1000)
    engine, table = filled(points), np.array(points)
    for _ in range(150):
        centre, edge = rng.choice(points), np.array([rng.choice(points)])
        agree(engine, table, centre, float(metres(centre, edge[:, 0], edge[:, 1])[0]) / M_PER_NM)


def test_the_real_airfields_to_the_last_one(filled: Callable[..., Engine], shared_data: Path) -> None:
    with (shared_data / "airfields" / "airports.csv").open(encoding="utf-8", newline="") as file:
        points = [(float(row["latitude_deg"]), float(row["longitude_deg"])) for row in csv.DictReader(file)]
    assert len(points) > 80_000  # data/README.md: 84,225
    engine, table = filled(points), np.array(points)
    rng = random.Random(3)
    across = [point for point in points if abs(point[1]) > 178]
    polar = [point for point in points if abs(point[0]) > 75]
    for centre in [*ODD[2:9], *rng.sample(across, 4), *rng.sample(polar, 4), *rng.sample(points, 10)]:
        agree(engine, table, centre, 25.0, 150.0)
