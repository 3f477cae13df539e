"""When a brief is due: once a day by local time. Changes of clocks are those of the tz database (2025b and later).

Europe: forward at 01:00 UTC on the last Sunday of March, back at 01:00 UTC on the last of October. United States:
02:00 local, second Sunday of March, first of November. Lord Howe: half an hour, first Sundays of October (02:00
becomes 02:30) and April (02:00 becomes 01:30). Samoa left out 30 December 2011 (offset -10 before, +14 after).
"""

from collections import Counter
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from refuge.errors import InputError
from refuge.worker.due import BriefPlan, Due, brief_plan

HEADING = "flight,from,to,departs,aircraft,minimums\n"


def plan(zone: str, *times: time) -> BriefPlan:
    return BriefPlan(roster=Path("r.csv"), times=times, zone=ZoneInfo(zone), folder=Path(), store=None)


def fired(briefs: BriefPlan, start: datetime, end: datetime) -> list[datetime]:
    """Return when the scheduler would fire, asking as it does: with the last time, and a clock a little later."""
    trigger, previous, now, times = Due(briefs), None, start, []
    while (at := trigger.get_next_fire_time(previous, now)) < end:
        times.append(at)
        previous, now = at, at + timedelta(milliseconds=3)
    return times


@pytest.mark.parametrize(
    ("zone", "at", "day", "due"),
    [
        ("Europe/Berlin", time(7), "2026-03-10", "2026-03-10T06:00"),
        ("Europe/Berlin", time(7), "2026-07-10", "2026-07-10T05:00"),
        # 02:30 is not there on 29 March: as much later, 03:30 summer time
        ("Europe/Berlin", time(2, 30), "2026-03-29", "2026-03-29T01:30"),
        ("Europe/Berlin", time(7), "2026-03-29", "2026-03-29T05:00"),
        # 02:30 comes twice on 25 October, first in summer time
        ("Europe/Berlin", time(2, 30), "2026-10-25", "2026-10-25T00:30"),
        ("Europe/Berlin", time(7), "2026-10-25", "2026-10-25T06:00"),
        ("America/New_York", time(2, 15), "2026-03-08", "2026-03-08T07:15"),
        ("America/New_York", time(1, 15), "2026-11-01", "2026-11-01T05:15"),
        ("Australia/Lord_Howe", time(2, 10), "2026-10-04", "2026-10-03T15:40"),
        ("Australia/Lord_Howe", time(1, 45), "2026-04-05", "2026-04-04T14:45"),
        ("Asia/Kathmandu", time(6), "2026-01-01", "2026-01-01T00:15"),
        ("UTC", time(0), "2026-01-01", "2026-01-01T00:00"),
    ],
)
def test_exactly_one_brief_a_day(zone: str, at: time, day: str, due: str) -> None:
    briefs, date = plan(zone, at), datetime.fromisoformat(day).date()
    midnight = datetime.combine(date, time(), tzinfo=ZoneInfo(zone))
    start, end = midnight.astimezone(UTC), (midnight + timedelta(days=1)).astimezone(UTC)
    expected = datetime.fromisoformat(due).replace(tzinfo=UTC)
    assert fired(briefs, start, end) == [expected]
    assert briefs.last_due(end - timedelta(seconds=1)) == expected
    assert briefs.last_due(expected) == expected
    assert briefs.next_due(expected) > end - timedelta(seconds=1)
    assert briefs.next_due(expected - timedelta(microseconds=1)) == expected


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Africa/Cairo"])
@pytest.mark.parametrize("at", [time(0), time(0, 30), time(1, 30), time(2), time(2, 30), time(3), time(23, 59)])
def test_a_year_has_365_of_them(zone: str, at: time) -> None:
    local = ZoneInfo(zone)
    start, end = (datetime(year, 1, 1, tzinfo=local).astimezone(UTC) for year in (2026, 2027))
    days = Counter(due.astimezone(local).date() for due in fired(plan(zone, at), start, end))
    assert len(days) == 365
    assert set(days.values()) == {1}


def test_several_times_a_day_and_a_day_that_was_left_out() -> None:
    briefs = plan("Europe/Berlin", time(13), time(7))
    start = datetime(2026, 3, 10, tzinfo=UTC)
    assert [f"{due:%d %H:%M}" for due in fired(briefs, start, start + timedelta(days=2))] == [
        "10 06:00", "10 12:00", "11 06:00", "11 12:00",
    ]  # fmt: skip
    # 07:00 at -10 is 17:00 UTC; the 30th, left out, by the offset before, is 07:00 of the 31st at +14: one brief
    start = datetime(2011, 12, 29, tzinfo=UTC)
    samoa = fired(plan("Pacific/Apia", time(7)), start, start + timedelta(days=3))
    assert [f"{due:%d %H:%M}" for due in samoa] == [
        "29 17:00", "30 17:00", "31 17:00",
    ]  # fmt: skip


@pytest.fixture
def roster(tmp_path: Path) -> Path:
    path = tmp_path / "roster.csv"
    path.write_text(HEADING, encoding="utf-8")
    return path


def test_what_the_options_ask_for(roster: Path, tmp_path: Path) -> None:
    assert brief_plan(None, (), None, None, store=None) is None
    found = brief_plan(roster, ("07:00", "13:30", "07:00"), "Europe/Berlin", tmp_path, store="s")
    assert found is not None
    assert (found.times, found.zone.key, found.folder) == ((time(7), time(13, 30)), "Europe/Berlin", tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["roster.csv"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"times": ()}, "--brief-at: a brief needs all four"),
        ({"zone": None, "folder": None}, "--brief-zone, --brief-to: a brief needs all four"),
        ({"roster": None}, "--brief: a brief needs all four"),
        ({"roster": Path("nowhere.csv")}, "nowhere.csv: cannot be read: No such file"),
        ({"times": ("7",)}, "'7' is no time of day"),
        ({"times": ("07:00", "24:00")}, "'24:00' is no time of day"),
        ({"times": ("07:00Z",)}, "'07:00Z' is no time of day"),
        ({"zone": "Europe/Velmark"}, "no time zone 'Europe/Velmark'"),
        ({"zone": "Europe"}, "no time zone 'Europe'"),
        ({"zone": "../etc"}, "no time zone '../etc'"),
        ({"zone": "/etc/passwd"}, "no time zone '/etc/passwd'"),
        ({"folder": Path("nowhere")}, "no folder nowhere"),
    ],
)
def test_what_cannot_be_used_is_said_before_the_worker_starts(
    roster: Path, tmp_path: Path, change: dict[str, object], said: str
) -> None:
    asked = {"roster": roster, "times": ("07:00",), "zone": "UTC", "folder": tmp_path} | change
    with pytest.raises(InputError) as caught:
        brief_plan(asked["roster"], asked["times"], asked["zone"], asked["folder"], store=None)  # type: ignore[arg-type]
    assert said in str(caught.value)


def test_a_roster_without_its_columns_and_a_folder_that_takes_nothing(roster: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="nothing can be written into /proc"):
        brief_plan(roster, ("07:00",), "UTC", Path("/proc"), store=None)
    roster.write_text("flight;from\n", encoding="utf-8")
    with pytest.raises(InputError, match="separated by commas"):
        brief_plan(roster, ("07:00",), "UTC", tmp_path, store=None)
