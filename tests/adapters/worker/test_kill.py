"""kill -9 of the worker while it stores a cycle, again and again: nothing acknowledged is lost, no half is read.

A child that is to be killed is stopped first (SIGSTOP), so that whether it is inside an open write transaction
can be asked of the database while nothing moves.
"""

import logging
import os
import random
import shlex
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from itertools import islice, product
from string import ascii_uppercase

import pytest
from sqlalchemy import Engine, func, select, text

from refuge.store.engine import reading
from refuge.store.opening import opened_store
from refuge.store.reads import latest_observations
from refuge.store.runs import GOOD, Outcome, Run, last_runs
from refuge.store.schema import bulletins, observations, runs
from refuge.worker.lead import work_once
from refuge.worker.plan import planned
from refuge.worker.run import Job
from refuge.zulu import iso
from tests.adapters.worker.replay import Service

LOG = logging.getLogger(__name__)
"""Measured numbers: pytest --log-cli-level=info shows them."""
KILLS, INSIDE_AT_LEAST = 20, 15
STATIONS = ["X" + "".join(letters) for letters in islice(product(ascii_uppercase, repeat=3), 600)]
FIRST = datetime(2022, 10, 22, 3, tzinfo=UTC)
NURSERY = """
import os, shlex, sys
import refuge.cli.work, refuge.store.opening, refuge.store.upgrade, refuge.worker.lead, refuge.worker.run
from refuge.cli import main
for line in sys.stdin:
    child = os.fork()
    if not child:
        main(shlex.split(line))
    print(child, flush=True)
    while True:
        _, status = os.waitpid(child, os.WUNTRACED)
        print("stopped" if os.WIFSTOPPED(status) else "ended", flush=True)
        if not os.WIFSTOPPED(status):
            break
"""
"""A process that has imported everything, and forks a worker for each line of words; it says what becomes of it."""


def cycle(at: datetime) -> list[str]:
    """Return one report of every station, observed at that time (all invented)."""
    return [f"METAR {station} {at:%d%H%M}Z 24010KT 10SM OVC040 10/05 A2992" for station in STATIONS]


def counts(engine: Engine) -> dict[datetime, tuple[int, int]]:
    """Return for each time of observation how many reports there are, and of how many the raw text."""
    with reading(engine) as conn:
        rows = conn.execute(
            select(observations.c.observed_at, func.count(), func.count(bulletins.c.id))
            .outerjoin(bulletins, bulletins.c.id == observations.c.bulletin_id)
            .group_by(observations.c.observed_at)
        )
        return {row[0]: (row[1], row[2]) for row in rows}


class Nursery:
    """Where the workers come from; each is a process of its own, which lives for one run."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def worker(self, store_url: str, base_url: str, at: datetime) -> int:
        """Start a worker that collects once; return its process number."""
        words = ["work", "--once", "--feeds", "metar", "--now", iso(at), "--store", store_url]
        assert self._process.stdin is not None
        print(shlex.join([*words, "--base-url", base_url]), file=self._process.stdin, flush=True)
        return int(self.said())

    def said(self) -> str:
        """Wait for what becomes of the worker: stopped or ended."""
        assert self._process.stdout is not None
        return self._process.stdout.readline().strip()


@contextmanager
def nursery() -> Iterator[Nursery]:
    with subprocess.Popen(
        [sys.executable, "-c", NURSERY], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        text=True,
    ) as process:  # fmt: skip
        yield Nursery(process)


@contextmanager
def asking_for_writers(engine: Engine) -> Iterator[Callable[[], bool]]:
    """Give a function that tells whether somebody else is inside an open write transaction now."""
    if engine.dialect.name == "postgresql":
        writes = text(
            "SELECT count(*) FROM pg_stat_activity"
            " WHERE datname = current_database() AND backend_xid IS NOT NULL AND pid <> pg_backend_pid()"
        )
        with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as conn:
            yield lambda: conn.scalar(writes) > 0
        return
    other = sqlite3.connect(str(engine.url.database), timeout=0, isolation_level=None)

    def locked() -> bool:
        try:
            other.execute("begin immediate")
        except sqlite3.OperationalError as exc:
            if "locked" not in str(exc):
                raise
            return True
        other.execute("rollback")
        return False

    yield locked
    other.close()


@contextmanager
def reader(engine: Engine) -> Iterator[list[str]]:
    """Read all the while, and give a list of what was half; empty at the end if nothing was."""
    halves: list[str] = []
    over = threading.Event()

    def read() -> None:
        while not over.is_set():
            found = counts(engine)
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
        assert home.said() == "ended"
        return False
    if home.said() == "ended":
        return False
    was_inside = inside()
    os.kill(worker, signal.SIGKILL)
    assert home.said() == "ended"
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
    killed_inside = landed = 0
    with (
        nursery() as home,
        opened_store(store_url) as other,
        reader(other) as halves,
        asking_for_writers(engine) as inside,
    ):
        for number, at in enumerate(times):
            observed_at = at - timedelta(minutes=1)
            service.metars = cycle(observed_at)
            worker = home.worker(store_url, str(job.base_url), at)
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
    assert time.monotonic() - begun_s < 120
