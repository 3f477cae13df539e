"""Winds aloft as fields: interpolated in height, space and time, or the pilot's figure."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from refuge.earth import WGS84, Position
from refuge.flight.question import Wind
from refuge.flight.situation import Situation
from refuge.flight.triangle import wind_from_components
from refuge.flight.wind_fields import WindFields, temperature_over, wind_fields
from refuge.flight.winds import WindSites, temperature_at, wind_at
from refuge.weather.reports import Level, Levels, LevelsAt, Observation
from refuge.weather.wind import KnownWind, UnknownWind
from tests.core.flight import situations as s
from tests.core.reference import rows

Place = tuple[str, Position, Sequence[Level]]


def level(ft: int, from_deg: int | None, kt: int, temperature_c: int | None = None, *, more: bool = False) -> Level:
    return Level(altitude_ft=ft, dir_deg_true=from_deg, speed_kt=kt, temperature_c=temperature_c, at_least=more)


def bulletin(
    *places: Place, valid_h: float = 0.0, based_h: float = -6.0, use_h: tuple[float, float] = (-4.0, 3.0)
) -> Levels:
    return Levels(
        raw="made up",
        product="FD1",
        based_on=s.NOW + timedelta(hours=based_h),
        valid_at=s.NOW + timedelta(hours=valid_h),
        use_from=s.NOW + timedelta(hours=use_h[0]),
        use_to=s.NOW + timedelta(hours=use_h[1]),
        sites=tuple(LevelsAt(site=name, levels=tuple(levels)) for name, _, levels in places),
    )


def known(*bulletins: Levels, places: Sequence[Place], reports: Sequence[Observation] = ()) -> Situation:
    stations = [s.station(f"X{name}", where) for name, where, _ in places]
    return replace(
        s.situation([], stations, reports=reports),
        winds=tuple(bulletins),
        wind_sites={name: station for (name, _, _), station in zip(places, stations, strict=True)},
    )


def fields(found: Situation, altitude_ft: float, at: datetime = s.NOW) -> WindFields:
    return wind_fields(s.question(wind=None, altitude_ft=altitude_ft), found, at)


def wind_here(field: WindSites, where: Position = s.HERE) -> tuple[float, float, bool]:
    """Return from where and how strong the wind blows at a place, and whether that is known."""
    wind = wind_at(field, np.array([where.lat_deg]), np.array([where.lon_deg]))
    direction, speed = wind_from_components(wind.east_kt, wind.north_kt)
    return float(direction[0]), float(speed[0]), bool(wind.known[0])


@pytest.mark.parametrize("row", rows("winds_aloft_between"), ids=lambda row: row["id"])
def test_between_levels(row: dict[str, str]) -> None:
    levels = [
        level(int(row[f"{end}_ft"]), int(row[f"{end}_dir_deg_true"]), int(row[f"{end}_kt"]))
        for end in ("lower", "upper")
    ]
    place = ("AAA", s.HERE, levels)
    found = fields(known(bulletin(place), places=[place]), float(row["altitude_ft"]))
    assert len(found.fields) == 1
    direction, speed, is_known = wind_here(found.fields[0])
    assert is_known
    assert speed == pytest.approx(float(row["speed_kt"]), abs=float(row["speed_tolerance_kt"]))
    assert found.strongest_kt == pytest.approx(speed)
    if row["dir_deg_true"]:
        off = (direction - float(row["dir_deg_true"]) + 180) % 360 - 180
        assert abs(off) <= float(row["dir_tolerance_deg"])


def test_temperature_between_levels() -> None:
    """F24: 6,000 ft +12 and 9,000 ft +3 make +7.5 at 7,500 ft (reference.md 6)."""
    place = ("AAA", s.HERE, [level(6000, 270, 20, 12), level(9000, 270, 20, 3)])
    found = known(bulletin(place), places=[place])
    here = np.array([s.HERE.lat_deg]), np.array([s.HERE.lon_deg])
    value, is_known = temperature_at(fields(found, 7500).level, *here)
    assert (float(value[0]), bool(is_known[0])) == pytest.approx((7.5, True))
    over = temperature_over(found, s.HERE, 7500.0, s.NOW)
    assert over is not None
    assert (over.celsius, over.at_least) == pytest.approx((7.5, False))


def test_without_winds_aloft_a_report_bounds_the_cold() -> None:
    """15 C at 1,000 ft less 9.8 C a km over 5,000 ft (1.524 km): 0.06 C (dry adiabat, WMO-No. 182, from memory)."""
    place: Place = ("AAA", s.HERE, [])
    found = known(places=[place], reports=[s.report("XAAA", s.conditions(), temperature_c=15.0)])
    over = temperature_over(found, s.HERE, 6000.0, s.NOW)
    assert over is not None
    assert (over.celsius, over.at_least) == pytest.approx((0.06, True), abs=0.01)
    assert temperature_over(known(places=[place]), s.HERE, 6000.0, s.NOW) is None


def test_the_pilots_figure_counts_everywhere() -> None:
    found = wind_fields(s.question(wind=Wind(dir_deg_true=280.0, speed_kt=25.0)), s.situation([]), s.NOW)
    for where in (s.HERE, Position(lat_deg=-90.0, lon_deg=0.0)):
        assert wind_here(found.fields[0], where) == pytest.approx((280.0, 25.0, True))
    assert "pilot's figure" in found.said[0]
    assert not temperature_at(found.level, np.array([0.0]), np.array([0.0]))[1][0]


def test_nearer_sites_weigh_more_and_far_ones_nothing() -> None:
    near, far = ("AAA", s.at(0.0, 50.0), [level(6000, 360, 30)]), ("BBB", s.at(0.0, 150.0), [level(6000, 360, 60)])
    both = fields(known(bulletin(near, far), places=[near, far]), 6000).fields[0]
    # 1 / distance squared: (30 x 9 + 60) / 10
    assert wind_here(both)[1] == pytest.approx(33.0, abs=0.1)
    assert wind_here(both, near[1])[1] == pytest.approx(30.0, abs=0.01)
    assert wind_here(both, s.at(180.0, 140.0))[2]  # 190 NM from one of them
    assert wind_here(both, s.at(180.0, 160.0))[1:] == (0.0, False)


@pytest.mark.parametrize(
    "levels",
    [
        [],
        [level(9000, 270, 20)],
        [level(3000, 270, 20)],
        [level(3000, 270, 199, more=True), level(9000, 270, 199, more=True)],
    ],
)
def test_no_level_around_the_height_is_not_known(levels: list[Level]) -> None:
    place = ("AAA", s.HERE, levels)
    found = fields(known(bulletin(place), places=[place]), 6000)
    assert not all(wind_here(field)[2] for field in found.fields)


@pytest.mark.parametrize("use_h", [(-10.0, 0.0), (0.5, 9.0)])
def test_a_bulletin_outside_its_use_says_nothing(use_h: tuple[float, float]) -> None:
    place = ("AAA", s.HERE, [level(6000, 270, 20)])
    found = fields(known(bulletin(place, use_h=use_h, valid_h=sum(use_h) / 2), places=[place]), 6000)
    assert not wind_here(found.fields[0])[2]
    assert "no winds aloft" in found.said[0]
    assert found.strongest_kt == 0.0


def test_a_site_whose_place_nobody_knows_says_nothing() -> None:
    place = ("AAA", s.HERE, [level(6000, 270, 20)])
    lost = replace(known(bulletin(place), places=[place]), wind_sites={})
    assert not wind_here(fields(lost, 6000).fields[0])[2]


def test_newer_data_replace_older_ones() -> None:
    old, new = ("AAA", s.HERE, [level(6000, 360, 10)]), ("AAA", s.HERE, [level(6000, 360, 50)])
    for bulletins in (
        (bulletin(old, based_h=-12), bulletin(new, based_h=-6)),
        (bulletin(new, based_h=-6), bulletin(old, based_h=-12)),
    ):
        assert wind_here(fields(known(*bulletins, places=[old]), 6000).fields[0])[1] == pytest.approx(50.0)


def test_of_one_data_the_valid_time_nearest_counts() -> None:
    early, late = ("AAA", s.HERE, [level(6000, 360, 10)]), ("AAA", s.HERE, [level(6000, 360, 50)])
    both = bulletin(early, valid_h=-3), bulletin(late, valid_h=-1)
    assert wind_here(fields(known(*both, places=[early]), 6000).fields[0])[1] == pytest.approx(50.0)


def test_between_two_valid_times() -> None:
    one, other = ("AAA", s.HERE, [level(6000, 360, 10, 10)]), ("AAA", s.HERE, [level(6000, 360, 50, 2)])
    alone = ("BBB", s.at(0.0, 10.0), [level(6000, 360, 90)])
    both = bulletin(one, alone, valid_h=-1), bulletin(other, valid_h=3, use_h=(-1, 6))
    found = fields(known(*both, places=[one, alone]), 6000)
    assert wind_here(found.fields[0])[1] == pytest.approx(20.0)  # a quarter of the way, at the sites of both
    assert len(found.said) == 2
    value, _ = temperature_at(found.level, np.array([s.HERE.lat_deg]), np.array([s.HERE.lon_deg]))
    assert float(value[0]) == pytest.approx(8.0)


def test_low_and_high_levels_of_one_site_are_one_column() -> None:
    low, high = ("AAA", s.HERE, [level(3000, 360, 10)]), ("AAA", s.HERE, [level(9000, 360, 40)])
    found = fields(known(bulletin(low), bulletin(high), places=[low]), 6000)
    assert wind_here(found.fields[0])[1] == pytest.approx(25.0)


def test_below_the_lowest_level_the_worse_of_it_and_the_surface_counts() -> None:
    mountain = ("AAA", s.HERE, [level(9000, 270, 40), level(12000, 270, 60)])
    said = s.conditions(wind=KnownWind(dir_deg_true=180, speed_kt=10.0))
    report = s.report("XAAA", said)
    found = fields(known(bulletin(mountain), places=[mountain], reports=[report]), 6000)
    assert sorted(round(wind_here(field)[1]) for field in found.fields) == [10, 40]
    assert found.strongest_kt == pytest.approx(40.0)
    for silent in (
        [],
        [s.report("XAAA", said, age_min=80)],
        [s.report("XAAA", s.conditions(wind=UnknownWind(reason="/")))],
    ):
        without = fields(known(bulletin(mountain), places=[mountain], reports=silent), 6000)
        assert not all(wind_here(field)[2] for field in without.fields)


def test_a_missing_surface_wind_does_not_hide_the_level_above() -> None:
    valley, mountain = ("AAA", s.at(90.0, 150.0), [level(6000, 270, 0), level(9000, 270, 0)]), (
        "BBB", s.HERE, [level(9000, 270, 60)],
    )  # fmt: skip
    found = fields(known(bulletin(valley, mountain), places=[valley, mountain]), 6000)
    assert max(wind_here(field)[1] for field in found.fields) == pytest.approx(60.0, abs=0.1)


def test_light_and_variable_air_has_no_component() -> None:
    place = ("AAA", s.HERE, [level(6000, None, 0), level(9000, 270, 20)])
    found = known(bulletin(place), places=[place], reports=[s.report("XAAA", s.conditions())])
    assert wind_here(fields(found, 6000).fields[0])[1:] == (0.0, True)
    assert [wind_here(field)[1:] for field in fields(found, 3000).fields] == [(0.0, True), (0.0, True)]


@pytest.mark.parametrize(("lat_deg", "across_deg"), [(0.0, 8.0), (45.0, 30.0), (-70.0, 4.0), (85.0, 9.0)])
def test_of_many_sites_the_four_nearest_count_as_of_few(lat_deg: float, across_deg: float) -> None:
    """Each point by itself is given its nearest 30 sites alone, measured one by one; over the antimeridian too."""
    chance = np.random.default_rng(3)
    lat, lon = lat_deg + chance.uniform(-4, 4, 400), 180.0 + chance.uniform(-across_deg, across_deg, 400)
    sites = WindSites(
        lat_deg=lat, lon_deg=(lon + 180.0) % 360.0 - 180.0, east_kt=chance.uniform(-40, 40, 400),
        north_kt=chance.uniform(-40, 40, 400), temperature_c=np.zeros(400),
        has_temperature=np.zeros(400, dtype=bool),
    )  # fmt: skip
    points = lat_deg + chance.uniform(-4, 4, 50), 180.0 - chance.uniform(-across_deg, across_deg, 50)
    found = wind_at(sites, *points)
    for i, (at_lat, at_lon) in enumerate(zip(*points, strict=True)):
        apart = [WGS84.inv(at_lon, at_lat, *place)[2] / 1852.0 for place in zip(lon, lat, strict=True)]
        near = np.argsort(apart)[:4]
        used = [j for j in near if apart[j] <= 200.0]
        weights = np.array([max(apart[j], 0.5) ** -2 for j in used])
        assert bool(found.known[i]) == bool(used)
        if used:
            expected = weights @ sites.east_kt[used] / weights.sum(), weights @ sites.north_kt[used] / weights.sum()
            assert (found.east_kt[i], found.north_kt[i]) == pytest.approx(expected, abs=1e-9)
