"""The brief that the worker makes: whole files, never yesterday's for today's, only by the one that leads."""

import json
import os
import threading
import time as clock
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import Engine

from refuge.cli.demo import load
from refuge.cli.options import instant_or_now
from refuge.errors import InputError, StoreError
from refuge.status import status_of
from refuge.store.engine import reading, writing
from refuge.store.opening import opened_store
from refuge.store.runs import Outcome, Run, Tally, begin_run, end_run, last_runs, tries_since
from refuge.worker import briefing as module
from refuge.worker import lead as leading
from refuge.worker import run as noting
from refuge.worker.briefing import BRIEF, CATCHES_UP_AFTER, first_brief, next_try, replace_file, run_brief
from refuge.worker.due import GRACE, MOST_TRIES, BriefPlan
from refuge.worker.lead import _scheduler, work
from refuge.worker.plan import planned
from refuge.worker.run import Job
from tests.adapters.worker.replay import Service

HEADING = "flight,from,to,departs,aircraft,minimums,altitude_ft,lowest_safe_ft\n"
A1 = "A1,XTES,XLUM,2026-03-10T15:15Z,XA-GLASS,XS-SCHOOL,6000,2200\n"
A2 = "A2,XSIL,XLUM,2026-03-10T15:30Z,XA-GLASS,XS-SCHOOL,6000,2200\n"
DUE = datetime(2026, 3, 10, 15, tzinfo=UTC)  # 16:00 at Berlin in winter
"""The demo's weather is of then."""


@pytest.fixture
def briefs(tmp_path: Path, store_url: str) -> BriefPlan:
    load(store_url)
    folder = tmp_path / "briefs"
    folder.mkdir()
    roster = tmp_path / "roster.csv"
    roster.write_text(HEADING + A1, encoding="utf-8")
    berlin = ZoneInfo("Europe/Berlin")
    return BriefPlan(roster=roster, times=(time(16),), zone=berlin, folder=folder, store="refuge-demo")


def last(engine: Engine) -> Run:
    with reading(engine) as conn:
        return last_runs(conn)[BRIEF]


def note(engine: Engine, at: datetime, outcome: Outcome) -> None:
    with writing(engine) as conn:
        number = begin_run(conn, BRIEF, worker="one", started_at=at)
        if outcome is not Outcome.RUNNING:
            end_run(conn, number, ended_at=at, outcome=outcome)


def said(briefs: BriefPlan, name: str = "brief") -> tuple[str, Any]:
    text = (briefs.folder / f"{name}.txt").read_text(encoding="utf-8")
    return text, json.loads((briefs.folder / f"{name}.json").read_text(encoding="utf-8"))


def test_a_brief_says_of_when_it_is_and_until_when_it_counts(job: Job, briefs: BriefPlan) -> None:
    briefs.roster.write_text(HEADING + A1 + A1.replace("A1,", "M1,").replace("03-10", "03-09"), encoding="utf-8")
    assert run_brief(job, briefs, now=DUE) is Outcome.OK
    assert sorted(path.name for path in briefs.folder.iterdir()) == [
        "brief-2026-03-10.json", "brief-2026-03-10.txt", "brief.json", "brief.txt",
    ]  # fmt: skip
    assert said(briefs) == said(briefs, "brief-2026-03-10")
    text, body = said(briefs)
    # Tuesday by the calendar; the next day at 16:00, winter time
    assert text.startswith("BRIEF of Tuesday 2026-03-10 16:00 Europe/Berlin\n")
    assert (
        "Wednesday 2026-03-11 16:00 Europe/Berlin (2026-03-11T15:00:00Z): after that, this one is old"
        in " ".join(text.split())
    )
    expected: dict[str, object] = {
        "state": "made", "error": None, "day": "2026-03-10", "zone": "Europe/Berlin", "roster": str(briefs.roster),
        "due": "2026-03-10T15:00:00Z", "next_due": "2026-03-11T15:00:00Z", "as_of": "2026-03-10T15:00:00Z",
        "data_as_of": "2026-03-10T14:55:00Z", "warnings": [],
    }  # fmt: skip
    assert expected.items() <= body.items()
    assert [line["flight"] for line in body["lines"]] == ["A1"]
    assert [row["past"] for row in body["bad_rows"]] == [True]
    run = last(job.engine)
    # a flight that has begun is no fault of the roster
    assert (run.outcome, run.error, run.tally) == (Outcome.OK, None, Tally(fetched=2, new=1))


def test_the_roster_is_read_anew(job: Job, briefs: BriefPlan) -> None:
    run_brief(job, briefs, now=DUE)
    briefs.roster.write_text(HEADING + A2, encoding="utf-8")
    run_brief(job, briefs, now=DUE + timedelta(minutes=1))
    assert [line["flight"] for line in said(briefs)[1]["lines"]] == ["A2"]


def test_a_brief_rests_on_nothing_received_later(job: Job, briefs: BriefPlan) -> None:
    """The demo's reports came at 12:00 and at 14:55, its winds at 13:40."""
    run_brief(job, replace(briefs, times=(time(15, 30),)), now=DUE - timedelta(minutes=30))
    assert said(briefs)[1]["data_as_of"] == "2026-03-10T13:40:00Z"


def test_bad_rows_are_noted_and_take_nothing_from_the_others(job: Job, briefs: BriefPlan) -> None:
    briefs.roster.write_text(HEADING + A1.replace("6000", "high") + A2, encoding="utf-8")
    assert run_brief(job, briefs, now=DUE) is Outcome.PARTIAL
    run = last(job.engine)
    assert run.tally == Tally(fetched=2, new=1, refused=1)
    assert run.error == "of the roster line 2 cannot be used, wholly or in part"
    warnings = [text for text in status_of(job.engine, DUE).warnings if text.startswith("brief")]
    assert warnings == [f"brief: last run partial: {run.error}"]


def test_a_brief_of_stale_data_says_so_and_is_noted(job: Job, briefs: BriefPlan) -> None:
    later = DUE + timedelta(days=1)
    briefs.roster.write_text(HEADING + A1.replace("03-10", "03-11"), encoding="utf-8")
    assert run_brief(job, briefs, now=later) is Outcome.PARTIAL
    text, body = said(briefs)
    assert "WARNING: nothing was received since 2026-03-10T14:55:00Z" in text
    assert len(body["warnings"]) == 3
    (line,) = body["lines"]
    assert not line["within_gap_budget"]
    assert line["best_refuge"] is None


def gone(briefs: BriefPlan, _monkeypatch: pytest.MonkeyPatch) -> str:
    briefs.roster.unlink()
    return "cannot be read: No such file"


def headless(briefs: BriefPlan, _monkeypatch: pytest.MonkeyPatch) -> str:
    briefs.roster.write_text("flight,from\n", encoding="utf-8")
    return "no column to"


def flightless(briefs: BriefPlan, _monkeypatch: pytest.MonkeyPatch) -> str:
    briefs.roster.write_text(HEADING, encoding="utf-8")
    return "the roster has no flight"


def broken(_briefs: BriefPlan, monkeypatch: pytest.MonkeyPatch) -> str:
    def fault(*_args: object, **_options: object) -> None:
        raise ZeroDivisionError("oops")

    monkeypatch.setattr(module, "brief_in_store", fault)
    return "a fault of refuge: ZeroDivisionError: oops"


@pytest.mark.parametrize("fail", [gone, headless, flightless, broken])
def test_yesterdays_brief_never_stands_for_one_that_failed(
    job: Job, briefs: BriefPlan, monkeypatch: pytest.MonkeyPatch, fail: Callable[..., str]
) -> None:
    yesterday, today = DUE, DUE + timedelta(days=1)
    run_brief(job, briefs, now=yesterday)
    kept = said(briefs)
    reason = fail(briefs, monkeypatch)
    assert run_brief(job, briefs, now=today) is Outcome.FAILED
    text, body = said(briefs)
    assert text.startswith("NO BRIEF of Wednesday 2026-03-11 16:00 Europe/Berlin\nIt could not be made: ")
    assert reason in " ".join(text.split())
    assert "A1" not in text
    assert set(body) == set(kept[1])
    # null and not empty: nobody can take it for a day without flights
    assert (body["state"], body["lines"], body["bad_rows"], body["day"]) == ("failed", None, None, "2026-03-11")
    assert reason in body["error"]
    assert said(briefs, "brief-2026-03-10") == kept
    assert not (briefs.folder / "brief-2026-03-11.txt").exists()
    run = last(job.engine)
    assert run.error is not None
    assert reason in run.error
    assert any(
        text.startswith("brief: last run failed: ") and reason in text
        for text in status_of(job.engine, today).warnings
    )


def test_a_run_that_the_store_takes_no_note_of_leaves_no_old_brief(
    job: Job, briefs: BriefPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_brief(job, briefs, now=DUE)

    def locked(*_args: object, **_options: object) -> None:
        raise StoreError("database is locked")

    monkeypatch.setattr(noting, "begin_run", locked)
    assert run_brief(job, briefs, now=DUE + timedelta(days=1)) is Outcome.FAILED
    assert said(briefs)[0].startswith("NO BRIEF of Wednesday 2026-03-11")


def test_a_folder_that_is_gone_is_noted(job: Job, briefs: BriefPlan) -> None:
    briefs.folder.rmdir()
    assert run_brief(job, briefs, now=DUE) is Outcome.FAILED
    error = last(job.engine).error
    assert error is not None
    assert "brief-2026-03-10.txt: cannot be written: No such file" in error
    assert "the old one stands" in error


@pytest.mark.parametrize(("rows", "where"), [(A1 + A2, "done"), (A1, "written")])
def test_a_stop_writes_nothing_and_leaves_it_to_the_next_who_leads(
    job: Job, briefs: BriefPlan, rows: str, where: str
) -> None:
    asked: list[float] = []

    def wait(seconds: float) -> bool:
        asked.append(seconds)
        return len(asked) > 1

    briefs.roster.write_text(HEADING + rows, encoding="utf-8")
    assert run_brief(replace(job, wait=wait), briefs, now=DUE) is Outcome.FAILED
    assert list(briefs.folder.iterdir()) == []
    assert last(job.engine).error == f"told to stop before the brief was {where}"
    assert first_brief(job.engine, briefs, now=DUE + timedelta(minutes=1)) is not None


def test_a_late_brief_says_when_it_was_due_and_one_too_late_is_none(job: Job, briefs: BriefPlan) -> None:
    briefs.roster.write_text(HEADING + A1.replace("15:15Z", "19:15Z"), encoding="utf-8")
    run_brief(job, briefs, now=DUE + GRACE)
    text, body = said(briefs)
    # three hours after 16:00
    assert text.startswith("BRIEF of Tuesday 2026-03-10 19:00 Europe/Berlin; it was due Tuesday 2026-03-10 16:00")
    assert (body["state"], body["due"], body["as_of"]) == ("made", "2026-03-10T15:00:00Z", "2026-03-10T18:00:00Z")
    assert run_brief(job, briefs, now=DUE + GRACE + timedelta(seconds=1)) is Outcome.FAILED
    text, body = said(briefs)
    assert text.startswith("NO BRIEF of Tuesday 2026-03-10 16:00 Europe/Berlin\n")
    assert "nor in the 3 hours after that" in " ".join(text.split())
    assert body["lines"] is None


HOUR = timedelta(hours=1)


@pytest.mark.parametrize(
    ("runs", "after", "catches_up"),
    [
        ([], HOUR, True),  # just set up: the first is made at once
        ([], 4 * HOUR, False),  # just set up, too late today: nobody missed anything
        ([(-24 * HOUR, Outcome.OK)], HOUR, True),
        ([(-24 * HOUR, Outcome.OK)], 4 * HOUR, True),  # it says that it was missed
        ([(0 * HOUR, Outcome.OK)], HOUR, False),
        ([(0 * HOUR, Outcome.PARTIAL)], HOUR, False),
        ([(0 * HOUR, Outcome.FAILED)], HOUR, True),
        ([(0 * HOUR, Outcome.FAILED)], 4 * HOUR, False),  # noted already
        ([(0 * HOUR, Outcome.INTERRUPTED)], HOUR, True),
        ([(0 * HOUR, Outcome.OK), (HOUR, Outcome.FAILED)], 2 * HOUR, False),
    ],
)
def test_what_is_caught_up_on_at_the_start(
    job: Job, briefs: BriefPlan, runs: list[tuple[timedelta, Outcome]], after: timedelta, catches_up: bool
) -> None:
    for at, outcome in runs:
        note(job.engine, DUE + at, outcome)
    now = DUE + after
    # after the reports, which are fetched first
    expected = now + CATCHES_UP_AFTER if catches_up else None
    assert first_brief(job.engine, briefs, now=now) == expected


def test_a_worker_that_ends_over_it_each_time_gets_on_with_collecting(job: Job, briefs: BriefPlan) -> None:
    for minute in range(MOST_TRIES):
        note(job.engine, DUE + timedelta(minutes=minute), Outcome.INTERRUPTED)
    with reading(job.engine) as conn:
        assert tries_since(conn, BRIEF, DUE) == MOST_TRIES
    assert run_brief(job, briefs, now=DUE + timedelta(minutes=30)) is Outcome.FAILED
    assert "it was tried 3 times" in said(briefs)[0]


@pytest.mark.parametrize(
    ("tries", "after", "again"),
    [
        (1, timedelta(0), True),
        (2, timedelta(minutes=10), True),
        (3, timedelta(minutes=20), False),  # often enough
        (1, timedelta(hours=2, minutes=50), True),  # ten minutes on it is three hours late, and just made
        (1, timedelta(hours=2, minutes=51), False),
    ],
)
def test_a_brief_that_failed_is_tried_again(
    job: Job, briefs: BriefPlan, tries: int, after: timedelta, again: bool
) -> None:
    for _ in range(tries):
        note(job.engine, DUE + after, Outcome.FAILED)
    expected = DUE + after + timedelta(minutes=10) if again else None
    assert next_try(job.engine, briefs, now=DUE + after) == expected
    # never in the place of the next one
    soon = replace(briefs, times=(time(16), (DUE + after + timedelta(minutes=65)).time()))
    assert next_try(job.engine, soon, now=DUE + after) is None


def test_a_roster_that_is_away_for_a_moment_costs_no_brief(
    job: Job, briefs: BriefPlan, stop: threading.Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(leading, "ASKS_EVERY_S", 0.05)
    monkeypatch.setattr(module, "CATCHES_UP_AFTER", timedelta(0))
    monkeypatch.setattr(module, "TRIES_AGAIN_AFTER", timedelta(seconds=1))
    begun = instant_or_now(None)
    just = replace(briefs, zone=ZoneInfo("UTC"), times=((begun - timedelta(minutes=1)).time(),))
    away = briefs.roster.rename(briefs.roster.with_name("away.csv"))
    states: list[str] = []

    def made() -> bool:
        with suppress(OSError):
            states.append(said(just)[1]["state"])
        if states[-1:] == ["failed"] and away.exists():
            away.rename(briefs.roster)
        return states[-1:] == ["made"]

    with working(job, just, stop):
        until(made)
    assert "failed" in states
    assert "A1" in said(just)[0]


def test_who_reads_meanwhile_sees_the_whole_of_one(tmp_path: Path) -> None:
    path, wholes = tmp_path / "brief.txt", [letter * 200_000 for letter in "ab"]
    replace_file(path, wholes[0])
    over, seen = threading.Event(), set[str]()

    def read() -> None:
        while not over.is_set():
            seen.add(path.read_text(encoding="utf-8"))

    reader = threading.Thread(target=read)
    reader.start()
    for number in range(60):
        replace_file(path, wholes[number % 2])
    over.set()
    reader.join()
    assert seen <= set(wholes)
    assert [file.name for file in tmp_path.iterdir()] == ["brief.txt"]


def test_a_disk_that_is_full_leaves_the_old_one_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "brief.txt"
    replace_file(path, "old")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="cannot be written: No space left"):
        replace_file(path, "new")
    assert path.read_text(encoding="utf-8") == "old"
    assert [file.name for file in tmp_path.iterdir()] == ["brief.txt"]


def test_the_schedule_of_a_brief(job: Job, briefs: BriefPlan) -> None:
    note(job.engine, instant_or_now(None), Outcome.OK)
    scheduler = _scheduler(job, planned("metar"), briefs)
    found = scheduler.get_job(BRIEF)
    # never skipped for being late: the run itself says what is too late
    assert (found.coalesce, found.max_instances, found.misfire_grace_time) == (True, 1, None)
    before = instant_or_now(None)
    assert found.trigger.get_next_fire_time(None, before) == briefs.next_due(before)
    assert scheduler.get_job("metar") is not None


@contextmanager
def working(job: Job, briefs: BriefPlan, stop: threading.Event) -> Iterator[None]:
    thread = threading.Thread(target=work, args=(replace(job, wait=stop.wait), planned("metar"), briefs))
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join(timeout=30)
        assert not thread.is_alive()


def until(true: Callable[[], bool], *, within_s: float = 30) -> None:
    end_s = clock.monotonic() + within_s
    while not true():
        assert clock.monotonic() < end_s
        clock.sleep(0.02)


def test_only_the_one_that_leads_makes_it_and_the_next_does_not_make_it_again(
    job: Job, briefs: BriefPlan, store_url: str, service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(leading, "ASKS_EVERY_S", 0.05)
    monkeypatch.setattr(module, "CATCHES_UP_AFTER", timedelta(0))
    begun = instant_or_now(None)
    just = replace(briefs, zone=ZoneInfo("UTC"), times=((begun - timedelta(minutes=1)).time(),))
    service.metars = ["METAR XABC 101450Z 24010KT 10SM OVC040 10/05 A2992"]  # invented

    def ended(engine: Engine) -> bool:
        with reading(engine) as conn:
            run = last_runs(conn).get(BRIEF)
        return run is not None and run.ended_at is not None

    # an engine for each worker, and one to look on
    with opened_store(store_url) as its, opened_store(store_url) as other:
        second = replace(job, engine=its, worker="two")
        one, two = threading.Event(), threading.Event()
        with working(second, just, two):
            with working(job, just, one):
                until(lambda: ended(other))
                first = last(other)
            clock.sleep(0.5)  # whoever did not lead does now
            with reading(other) as conn:
                assert tries_since(conn, BRIEF, begun - timedelta(minutes=1)) == 1
    assert last(job.engine) == first
    assert first.outcome is Outcome.PARTIAL  # from the demo's weather, which is old
    assert said(just)[1]["state"] == "made"
