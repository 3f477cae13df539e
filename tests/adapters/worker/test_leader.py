"""One leads, the others wait; who loses the lock writes nothing more; the next takes over within seconds."""

import logging
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import Engine, text

from refuge.errors import InputError, StoreError
from refuge.store import leader as locks
from refuge.store.engine import open_engine, reading, writing
from refuge.store.leader import Lead, leader_of, try_to_lead, writing_only_while
from refuge.store.opening import opened_store
from refuge.store.runs import Outcome, begin_run, last_runs
from refuge.worker import lead as module
from refuge.worker.lead import work, work_once
from refuge.worker.plan import planned
from refuge.worker.run import Job
from tests.adapters.worker.replay import Service

LOG = logging.getLogger(__name__)
"""Measured numbers: pytest --log-cli-level=info shows them."""
NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
METAR = "METAR XABC 101450Z 24010KT 10SM OVC040 10/05 A2992"  # invented


@pytest.fixture
def other_engine(store_url: str) -> Iterator[Engine]:
    with opened_store(store_url) as engine:
        yield engine


def lose_the_lock(engine: Engine, worker: str) -> None:
    """Take the lock from under a worker: its session is ended, or its file removed."""
    if engine.dialect.name != "postgresql":
        Path(f"{engine.url.database}.leader").unlink()
        return
    statement = text("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = :name")
    with writing(engine) as conn:
        assert conn.execute(statement, {"name": worker}).scalars().all() == [True]


def lead_of(engine: Engine, worker: str) -> Lead:
    lead = try_to_lead(engine, worker, since=NOW)
    assert lead is not None
    return lead


def test_of_several_one_leads(shared_engine: Engine, other_engine: Engine) -> None:
    assert leader_of(shared_engine) is None
    first = lead_of(shared_engine, "one")
    assert try_to_lead(other_engine, "two", since=NOW) is None
    found = leader_of(other_engine)
    assert found is not None
    assert found.worker == "one"
    assert first.held()
    first.release()
    assert leader_of(other_engine) is None
    second = lead_of(other_engine, "two")
    assert try_to_lead(shared_engine, "one", since=NOW) is None
    second.release()


def test_who_lost_the_lock_commits_nothing_more(shared_engine: Engine, other_engine: Engine) -> None:
    lead = lead_of(shared_engine, "one")
    with writing_only_while(shared_engine, lead.held):
        with writing(shared_engine) as conn:
            begin_run(conn, "metar", worker="one", started_at=NOW)
        lose_the_lock(other_engine, "one")
        with pytest.raises(StoreError, match="lock of the leading worker is lost"), writing(shared_engine) as conn:
            begin_run(conn, "taf", worker="one", started_at=NOW)
        with reading(shared_engine) as conn:
            assert set(last_runs(conn)) == {"metar"}
    assert not lead.held()
    following = lead_of(other_engine, "two")
    with writing(shared_engine) as conn:  # no longer bound to the lock
        begin_run(conn, "taf", worker="by hand", started_at=NOW)
    lead.release()
    assert following.held()
    following.release()


@pytest.mark.postgis
def test_a_frozen_leader_is_ended_by_the_server(
    make_store: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(locks, "_SILENT_S", 1)
    url = make_store("postgis")
    with opened_store(url) as engine, opened_store(url) as other:
        frozen = lead_of(engine, "one")
        taken: list[Lead] = []

        def freeze_in_a_transaction() -> None:
            with writing_only_while(engine, frozen.held), writing(engine) as conn:
                begin_run(conn, "metar", worker="one", started_at=NOW)
                # It says nothing for longer than that: its session and its transaction end, its locks are free.
                time.sleep(2)
                taken.append(lead_of(other, "two"))
                with writing(other) as its:
                    begin_run(its, "taf", worker="two", started_at=NOW)

        with pytest.raises(StoreError):
            freeze_in_a_transaction()
        assert not frozen.held()
        frozen.release()
        with reading(other) as conn:
            assert set(last_runs(conn)) == {"taf"}
        assert taken[0].held()
        taken[0].release()


def test_once_beside_a_leader_is_refused(job: Job, other_engine: Engine) -> None:
    lead = lead_of(other_engine, "two")
    with pytest.raises(StoreError, match="another worker leads: two"):
        work_once(job, planned("metar"))
    lead.release()


def test_a_store_in_memory_has_no_worker() -> None:
    engine = open_engine("sqlite://")
    with pytest.raises(InputError, match="in memory"):
        try_to_lead(engine, "one", since=NOW)
    engine.dispose()


def test_a_lock_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    with opened_store(str(tmp_path / "s.sqlite")) as engine:
        (tmp_path / "s.sqlite.leader").mkdir()
        with pytest.raises(StoreError, match="lock cannot be opened"):
            try_to_lead(engine, "one", since=NOW)


@contextmanager
def working(job: Job, stop: threading.Event) -> Iterator[None]:
    thread = threading.Thread(target=work, args=(job, planned("metar")))
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join(timeout=30)
        assert not thread.is_alive()


def until(true: Callable[[], bool], *, within_s: float = 30) -> float:
    """Wait until something holds; return after how many seconds it did."""
    begun_s = time.monotonic()
    while not true():
        assert time.monotonic() - begun_s < within_s
        time.sleep(0.01)
    return time.monotonic() - begun_s


def last_outcome(engine: Engine) -> Outcome | None:
    with reading(engine) as conn:
        run = last_runs(conn).get("metar")
    return run.outcome if run else None


def test_a_worker_collects_what_is_overdue_as_soon_as_it_leads(
    job: Job, stop: threading.Event, service: Service, other_engine: Engine
) -> None:
    service.metars = [METAR]
    with writing(other_engine) as conn:
        begin_run(conn, "taf", worker="died", started_at=NOW)
    with working(job, stop):
        until(lambda: last_outcome(other_engine) is Outcome.OK)
        found = leader_of(other_engine)
        assert found is not None
        assert found.worker == "one"
    assert leader_of(other_engine) is None
    with reading(other_engine) as conn:
        assert last_runs(conn)["taf"].outcome is Outcome.INTERRUPTED


def test_a_worker_that_loses_the_lock_leads_again_when_it_can(
    job: Job, stop: threading.Event, service: Service, other_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "ASKS_EVERY_S", 0.05)
    service.metars = [METAR]
    with working(job, stop):
        until(lambda: last_outcome(other_engine) is Outcome.OK)
        lose_the_lock(other_engine, "one")
        taken = []
        until(lambda: leader_of(other_engine) is not None)
        taken.append(leader_of(other_engine))
        assert taken[0] is not None
        assert taken[0].worker == "one"


def test_a_stop_lets_a_waiting_worker_go(job: Job, stop: threading.Event, other_engine: Engine) -> None:
    lead = lead_of(other_engine, "two")
    with working(replace(job, worker="one"), stop):
        time.sleep(0.1)
    assert lead.held()
    lead.release()


def worker(store_url: str, base_url: str) -> subprocess.Popen[str]:
    words = ["work", "--feeds", "metar", "--store", store_url, "--base-url", base_url]
    return subprocess.Popen([sys.executable, "-m", "refuge", *words], stderr=subprocess.PIPE, text=True)


def wait_for(process: subprocess.Popen[str], event: str) -> None:
    assert process.stderr is not None
    for line in process.stderr:
        if f"event={event}" in line or f'event="{event}"' in line:
            return
    raise AssertionError(f"{event} never came")


def test_another_takes_over_from_one_that_is_killed(store_url: str, job: Job, service: Service) -> None:
    service.metars = [METAR]
    with worker(store_url, str(job.base_url)) as first:
        wait_for(first, "leading")
        with worker(store_url, str(job.base_url)) as second:
            wait_for(second, "waiting")
            first.kill()
            begun_s = time.monotonic()
            wait_for(second, "leading")
            took_s = time.monotonic() - begun_s
            LOG.info("took over after %.2f s", took_s)
            assert took_s < 60
            assert first.wait(timeout=60) == -signal.SIGKILL
            second.terminate()
            assert second.wait(timeout=60) == 0


def test_who_looks_on_keeps_nobody_from_leading(shared_engine: Engine, other_engine: Engine) -> None:
    over = threading.Event()

    def look() -> None:
        while not over.is_set():
            leader_of(other_engine)

    looking = threading.Thread(target=look)
    looking.start()
    try:
        for _ in range(50):
            lead_of(shared_engine, "one").release()
    finally:
        over.set()
        looking.join()
