"""One feed, once: fetched, stored, and noted in the log of runs, whatever happens."""

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import partial

from refuge.airfield import Station
from refuge.errors import RefugeError
from refuge.feeds.awc import BASE_URL, AwcFeed
from refuge.feeds.http import HttpSettings
from refuge.ingest import Collected, collect, collect_guidance, collect_stations
from refuge.store.engine import Store, reading, writing
from refuge.store.places import all_stations
from refuge.store.runs import Outcome, Tally, arrivals, begin_run, end_run
from refuge.weather.bulletin import Kind
from refuge.worker.logs import LOG, said
from refuge.worker.plan import BETWEEN_SAME_S, GUIDANCE

Wait = Callable[[float], bool]
"""Waits for so many seconds, or until told to stop: returns whether told to stop."""

STATIONS = "stations"
_KINDS = {"metar": Kind.METAR, "taf": Kind.TAF, "winds": Kind.WINDS}
_GUIDANCE = frozenset(each.feed for each in GUIDANCE)
_DEADLINE_S = 50.0
"""For one address: so long may a stop have to wait for. Guidance has longer, and breaks off at a stop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What every run needs to know."""

    engine: Store
    worker: str
    wait: Wait
    base_url: str | None = None
    guidance_url: str | None = None
    contact: str = ""


Attempted = tuple[Outcome, Tally | None, str | None]
"""How an attempt ended, what it brought, and what was wrong."""


def run_feed(job: Job, name: str, *, now: datetime | None = None) -> Outcome:
    """Fetch and store what a feed has, and keep the log of it; return how it ended. Never raises but for a stop.

    `now` is the receipt to stamp, for replays; without it, the time at which the run begins.
    """
    return noted(job, name, partial(_attempt, job, name), now=now)


def noted(job: Job, name: str, attempt: Callable[[datetime], Attempted], *, now: datetime | None) -> Outcome:
    """Do something that `attempt` does, and keep the log of it under a name; return how it ended.

    It is told when it began: at `now`, or without that by the clock.
    """
    begun_s = time.monotonic()
    started_at = now or datetime.now(UTC)
    try:
        with writing(job.engine) as conn:
            number = begin_run(conn, name, worker=job.worker, started_at=started_at)
        outcome, tally, error = attempt(started_at)
        ended_at = started_at + timedelta(seconds=time.monotonic() - begun_s)
        with writing(job.engine) as conn:
            end_run(conn, number, ended_at=ended_at, outcome=outcome, tally=tally, error=error)
    except RefugeError as exc:  # the store itself: the next leader notes that this run did not end
        said(logging.ERROR, "run not noted", feed=name, error=exc)
        return Outcome.FAILED
    level = logging.INFO if error is None else logging.WARNING
    counts = {} if tally is None else {key: getattr(tally, key) for key in Tally.__slots__}
    took = {"took_s": round(time.monotonic() - begun_s, 3)}
    said(level, "run ended", feed=name, outcome=outcome.value, **counts, **took, error=error)
    return outcome


def _attempt(job: Job, name: str, now: datetime) -> Attempted:
    feed = AwcFeed(
        received_at=now,
        base_url=job.base_url or BASE_URL,
        settings=HttpSettings(contact=job.contact, deadline_s=_DEADLINE_S),
        pause=partial(_paused, job, name),
    )
    try:
        if name == STATIONS:
            done, tally = _stations(job.engine, feed, now)
        elif name in _GUIDANCE:
            done = collect_guidance(
                job.engine, name, now=now, base_url=job.guidance_url, contact=job.contact,
                go_on=lambda: not job.wait(0),
            )  # fmt: skip
            tally = _arrived(job.engine, done, Kind.GUIDANCE, now)
        else:
            done = collect(job.engine, feed, _KINDS[name], now=now)
            tally = _arrived(job.engine, done, _KINDS[name], now)
    except RefugeError as exc:
        return Outcome.FAILED, None, str(exc)
    except Exception as exc:  # noqa: BLE001 - a fault in one run must end neither its log nor the runs to come
        LOG.exception("run broke", extra={"values": {"feed": name}})
        return Outcome.FAILED, None, f"a fault of refuge: {type(exc).__name__}: {exc}"
    if done.errors:
        return Outcome.PARTIAL, tally, "; ".join(map(str, done.errors))
    return (Outcome.UNCHANGED if done.unchanged else Outcome.OK), tally, None


def _paused(job: Job, name: str) -> bool:
    """Wait before the same path is asked again; return whether to go on."""
    said(logging.INFO, "pausing", feed=name, seconds=BETWEEN_SAME_S)
    return not job.wait(BETWEEN_SAME_S)


def _arrived(engine: Store, done: Collected, kind: Kind, now: datetime) -> Tally:
    with reading(engine) as conn:
        came = arrivals(conn, kind, now)
    return replace(_tally(done), changed=came.changed, late_median_s=came.late_median_s, late_max_s=came.late_max_s)


def _stations(engine: Store, feed: AwcFeed, now: datetime) -> tuple[Collected, Tally]:
    before = _stations_now(engine)
    done = collect_stations(engine, feed, now=now)
    if done.unchanged:
        return done, _tally(done)
    after = _stations_now(engine)
    new = len(after.keys() - before.keys())
    changed = sum(before[key] != after[key] for key in after.keys() & before.keys())
    return done, replace(_tally(done), new=new, changed=changed, known=len(after) - new - changed)


def _stations_now(engine: Store) -> dict[str, Station]:
    with reading(engine) as conn:
        return {station.id: station for station in all_stations(conn)}


def _tally(done: Collected) -> Tally:
    return Tally(fetched=done.fetched, new=done.counts.new, known=done.counts.known, refused=done.counts.refused)
