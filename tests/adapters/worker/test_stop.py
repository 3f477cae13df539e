"""A stop in the middle of a cycle: what is running finishes, then the worker ends."""

import os
import signal
import time
from datetime import timedelta

import pytest

from refuge.cli.options import instant_or_now
from refuge.store.engine import reading
from refuge.store.leader import leader_of
from refuge.store.reads import latest_observations
from refuge.store.runs import Outcome, last_runs
from refuge.worker.run import Job
from tests.adapters.worker.processes import asking_for_writers, nursery
from tests.adapters.worker.replay import Service


@pytest.mark.parametrize("told", [signal.SIGTERM, signal.SIGINT])
def test_a_stop_in_a_transaction_lets_it_finish(
    store_url: str, job: Job, service: Service, told: signal.Signals
) -> None:
    observed = instant_or_now(None) - timedelta(minutes=10)
    stations = {f"X{a}{b}A" for a in "ABCDEFGHIJKLMNOPQRST" for b in "ABCDEFGHIJKLMNOPQRST"}
    service.metars = [f"METAR {name} {observed:%d%H%M}Z 24010KT 10SM OVC040 10/05 A2992" for name in stations]
    with nursery() as home, asking_for_writers(job.engine) as inside:
        worker = home.worker("--feeds", "metar", "--store", store_url, "--base-url", str(job.base_url))
        end_s = time.monotonic() + 30
        stopped_inside = False
        while not stopped_inside:
            assert time.monotonic() < end_s
            if not begun(job) or not inside():
                time.sleep(0.002)
                continue
            os.kill(worker, signal.SIGSTOP)
            assert home.said() == "stopped"
            stopped_inside = inside()
            if stopped_inside:
                os.kill(worker, told)
            os.kill(worker, signal.SIGCONT)
        assert home.said() == "ended 0"
    with reading(job.engine) as conn:
        assert last_runs(conn)["metar"].outcome is Outcome.OK
        assert set(latest_observations(conn, instant_or_now(None))) == stations
    assert leader_of(job.engine) is None


def begun(job: Job) -> bool:
    with reading(job.engine) as conn:
        return "metar" in last_runs(conn)
