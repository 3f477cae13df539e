"""Waiting for the lead, holding it, and letting go: at most one worker of several writes.

A worker that waits asks for the lock every few seconds, so that it takes over well within a minute.
The one that leads asks as often whether it still has it, and again before every commit.
"""

import logging
import os
import socket
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial

from apscheduler.events import (  # type: ignore[import-untyped]
    EVENT_JOB_ERROR,
    EVENT_JOB_MAX_INSTANCES,
    EVENT_JOB_MISSED,
    JobEvent,
)
from apscheduler.executors.pool import ThreadPoolExecutor  # type: ignore[import-untyped]
from apscheduler.jobstores.memory import MemoryJobStore  # type: ignore[import-untyped]
from apscheduler.schedulers.background import BackgroundScheduler  # type: ignore[import-untyped]
from apscheduler.triggers.cron import CronTrigger  # type: ignore[import-untyped]

from refuge.errors import StoreError
from refuge.store.engine import Store, reading, writing
from refuge.store.leader import Lead, leader_of, try_to_lead, writing_only_while
from refuge.store.runs import GOOD, Outcome, close_interrupted, last_runs
from refuge.worker.briefing import BRIEF, first_brief, next_try, run_brief
from refuge.worker.due import BriefPlan, Due
from refuge.worker.logs import said
from refuge.worker.plan import Planned
from refuge.worker.run import Job, Wait, run_feed

ASKS_EVERY_S = 5.0
"""For the lock, and whether it is still held."""
_NOT_BEFORE = timedelta(seconds=61)
"""Since the last attempt, however it ended: a worker that is started again and again must not ask more often."""


def worker_name() -> str:
    """Return what this worker goes by: unique among those on one store."""
    return f"refuge-worker {socket.gethostname()}:{os.getpid()}"


def work(job: Job, plan: Sequence[Planned], brief: BriefPlan | None = None) -> None:
    """Collect, and make the brief, by the clock whenever this worker leads, until told to stop.

    A stop lets what is running finish: a fetch within its deadline, a transaction to its commit.
    """
    waiting = False
    while not job.wait(0):
        try:
            lead = try_to_lead(job.engine, job.worker, since=datetime.now(UTC))
        except StoreError as exc:
            said(logging.ERROR, "store not reached", error=exc)
            job.wait(ASKS_EVERY_S)
            continue
        if lead is not None:
            _lead_on(job, plan, brief, lead)
            waiting = False
            continue
        if not waiting:
            said(logging.INFO, "waiting", leader=_who_leads(job.engine))
            waiting = True
        job.wait(ASKS_EVERY_S)
    said(logging.INFO, "stopped")


def work_once(
    job: Job, plan: Sequence[Planned], brief: BriefPlan | None = None, *, now: datetime | None = None
) -> dict[str, Outcome]:
    """Run every feed of the plan once, one after the other, then the brief; return how each ended.

    Raises
    ------
    StoreError
        If another worker leads.
    """
    lead = try_to_lead(job.engine, job.worker, since=datetime.now(UTC))
    if lead is None:
        raise StoreError(
            f"another worker leads: {_who_leads(job.engine)}",
            where=job.engine.url.render_as_string(hide_password=True),
            remedy="leave it to that one, or stop it first",
        )
    try:
        with _kept(lead), writing_only_while(job.engine, lead.held):
            _close_interrupted(job)
            outcomes = {}
            for each in plan:
                if not job.wait(0):
                    said(logging.INFO, "run begins", feed=each.feed)  # somebody may be watching
                    outcomes[each.feed] = run_feed(job, each.feed, now=now)
            if brief is not None and not job.wait(0):
                said(logging.INFO, "run begins", feed=BRIEF)
                outcomes[BRIEF] = run_brief(job, brief, now=now, by_the_clock=False)
            return outcomes
    finally:
        lead.release()


def _lead_on(job: Job, plan: Sequence[Planned], brief: BriefPlan | None, lead: Lead) -> None:
    """Collect by the clock while the lock is held and nobody says stop."""
    said(logging.INFO, "leading", worker=job.worker)
    try:
        with _kept(lead) as lost, writing_only_while(job.engine, lead.held):
            _collect_by_the_clock(job, plan, brief, lost)
    except StoreError as exc:
        said(logging.ERROR, "store failed", error=exc)
        job.wait(ASKS_EVERY_S)
    finally:
        lead.release()


@contextmanager
def _kept(lead: Lead) -> Iterator[threading.Event]:
    """Ask all the while whether the lock is held, which also keeps it; give what is set when it is lost."""
    lost, over = threading.Event(), threading.Event()

    def ask() -> None:
        while not over.wait(ASKS_EVERY_S):
            if not lead.held():
                lost.set()
                return

    asking = threading.Thread(target=ask, name="keeps the lead")
    asking.start()
    try:
        yield lost
    finally:
        over.set()
        asking.join()


def _collect_by_the_clock(
    job: Job, plan: Sequence[Planned], brief: BriefPlan | None, lost: threading.Event
) -> None:
    _close_interrupted(job)
    wait = partial(_stopped_or_lost, job.wait, lost)
    scheduler = _scheduler(replace(job, wait=wait), plan, brief)
    scheduler.start()
    try:
        while not wait(ASKS_EVERY_S):
            pass
        if lost.is_set():
            said(logging.ERROR, "lock lost", worker=job.worker)
        else:
            said(logging.INFO, "stopping", worker=job.worker)
    finally:
        scheduler.shutdown(wait=True)


def _stopped_or_lost(wait: Wait, lost: threading.Event, seconds: float) -> bool:
    """Wait as `wait` does, but not on after the lock is lost: this worker may have to lead again soon."""
    end_s = time.monotonic() + seconds
    while not lost.is_set():
        left_s = end_s - time.monotonic()
        if wait(max(0.0, min(left_s, 1.0))):
            return True
        if left_s <= 0:
            return False
    return True


def _scheduler(job: Job, plan: Sequence[Planned], brief: BriefPlan | None = None) -> BackgroundScheduler:
    """Return a scheduler of the plan, what is overdue first; not started."""
    scheduler = BackgroundScheduler(
        timezone=UTC,
        jobstores={"default": MemoryJobStore()},
        executors={"default": ThreadPoolExecutor(len(plan) + 1)},  # a slow feed keeps no other waiting
    )
    scheduler.add_listener(_tell, EVENT_JOB_MISSED | EVENT_JOB_MAX_INSTANCES | EVENT_JOB_ERROR)
    now = datetime.now(UTC)
    firsts = first_runs(job.engine, plan, now=now)
    for each in plan:
        first = firsts.get(each.feed)
        scheduler.add_job(
            partial(run_feed, job, each.feed),
            CronTrigger(timezone=UTC, jitter=each.jitter_s, **each.cron),
            id=each.feed,
            name=each.feed,
            coalesce=True,
            max_instances=1,
            misfire_grace_time=each.grace_s,
            **({"next_run_time": first} if first else {}),
        )
        said(logging.DEBUG, "planned", feed=each.feed, first=first)
    if brief is not None:
        _add_brief(scheduler, job, brief, first_brief(job.engine, brief, now=now))
    return scheduler


def _add_brief(scheduler: BackgroundScheduler, job: Job, brief: BriefPlan, first: datetime | None) -> None:
    scheduler.add_job(
        partial(_brief_by_the_clock, scheduler, job, brief),
        Due(brief),
        id=BRIEF,
        name=BRIEF,
        coalesce=True,
        max_instances=1,
        misfire_grace_time=None,  # the run itself knows what is too late, and says so in the brief's place
        **({"next_run_time": first} if first else {}),
    )
    said(logging.INFO, "planned", feed=BRIEF, first=first or brief.next_due(datetime.now(UTC)))


def _brief_by_the_clock(scheduler: BackgroundScheduler, job: Job, brief: BriefPlan) -> None:
    """Make the brief; if it failed, once more a little later."""
    if run_brief(job, brief) is not Outcome.FAILED or job.wait(0):
        return
    again = next_try(job.engine, brief, now=datetime.now(UTC))
    if again is not None:
        scheduler.modify_job(BRIEF, next_run_time=again)
        said(logging.INFO, "planned", feed=BRIEF, first=again)


def first_runs(engine: Store, plan: Sequence[Planned], *, now: datetime) -> dict[str, datetime]:
    """Return the feeds that are overdue by the log of runs, each with when to catch up."""
    with reading(engine) as conn:
        good, last = last_runs(conn, outcomes=GOOD), last_runs(conn)
    firsts = {}
    for each in plan:
        done = good.get(each.feed)
        if done is None or done.started_at <= now - each.every:
            tried = last.get(each.feed)
            firsts[each.feed] = max(now, tried.started_at + _NOT_BEFORE) if tried else now
    return firsts


def _close_interrupted(job: Job) -> None:
    with writing(job.engine) as conn:
        closed = close_interrupted(conn, ended_at=datetime.now(UTC))
    if closed:
        said(logging.WARNING, "runs had been interrupted", count=closed)


def _who_leads(engine: Store) -> str:
    leader = leader_of(engine)
    return leader.worker if leader else "nobody for now"


def _tell(event: JobEvent) -> None:
    what = {EVENT_JOB_MISSED: "run missed", EVENT_JOB_MAX_INSTANCES: "run left out: the one before goes on"}
    said(logging.WARNING, what.get(event.code, "run broke"), feed=event.job_id)
