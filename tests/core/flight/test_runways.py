"""The runway check under the winds that may be met; components as in test_crosswind."""

from dataclasses import replace

import pytest

from refuge.airfield import Airfield, Runway, RunwayEnd
from refuge.flight.entries import Entry, entry
from refuge.flight.minimums import FLOOR, Minimums
from refuge.flight.shortlist import build
from refuge.weather.reports import Forecast
from refuge.weather.wind import KnownWind, UnknownWind, Wind
from tests.core.flight import situations as s

HERE = s.at(90.0, 10.0)
EAST_WEST = Runway(idents="09/27", length_ft=3000, surface="hard", heading_deg_true=90.0)
NORTH_SOUTH = Runway(idents="18/36", length_ft=2500, surface="hard", heading_deg_true=180.0)
CROSS_10 = replace(FLOOR, max_crosswind_kt=10.0)
WEST_20 = KnownWind(dir_deg_true=270, speed_kt=20.0)


def shown(
    wind: Wind,
    *runways: Runway,
    minimums: Minimums = CROSS_10,
    forecasts: tuple[Forecast, ...] = (),
    age_min: float = 10.0,
    silent: bool = False,
    **of_field: object,
) -> Entry:
    field: Airfield = replace(s.airfield("F", HERE, station="XA", runways=runways), **of_field)  # type: ignore[arg-type]
    said = s.conditions(s.SKC, 10.0, wind=wind)
    reports = [] if silent else [s.report("XA", said, age_min=age_min)]
    known = s.situation([field], [s.station("XA", HERE)], reports=reports, forecasts=forecasts)
    return entry(build(s.question(minimums=minimums), known), 0)


def verdict(wind: Wind, *runways: Runway, **more: object) -> str:
    return shown(wind, *runways, **more).checks["runway"].verdict  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("wind", "runways", "expected"),
    [
        (WEST_20, (EAST_WEST,), "meets"),
        (WEST_20, (NORTH_SOUTH,), "misses"),
        (WEST_20, (NORTH_SOUTH, EAST_WEST), "meets"),
        (KnownWind(dir_deg_true=300, speed_kt=20.0), (EAST_WEST,), "meets"),  # 10.0 kt across: the limit itself
        (KnownWind(dir_deg_true=301, speed_kt=20.0), (EAST_WEST,), "misses"),
        (KnownWind(dir_deg_true=300, speed_kt=15.0, gust_kt=22.0), (EAST_WEST,), "misses"),
        (KnownWind(dir_deg_true=None, speed_kt=10.0, variable=True), (EAST_WEST,), "meets"),
        (KnownWind(dir_deg_true=None, speed_kt=11.0, variable=True), (EAST_WEST,), "misses"),
        (UnknownWind(reason="no sensor"), (EAST_WEST,), "unknown"),
        (WEST_20, (replace(EAST_WEST, heading_deg_true=None),), "unknown"),
        (s.CALM, (replace(EAST_WEST, heading_deg_true=None),), "unknown"),
        (WEST_20, (replace(EAST_WEST, closed=True),), "misses"),
        (WEST_20, (replace(EAST_WEST, surface="water"),), "misses"),
        (WEST_20, (replace(EAST_WEST, closed=True), NORTH_SOUTH), "misses"),
    ],
)
def test_crosswind_against_the_minimum(wind: Wind, runways: tuple[Runway, ...], expected: str) -> None:
    assert verdict(wind, *runways) == expected


def test_one_runway_must_have_it_all() -> None:
    both = replace(CROSS_10, runway_length_ft=2800.0)
    assert verdict(WEST_20, EAST_WEST, NORTH_SOUTH, minimums=both) == "meets"
    north = KnownWind(dir_deg_true=360, speed_kt=20.0)
    assert verdict(north, EAST_WEST, NORTH_SOUTH, minimums=both) == "misses"  # the one into the wind is short


def test_every_wind_that_may_come_counts() -> None:
    north = s.conditions(s.SKC, 10.0, wind=KnownWind(dir_deg_true=360, speed_kt=25.0))
    west = s.conditions(s.SKC, 10.0, wind=WEST_20)
    tempo = replace(s.group("TEMPO", -1.0, 3.0), wind=north.wind)
    base = s.forecast("XA", west)
    base = replace(base, groups=(replace(base.groups[0], wind=west.wind),))
    turning = replace(base, groups=(*base.groups, tempo))
    assert verdict(WEST_20, EAST_WEST, forecasts=(base,)) == "meets"
    assert verdict(WEST_20, EAST_WEST, forecasts=(turning,)) == "misses"
    assert verdict(WEST_20, EAST_WEST, NORTH_SOUTH, forecasts=(turning,)) == "meets"  # each wind has its runway
    silent_wind = replace(base, groups=(replace(base.groups[0], wind=None),))
    assert verdict(WEST_20, EAST_WEST, forecasts=(silent_wind,)) == "unknown"


def test_an_old_report_or_none_proves_no_wind() -> None:
    assert verdict(WEST_20, EAST_WEST, age_min=55.0) == "unknown"  # over an hour old at the latest arrival
    assert verdict(WEST_20, NORTH_SOUTH, age_min=55.0) == "unknown"  # and misses no more than it meets
    assert verdict(WEST_20, EAST_WEST, silent=True) == "unknown"


@pytest.mark.parametrize("other_age_min", [5.0, 20.0, 74.0])
def test_each_report_counts_by_its_own_age(other_age_min: float) -> None:
    """method.md 4: up to 60 min the latest report must meet; an older one beside it excuses nothing."""
    north = s.conditions(s.SKC, 10.0, wind=KnownWind(dir_deg_true=360, speed_kt=25.0))
    west = s.conditions(s.SKC, 10.0, wind=WEST_20)
    base = s.forecast("XA", west)
    base = replace(base, groups=(replace(base.groups[0], wind=west.wind),))
    known = s.situation(
        [s.airfield("F", HERE, runways=(EAST_WEST,))],
        [s.station("XA", s.at(0.0, 5.0, HERE)), s.station("XB", s.at(0.0, 8.0, HERE))],
        reports=[s.report("XA", north, age_min=5.0), s.report("XB", west, age_min=other_age_min)],
        forecasts=[base],
    )
    found = build(s.question(minimums=CROSS_10, fails_in_min=35.0), known)
    after_s = found.basis.arrival.latest_s[0] - s.NOW.timestamp()
    assert 46.0 < after_s / 60.0 <= 55.0
    assert entry(found, 0).checks["runway"].verdict == "misses"


def test_a_displaced_threshold_shortens_the_runway() -> None:
    ends = (
        RunwayEnd(ident="09", heading_deg_true=90.0, landing_ft=2400),
        RunwayEnd(ident="27", heading_deg_true=270.0, landing_ft=3000),
    )
    asked = replace(FLOOR, runway_length_ft=2500.0)
    assert verdict(s.CALM, EAST_WEST, minimums=asked) == "meets"
    assert verdict(s.CALM, replace(EAST_WEST, ends=ends), minimums=asked) == "misses"
    unsaid = (replace(ends[0], landing_ft=None), ends[1])
    assert verdict(s.CALM, replace(EAST_WEST, ends=unsaid), minimums=asked) == "unknown"


@pytest.mark.parametrize(("private", "expected"), [(True, "misses"), (False, "meets"), (None, "unknown")])
def test_private_fields_by_setting(private: bool | None, expected: str) -> None:
    asked = replace(FLOOR, runway_length_ft=2000.0, no_private=True)
    assert verdict(s.CALM, EAST_WEST, minimums=asked, private=private) == expected
    assert verdict(s.CALM, EAST_WEST, minimums=replace(asked, no_private=None), private=private) == "meets"


def test_the_best_runway_is_named() -> None:
    found = shown(KnownWind(dir_deg_true=300, speed_kt=20.0), NORTH_SOUTH, EAST_WEST)
    assert found.best_runway is not None
    assert found.best_runway.ident == "27"
    assert found.best_runway.crosswind_kt == pytest.approx(10.0)
    assert found.best_runway.tailwind_kt == pytest.approx(-17.3205, abs=1e-3)
    assert "best runway 27, at the worst crosswind 10 kt, no tailwind" in found.checks["runway"].why
    assert shown(WEST_20).best_runway is None


def test_density_altitude_is_a_note() -> None:
    # 5,000 ft, 1013.25 hPa, 25 C: standard is 5.1 C, and 19.9 x 120 = 2,388 more (rule of thumb, from memory).
    field = s.airfield("F", HERE, station="XA", elevation_ft=5000.0)
    report = replace(s.report("XA", s.conditions(s.SKC, 10.0), temperature_c=25.0), pressure_hpa=1013.25)
    known = s.situation([field], [s.station("XA", HERE, elevation_ft=5000.0)], reports=[report])
    note = entry(build(s.question(altitude_ft=9000.0), known), 0).density_altitude
    assert note is not None
    assert "7,400 ft" in note
    bare = replace(report, pressure_hpa=None)
    assert entry(build(s.question(), replace(known, observations={"XA": bare})), 0).density_altitude is None
