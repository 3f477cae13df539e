from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.errors import InputError
from refuge.zulu import aware_utc, iso, parse_instant, resolve_ddhhmm


def utc(year: int, month: int, day: int, hour: int = 0, minute: int = 0) -> datetime:
    return datetime(year, month, day, hour, minute, tzinfo=UTC)


# interface.md, 'Everywhere': ISO 8601 with zone, seconds optional
@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("2022-10-22T03:00Z", utc(2022, 10, 22, 3)),
        ("2022-10-22T03:00:00Z", utc(2022, 10, 22, 3)),
        ("2022-10-22T03:00:00.5Z", utc(2022, 10, 22, 3) + timedelta(seconds=0.5)),
        (" 2022-10-22 03:00z ", utc(2022, 10, 22, 3)),
        ("2022-10-22T03:00+02:00", utc(2022, 10, 22, 1)),
        ("2022-10-22T03:00-0530", utc(2022, 10, 22, 8, 30)),
        ("2024-02-29T23:59Z", utc(2024, 2, 29, 23, 59)),
    ],
)
def test_instants(text: str, instant: datetime) -> None:
    assert parse_instant(text) == instant
    assert parse_instant(text).tzinfo is UTC


@pytest.mark.parametrize("text", ["2022-10-22T03:00", "2022-10-22 03:00:00"])
def test_a_time_without_zone_is_refused_with_that_reason(text: str) -> None:
    with pytest.raises(InputError, match="has no zone"):
        parse_instant(text)


@pytest.mark.parametrize(
    "text",
    [
        "", "now", "2022-10-22", "03:00Z", "2022-13-01T00:00Z", "2023-02-29T00:00Z", "2022-10-22T24:01Z",
        "2022-10-22T03:60Z", "2022-10-22T03:00+25:00", "20221022T0300Z", "2022-10-22T03:00ZZ",
    ],
)  # fmt: skip
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="is not a time"):
        parse_instant(text)


@pytest.mark.parametrize(
    "text", ["0001-01-01T00:00+05:00", "1969-12-31T23:59Z", "2100-01-01T00:00Z", "9999-12-31T23:59-05:00"]
)
def test_what_the_calendar_cannot_reckon_with_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="is too far away"):
        parse_instant(text)


def test_naive_times_are_refused() -> None:
    naive = datetime(2022, 10, 22, 3)  # noqa: DTZ001 - the point of the test
    with pytest.raises(InputError, match="has no zone"):
        aware_utc(naive)
    with pytest.raises(InputError, match="has no zone"):
        iso(naive)


def test_iso_is_utc_to_the_second() -> None:
    there = datetime(2022, 10, 22, 5, 0, 0, 900_000, tzinfo=timezone(timedelta(hours=2)))
    assert iso(there) == "2022-10-22T03:00:00Z"


@given(st.datetimes(datetime(1970, 1, 1), datetime(2099, 12, 31), timezones=st.just(UTC)))  # noqa: DTZ001
def test_what_is_written_reads_back(instant: datetime) -> None:
    assert parse_instant(iso(instant)) == instant.replace(microsecond=0)


# Hour 24 is midnight: WMO-No. 306, 51.8.1; the rest is the calendar
@pytest.mark.parametrize(
    ("group", "near", "expected"),
    [
        ((22, 3, 0), utc(2022, 10, 22, 3), utc(2022, 10, 22, 3)),
        ((31, 23, 50), utc(2022, 11, 1, 0, 5), utc(2022, 10, 31, 23, 50)),
        ((1, 0, 0), utc(2022, 2, 28, 23, 58), utc(2022, 3, 1)),
        ((1, 0, 0), utc(2024, 2, 28, 23, 58), utc(2024, 3, 1)),
        ((29, 12, 0), utc(2024, 3, 1), utc(2024, 2, 29, 12)),
        ((31, 23, 0), utc(2023, 1, 1), utc(2022, 12, 31, 23)),
        ((1, 1, 0), utc(2022, 12, 31, 23), utc(2023, 1, 1, 1)),
        ((31, 24, 0), utc(2022, 12, 31, 18), utc(2023, 1, 1)),
        ((29, 24, 0), utc(2024, 2, 29), utc(2024, 3, 1)),
        ((28, 24, 0), utc(2023, 2, 28), utc(2023, 3, 1)),
        ((31, 12, 0), utc(9999, 12, 30), utc(9999, 12, 31, 12)),
        ((1, 0, 0), utc(1, 1, 1, 1), utc(1, 1, 1)),
    ],
)
def test_day_and_time_near_an_instant(group: tuple[int, int, int], near: datetime, expected: datetime) -> None:
    assert resolve_ddhhmm(*group, near=near) == expected


@pytest.mark.parametrize("group", [(0, 0, 0), (32, 0, 0), (1, 25, 0), (1, 24, 1), (1, 0, 60), (1, -1, 0)])
def test_what_is_no_day_or_time_is_none(group: tuple[int, int, int]) -> None:
    assert resolve_ddhhmm(*group, near=utc(2022, 10, 22)) is None


@given(
    st.datetimes(datetime(1971, 1, 1), datetime(2199, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001
    st.floats(-13, 13),
)
def test_every_group_within_13_days_comes_back(near: datetime, days: float) -> None:
    meant = (near + timedelta(days=days)).replace(second=0, microsecond=0)
    assert resolve_ddhhmm(meant.day, meant.hour, meant.minute, near=near) == meant
