"""kill -9 of the worker while it stores a cycle, again and again: nothing acknowledged is lost, no half is read.

A child that is to be killed is stopped first (SIGSTOP), so that whether it is inside an open write transaction
can be asked of the database while nothing moves.
"""

import logging
import os
import random
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from itertools import islice, product
from string import ascii_uppercase

import pytest
from sqlalchemy import Engine, func, select

from refuge.store.engine import reading
from refuge.store.opening import opened_store
from refuge.store.reads import latest_observations
from refuge.store.runs import GOOD, Outcome, Run, last_runs
from refuge.store.schema import bulletins, observations, runs
from refuge.worker.lead import work_once
from refuge.worker.plan import planned
from refuge.worker.run import Job
from refuge.zulu import iso
from tests.adapters.worker.processes import Nursery, asking_for_writers, nursery
from tests.adapters.worker.replay import Service

LOG = logging.getLogger(__name__)
"""Measured numbers: pytest --log-cli-level=info shows them."""
KILLS, INSIDE_AT_LEAST = 20, 15
STATIONS = ["X" + "".join(letters) for letters in islice(product(ascii_uppercase, repeat=3), 520)]
FIRST = datetime(2022, 10, 22, 3, tzinfo=UTC)


def cycle(at: datetime) -> list[str]:
    """Return one report of every station, observed at that time (all invented)."""
    return [f"METAR {station} {at:%d%H%M}Z 24010KT 10SM OVC040 10/05 A2992" for station in STATIONS]


def counts(engine: Engine, *, since: datetime = FIRST - timedelta(days=1)) -> dict[datetime, tuple[int, int]]:
    """Return for each time of observation how many reports there are, and of how many the raw text."""
    with reading(engine) as conn:
        rows = conn.execute(
            select(observations.c.observed_at, func.count(), func.count(bulletins.c.id))
            .outerjoin(bulletins, bulletins.c.id == observations.c.bulletin_id)
            .where(observations.c.observed_at >= since)
            .group_by(observations.c.observed_at)
        )
        return {row[0]: (row[1], row[2]) for row in rows}


@contextmanager
def reader(engine: Engine, since: list[datetime]) -> Iterator[list[str]]:
    """Read the cycles from the last in `since` on, all the while; give a list of what was half."""
    halves: list[str] = []
    over = threading.Event()

    def read() -> None:
        while not over.is_set():
            found = counts(engine, since=since[-1])
            halves.extend(f"{at}: {n}" for at, n in found.items() if n != (len(STATIONS), len(STATIONS)))
            time.sleep(0.02)

    thread = threading.Thread(target=read)
    thread.start()
    try:
        yield halves
    finally:
        over.set()
        thread.join()


def kill(home: Nursery, worker: int, inside: Callable[[], bool], *, within_s: float) -> bool:
    """Kill a worker at some moment after it began to write; return whether it was inside a transaction."""
    time.sleep(random.uniform(0, within_s))  # noqa: S311 - some moment, not a secret
    try:
        os.kill(worker, signal.SIGSTOP)
    except ProcessLookupError:  # it was quicker
        assert home.said().startswith("ended")
        return False
    if home.said().startswith("ended"):
        return False
    was_inside = inside()
    os.kill(worker, signal.SIGKILL)
    assert home.said().startswith("ended")
    return was_inside


def run_of(engine: Engine, at: datetime) -> Run | None:
    with reading(engine) as conn:
        run = last_runs(conn).get("metar")
    return run if run and run.started_at == at else None


def wait_until_it_writes(engine: Engine, at: datetime, inside: Callable[[], bool]) -> None:
    """Wait for the worker to be inside a transaction after it noted that its run begins, or to have ended it."""
    end_s = time.monotonic() + 20
    while (run := run_of(engine, at)) is None or (run.outcome is Outcome.RUNNING and not inside()):
        assert time.monotonic() < end_s
        time.sleep(0.002)


def test_nothing_acknowledged_is_lost_and_no_half_cycle_is_read(store_url: str, job: Job, service: Service) -> None:
    engine, whole = job.engine, (len(STATIONS), len(STATIONS))
    times = [FIRST + timedelta(minutes=5 * number) for number in range(KILLS)]
    observed = [FIRST]
    killed_inside = landed = 0
    with (
        nursery() as home,
        opened_store(store_url) as other,
        reader(other, observed) as halves,
        asking_for_writers(engine) as inside,
    ):
        for number, at in enumerate(times):
            observed_at = at - timedelta(minutes=1)
            observed.append(observed_at)
            service.metars = cycle(observed_at)
            where = ("--store", store_url, "--base-url", str(job.base_url))
            worker = home.worker("--once", "--feeds", "metar", "--now", iso(at), *where)
            wait_until_it_writes(engine, at, inside)
            # The last few may also be hit between their transactions, or when all is done.
            within_s = 0.03 if number <= INSIDE_AT_LEAST else 0.5
            killed_inside += kill(home, worker, inside, within_s=within_s)
            found, run = counts(engine), run_of(engine, at)
            assert run is not None
            # What an earlier run said it stored is there; of this cycle all or nothing, and all if it said so.
            stored = found.pop(observed_at, None)
            assert list(found.values()) == [whole] * number
            assert stored == whole if run.outcome in GOOD else stored in (None, whole)
            landed += stored is not None
            # The next worker takes it up where that one fell.
            assert work_once(job, planned("metar"), now=at + timedelta(minutes=1))["metar"] in GOOD
            assert counts(engine)[observed_at] == whole
    LOG.info("killed %d: inside an open transaction %d, after its commit %d", KILLS, killed_inside, landed)
    assert halves == []
    assert killed_inside >= INSIDE_AT_LEAST
    with reading(engine) as conn:
        latest = latest_observations(conn, times[-1] + timedelta(minutes=1))
        outcomes = list(conn.scalars(select(runs.c.outcome).order_by(runs.c.id)))
    assert {report.observed_at for report in latest.values()} == {times[-1] - timedelta(minutes=1)}
    assert set(latest) == set(STATIONS)
    assert outcomes.count(Outcome.INTERRUPTED) >= killed_inside
    assert Outcome.RUNNING not in outcomes


@pytest.fixture(autouse=True)
def _bounded() -> Iterator[None]:
    """Fail rather than hang: each kill has its own deadline, all together have this one."""
    begun_s = time.monotonic()
    yield
    assert time.monotonic() - begun_s < 240
