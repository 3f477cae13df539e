"""Local hours with their seasons. Zones: IANA time zone database; dates of change: 15 U.S.C. 260a."""

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from refuge.airfield import ALL_HOURS, EVERY_DAY, Hours
from refuge.local_hours import evening_end, open_through, zone_of

CHICAGO = ZoneInfo("America/Chicago")
DAILY = (Hours(days=EVERY_DAY, opens_min=360, closes_min=1320),)  # 0600-2200


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        ("2026-01-15T13:00", "2026-01-16T03:59", True),  # 0700 to 2159 standard time (UTC-6)
        ("2026-01-15T13:00", "2026-01-16T04:01", False),
        ("2026-01-15T11:59", "2026-01-15T13:00", False),
        ("2026-07-15T11:01", "2026-07-16T02:59", True),  # daylight time (UTC-5): one hour earlier in UTC
        ("2026-07-15T11:01", "2026-07-16T03:01", False),
    ],
)
def test_hours_move_with_the_season(start: str, end: str, expected: bool) -> None:
    assert open_through(DAILY, CHICAGO, utc(start), utc(end)) is expected


def test_a_span_over_midnight_and_spans_that_join() -> None:
    late = (Hours(days=(4,), opens_min=1200, closes_min=120),)  # Friday 2000 to 0200
    assert open_through(late, CHICAGO, utc("2026-01-17T03:00"), utc("2026-01-17T07:59")) is True  # Friday 2100
    assert open_through(late, CHICAGO, utc("2026-01-18T03:00"), utc("2026-01-18T04:00")) is False  # Saturday
    joined = (*DAILY, Hours(days=EVERY_DAY, opens_min=1320, closes_min=360))
    assert open_through(joined, CHICAGO, utc("2026-01-15T13:00"), utc("2026-01-16T13:00")) is True


def test_what_is_always_open_needs_no_local_time_and_all_else_does() -> None:
    window = utc("2026-01-15T13:00"), utc("2026-01-15T14:00")
    assert open_through((ALL_HOURS,), None, *window) is True
    assert open_through(DAILY, None, *window) is None
    assert open_through((), CHICAGO, *window) is False
    assert zone_of(None) is zone_of("Nowhere/Land") is zone_of("../etc/passwd") is None


def test_a_time_that_comes_twice_is_read_against_the_pilot() -> None:
    # 2026-11-01: 0100 to 0200 comes twice, 06:00Z and 07:00Z.
    until_half_past_one = (Hours(days=EVERY_DAY, opens_min=0, closes_min=90),)
    assert open_through(until_half_past_one, CHICAGO, utc("2026-11-01T06:00"), utc("2026-11-01T06:29")) is True
    assert open_through(until_half_past_one, CHICAGO, utc("2026-11-01T06:00"), utc("2026-11-01T07:15")) is False
    from_half_past_one = (Hours(days=EVERY_DAY, opens_min=90, closes_min=600),)
    assert open_through(from_half_past_one, CHICAGO, utc("2026-11-01T06:45"), utc("2026-11-01T08:00")) is False
    assert open_through(from_half_past_one, CHICAGO, utc("2026-11-01T07:31"), utc("2026-11-01T08:00")) is True


@pytest.mark.parametrize(
    ("until", "instant", "out"),
    [
        (time(23), "2026-01-16T03:00", "2026-01-16T05:00"),  # 2100 local: tonight
        (time(23), "2026-01-16T08:00", "2026-01-16T05:00"),  # 0200 local: they went out before
        (time(23), "2026-01-16T17:00", "2026-01-16T05:00"),  # 1100 local: that night is over
        (time(0), "2026-01-16T03:00", "2026-01-16T06:00"),
        (time(1, 30), "2026-01-16T03:00", "2026-01-16T07:30"),
        (time(23), "2026-07-16T03:00", "2026-07-16T04:00"),  # daylight time
    ],
)
def test_when_lights_go_out(until: time, instant: str, out: str) -> None:
    assert evening_end(until, CHICAGO, utc(instant)) == utc(out)
