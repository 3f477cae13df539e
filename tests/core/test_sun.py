"""The sun against USNO's tables and worked days, and the laws that its functions keep."""

import csv
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.errors import InputError
from refuge.sun import CIVIL_TWILIGHT_DEG, RISE_SET_DEG, Stays, _position, altitude_deg, is_day, sun_day
from refuge.zulu import parse_instant

REFERENCE = Path(__file__).resolve().parents[2] / "fixtures" / "reference"
EVENTS = ("dawn", "rise", "set", "dusk")

latitudes = st.floats(-89.0, 89.0)
longitudes = st.floats(-180.0, 180.0)
instants = st.datetimes(datetime(2020, 1, 1), datetime(2040, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows("sun_days.csv"), ids=lambda row: row["id"])
def test_worked_days(row: dict[str, str]) -> None:
    day = sun_day(float(row["lat_deg"]), float(row["lon_deg"]), parse_instant(row["near_utc"]))
    for event in EVENTS:
        found, wanted = getattr(day, event), row[f"{event}_utc"]
        if wanted in ("above", "below"):
            assert found is Stays(wanted), event
        else:
            assert abs(found - parse_instant(wanted)) <= timedelta(minutes=float(row["tolerance_min"])), event


@pytest.mark.parametrize("row", rows("usno_sun_2026.csv"), ids=lambda row: f"{row['place']}-{row['date_utc']}")
def test_usno_place_days_within_a_minute(row: dict[str, str]) -> None:
    """USNO lists what falls on a UTC date: gather it from the solar days around, by instant."""
    date = datetime.fromisoformat(row["date_utc"]).replace(tzinfo=UTC)
    lat_deg, lon_deg = float(row["lat_deg"]), float(row["lon_deg"])
    days = [sun_day(lat_deg, lon_deg, date + timedelta(hours=hours)) for hours in (-12, 12, 36)]
    for event in EVENTS:
        on_date = [
            instant
            for day in days
            if isinstance(instant := getattr(day, event), datetime) and date <= instant < date + timedelta(days=1)
        ]
        clock = row[f"{event}_utc"]
        if not clock:
            assert on_date == [], event
            continue
        wanted = parse_instant(f"{row['date_utc']}T{clock}Z")
        assert min(abs(instant - wanted) for instant in on_date) <= timedelta(minutes=1), event


@given(latitudes, longitudes, instants)
def test_the_sun_stands_at_its_limit_when_it_crosses_it(lat: float, lon: float, near: datetime) -> None:
    day = sun_day(lat, lon, near)
    limits = {"dawn": CIVIL_TWILIGHT_DEG, "rise": RISE_SET_DEG, "set": RISE_SET_DEG, "dusk": CIVIL_TWILIGHT_DEG}
    for event, limit in limits.items():
        found = getattr(day, event)
        if isinstance(found, datetime):
            assert float(altitude_deg(lat, lon, found)) == pytest.approx(limit, abs=1e-5)
        else:
            noon = float(altitude_deg(lat, lon, day.noon))
            assert (noon < limit) is (found is Stays.BELOW)


@given(latitudes, longitudes, instants)
def test_noon_is_near_and_the_events_are_in_order(lat: float, lon: float, near: datetime) -> None:
    day = sun_day(lat, lon, near)
    assert abs(day.noon - near) <= timedelta(hours=12, minutes=1)
    found = [x for x in (day.dawn, day.rise, day.noon, day.set, day.dusk) if isinstance(x, datetime)]
    assert found == sorted(found)


def test_hour_angle_and_declination_of_a_worked_example() -> None:
    """Meeus, Astronomical Algorithms, 2nd ed., examples 25.a and 28.a (from memory): 1992-10-13 0h.

    Apparent declination -7.78507 degrees, equation of time 3.427351 degrees; the formula promises
    a minute of arc.
    """
    midnight = datetime(1992, 10, 13, tzinfo=UTC).timestamp()
    hour_angle, declination = _position(np.asarray(0.0), np.asarray(midnight))
    assert float(np.degrees(declination)) == pytest.approx(-7.78507, abs=1 / 60)
    assert float(np.degrees(hour_angle)) == pytest.approx(-180 + 3.427351, abs=1 / 60)


@given(longitudes, instants)
def test_the_hour_angle_is_zero_at_noon(lon: float, near: datetime) -> None:
    noon_s = sun_day(0.0, lon, near).noon.timestamp()
    hour_angle, _ = _position(np.asarray(lon), np.asarray(noon_s))
    assert abs(float(np.degrees(hour_angle))) * 240.0 < 0.01  # seconds of time


@given(latitudes, longitudes, instants)
def test_noon_is_the_highest_point(lat: float, lon: float, near: datetime) -> None:
    """Within the tenths of a degree that the sun's own drift in declination makes by a pole."""
    noon = sun_day(lat, lon, near).noon
    around = [noon + timedelta(minutes=minutes) for minutes in range(-720, 721, 30)]
    assert float(altitude_deg(lat, lon, noon)) >= float(altitude_deg(lat, lon, around).max()) - 0.25


@given(latitudes, longitudes, instants, st.floats(0, 60))
def test_day_over_a_window_is_day_at_every_instant_of_it(
    lat: float, lon: float, start: datetime, hours: float
) -> None:
    end = start + timedelta(hours=hours)
    every = np.linspace(start.timestamp(), end.timestamp(), 200)
    lowest = float(altitude_deg(lat, lon, every).min())
    if bool(is_day(lat, lon, start, end)):
        assert lowest >= RISE_SET_DEG - 1e-3
    else:
        # 200 samples in 60 hours may step over a dip of a tenth of a degree, no more.
        assert lowest < RISE_SET_DEG + 0.15


@given(latitudes, longitudes, instants, st.floats(0, 6), st.floats(0, 6))
def test_a_longer_window_never_turns_night_into_day(
    lat: float, lon: float, start: datetime, hours: float, more: float
) -> None:
    end = start + timedelta(hours=hours)
    longer = bool(is_day(lat, lon, start, end + timedelta(hours=more)))
    assert not longer or bool(is_day(lat, lon, start, end))


def test_a_window_from_evening_to_morning_is_not_day() -> None:
    """G1's place: up at 20Z and at 20Z the next day, down in between."""
    start = datetime(2025, 12, 21, 20, tzinfo=UTC)
    assert bool(is_day(40.0, -105.0, start, start))
    assert not bool(is_day(40.0, -105.0, start, start + timedelta(days=1)))


def test_a_short_dip_below_the_horizon_at_midnight_is_not_day() -> None:
    """65.63N at the solstice: the sun dips by a tenth of a degree, far from both ends of the window."""
    midnight = sun_day(65.63, 0.0, datetime(2026, 6, 21, 12, tzinfo=UTC)).noon - timedelta(hours=12)
    start, end = midnight - timedelta(hours=2), midnight + timedelta(hours=3)
    lowest, first, last = (float(altitude_deg(65.63, 0.0, instant)) for instant in (midnight, start, end))
    assert RISE_SET_DEG - 0.2 < lowest < RISE_SET_DEG < min(first, last)
    assert not bool(is_day(65.63, 0.0, start, end))


def test_a_window_of_many_days_asks_every_midnight() -> None:
    """Tromso: no night on 2026-06-21 (USNO); by 4 August the sun sets again."""
    tromso = (69.65, 18.96)
    june, july, august = (datetime(2026, *day, 11, tzinfo=UTC) for day in ((6, 15), (7, 10), (8, 4)))
    assert isinstance(sun_day(*tromso, august).set, datetime)
    assert bool(is_day(*tromso, june, july))
    assert not bool(is_day(*tromso, july, august))


@given(st.lists(st.tuples(latitudes, longitudes, st.floats(0, 400), st.floats(0, 50)), min_size=2, max_size=6))
def test_many_windows_at_once_answer_as_one_by_one(cases: list[tuple[float, float, float, float]]) -> None:
    lat, lon, from_h, hours = (np.array(column) for column in zip(*cases, strict=True))
    start_s = datetime(2026, 6, 1, tzinfo=UTC).timestamp() + from_h * 3600.0
    end_s = start_s + hours * 3600.0
    one_by_one = [bool(is_day(*each)) for each in zip(lat, lon, start_s.tolist(), end_s.tolist(), strict=True)]
    assert is_day(lat, lon, start_s, end_s).tolist() == one_by_one


def test_day_starts_at_sunrise_and_ends_at_sunset() -> None:
    """USNO, Belgrade, 2026-03-20: rise 04:42, set 16:50, each to the minute."""
    noon = datetime(2026, 3, 20, 11, tzinfo=UTC)
    starts = [noon.replace(hour=4, minute=minute) for minute in (41, 44)]
    ends = [noon.replace(hour=16, minute=minute) for minute in (49, 52)]
    assert is_day(44.82, 20.46, starts, noon).tolist() == [False, True]
    assert is_day(44.82, 20.46, noon, ends).tolist() == [True, False]


def test_places_and_times_broadcast() -> None:
    lat, lon = np.array([[44.82], [-33.87], [69.65]]), np.array([[20.46], [151.21], [18.96]])
    times = [datetime(2026, 6, 21, hour, tzinfo=UTC) for hour in (0, 6, 12, 18)]
    table = altitude_deg(lat, lon, times)
    assert table.shape == (3, 4)
    for row in range(3):
        for column in range(4):
            one = altitude_deg(float(lat[row, 0]), float(lon[row, 0]), times[column])
            assert float(one) == pytest.approx(float(table[row, column]), abs=1e-12)
    seconds = np.array([time.timestamp() for time in times])
    assert np.array_equal(altitude_deg(lat, lon, seconds), table)
    # Midnight sun at Tromso, as USNO's empty row says; the others have a night.
    assert is_day(lat[:, 0], lon[:, 0], times[0], times[0] + timedelta(days=1)).tolist() == [False, False, True]


def test_a_zone_is_only_another_way_to_write_an_instant() -> None:
    here = datetime(2026, 6, 21, 5, tzinfo=timezone(timedelta(hours=-7)))
    assert float(altitude_deg(40, -105, here)) == float(altitude_deg(40, -105, here.astimezone(UTC)))
    assert sun_day(40, -105, here).rise == sun_day(40, -105, here.astimezone(UTC)).rise


def test_what_is_not_known_is_night() -> None:
    noon = datetime(2026, 6, 21, 12, tzinfo=UTC)
    assert np.isnan(altitude_deg(float("nan"), 0.0, noon))
    assert not bool(is_day(float("nan"), 0.0, noon, noon))
    assert not bool(is_day(0.0, float("nan"), noon, noon))
    assert not bool(is_day(0.0, 0.0, noon, np.array(float("nan"))))


@pytest.mark.parametrize(
    ("lat", "instant", "words"),
    [
        (90.1, datetime(2026, 1, 1, tzinfo=UTC), "beyond a pole"),
        (0.0, datetime(2026, 1, 1), "no zone"),  # noqa: DTZ001 - that is the case
        (0.0, datetime(2130, 1, 1, tzinfo=UTC), "outside 1900 to 2100"),
        (0.0, datetime(1880, 1, 1, tzinfo=UTC), "outside 1900 to 2100"),
    ],
)
def test_limits_raise(lat: float, instant: datetime, words: str) -> None:
    with pytest.raises(InputError, match=words):
        altitude_deg(lat, 0.0, instant)
    with pytest.raises(InputError, match=words):
        sun_day(lat, 0.0, instant)


def test_a_window_that_ends_before_it_starts_raises() -> None:
    noon = datetime(2026, 6, 21, 12, tzinfo=UTC)
    with pytest.raises(InputError, match="ends before it starts"):
        is_day(0.0, 0.0, noon, noon - timedelta(seconds=1))
