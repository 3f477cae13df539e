"""When feeds are fetched: within the service's limits, by UTC, and what is overdue first."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from apscheduler.triggers.cron import CronTrigger  # type: ignore[import-untyped]

from refuge.errors import InputError
from refuge.status import OVERDUE_AFTER
from refuge.store.engine import writing
from refuge.store.opening import opened_store
from refuge.store.runs import Outcome, begin_run, end_run
from refuge.worker.lead import _scheduler, first_runs
from refuge.worker.plan import GUIDANCE, PLAN, Planned, planned
from refuge.worker.run import Job

NOW = datetime(2026, 3, 28, 22, tzinfo=UTC)  # the night in which much of Europe changes its clocks


@pytest.mark.parametrize("plan", [*PLAN, *GUIDANCE], ids=lambda each: each.feed)
def test_each_feed_runs_as_often_as_the_plan_says_and_never_too_often(plan: Planned) -> None:
    trigger, at, previous, times = CronTrigger(timezone=UTC, jitter=plan.jitter_s, **plan.cron), NOW, None, []
    while (at := trigger.get_next_fire_time(previous, at)) < NOW + timedelta(days=3):
        times.append(at)
        previous = at
    assert len(times) == timedelta(days=3) / plan.every
    gaps = [(b - a).total_seconds() for a, b in pairwise(times)]
    # data/README.md: one request a minute to one endpoint; winds ask six times, a minute apart
    assert min(gaps) > (420 if plan.feed == "winds" else 60)
    assert plan.grace_s < plan.every.total_seconds()
    # a run or two may fail before anybody is warned
    assert OVERDUE_AFTER[plan.feed] > 2 * plan.every + timedelta(seconds=plan.jitter_s)


def test_no_two_feeds_at_the_same_minute_of_the_hour() -> None:
    every = (*PLAN, *GUIDANCE)
    starts = {each.feed: CronTrigger(timezone=UTC, **each.cron).get_next_fire_time(None, NOW) for each in every}
    assert len(set(starts.values())) == len(every)


def test_guidance_is_asked_for_when_the_run_should_be_there() -> None:
    """LAMP is made at half past (its paths say so: data/README.md); the Blend on the hour, and takes one."""
    minutes = {each.feed: int(each.cron["minute"]) for each in GUIDANCE}
    assert all(minutes[name] > 30 for name in ("lav", "lev"))
    assert all(0 < minutes[name] < 45 for name in ("nbh", "nbs"))


def test_feeds_are_named_with_commas() -> None:
    assert [each.feed for each in planned("taf, metar")] == ["metar", "taf"]
    assert planned(None) == PLAN


def test_guidance_is_only_collected_where_it_is_named() -> None:
    assert {each.feed for each in PLAN} == {"stations", "metar", "taf", "winds"}
    assert [each.feed for each in planned("guidance,metar")] == ["metar", "lav", "lev", "nbh", "nbs"]
    assert [each.feed for each in planned("nbh")] == ["nbh"]


@pytest.mark.parametrize("names", ["metar,tafs", "", ",", "nbe"])
def test_a_mistyped_feed_is_refused(names: str) -> None:
    with pytest.raises(InputError, match="name stations, metar, taf, winds, lav, lev, nbh, nbs, or guidance"):
        planned(names)


@pytest.fixture
def job(tmp_path: Path, empty_store: Path) -> Job:
    path = tmp_path / "s.sqlite"
    path.write_bytes(empty_store.read_bytes())
    with opened_store(str(path)) as engine:
        return Job(engine=engine, worker="one", wait=lambda _seconds: True)


def note(job: Job, feed: str, ago: timedelta, outcome: Outcome) -> None:
    with writing(job.engine) as conn:
        number = begin_run(conn, feed, worker="one", started_at=NOW - ago)
        end_run(conn, number, ended_at=NOW - ago, outcome=outcome)


def test_what_never_ran_or_is_overdue_runs_at_once(job: Job) -> None:
    note(job, "metar", timedelta(minutes=5), Outcome.OK)
    note(job, "taf", timedelta(minutes=9), Outcome.UNCHANGED)
    note(job, "winds", timedelta(minutes=59), Outcome.OK)
    assert first_runs(job.engine, PLAN, now=NOW) == {"stations": NOW, "metar": NOW}


def test_a_worker_that_is_started_again_and_again_asks_no_more_than_once_a_minute(job: Job) -> None:
    note(job, "metar", timedelta(minutes=30), Outcome.OK)
    note(job, "metar", timedelta(seconds=20), Outcome.FAILED)
    assert first_runs(job.engine, planned("metar"), now=NOW) == {"metar": NOW + timedelta(seconds=41)}


def test_the_schedule_says_everything_explicitly(job: Job) -> None:
    scheduler = _scheduler(job, PLAN)
    assert str(scheduler.timezone) == "UTC"
    for each in PLAN:
        found = scheduler.get_job(each.feed)
        assert (found.coalesce, found.max_instances, found.misfire_grace_time) == (True, 1, each.grace_s)
        assert (str(found.trigger.timezone), found.trigger.jitter) == ("UTC", each.jitter_s)
