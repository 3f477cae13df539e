"""One run of one feed: what it brought and how late, noted in the log of runs, whatever happened."""

import logging
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from refuge.errors import StoreError
from refuge.feeds.awc import METARS, STATIONS, WINDS
from refuge.store.engine import reading, writing
from refuge.store.runs import GOOD, Outcome, Run, Tally, begin_run, close_interrupted, last_runs
from refuge.worker import run as module
from refuge.worker.lead import work_once
from refuge.worker.plan import planned
from refuge.worker.run import Job, run_feed
from tests.adapters.worker.replay import Service

# Every report here is invented (prefix X).
NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
METAR_1450 = "METAR XABC 101450Z 24010KT 10SM OVC040 10/05 A2992"
METAR_1440 = "METAR XDEF 101440Z 24010KT 10SM OVC040 10/05 A2992"
WINDS_TEXT = """FBUS31 KWNO 101400
FD1US1
DATA BASED ON 101200Z
VALID 101800Z   FOR USE 1400-2100Z. TEMPS NEG ABV 24000

FT  3000    6000
ABC      2544+15
"""


def last(job: Job, feed: str) -> Run:
    with reading(job.engine) as conn:
        return last_runs(conn)[feed]


def station(name: str, *, elevation_m: int = 100) -> dict[str, object]:
    return {
        "id": name, "icaoId": name, "site": name, "lat": 1.5, "lon": 2.5, "elev": elevation_m, "siteType": ["METAR"]
    }  # fmt: skip


def test_what_is_new_with_how_late_it_came(job: Job, service: Service) -> None:
    service.metars = [METAR_1450, METAR_1440, "METAR XGHI"]
    assert run_feed(job, "metar", now=NOW) is Outcome.OK
    run = last(job, "metar")
    # Received at 15:00: 10 and 20 minutes after they were observed. The third names no time: refused.
    assert run.tally == Tally(fetched=3, new=2, refused=1, late_median_s=900.0, late_max_s=1200.0)
    assert (run.outcome, run.worker, run.started_at, run.error) == (Outcome.OK, "one", NOW, None)
    assert run.ended_at is not None
    assert run.ended_at >= NOW


def test_what_is_known_already_is_not_late(job: Job, service: Service) -> None:
    service.metars = [METAR_1450]
    run_feed(job, "metar", now=NOW)
    service.metars = [METAR_1450, METAR_1440]
    run_feed(job, "metar", now=NOW + timedelta(minutes=5))
    # XDEF's report of 14:40, received at 15:05
    assert last(job, "metar").tally == Tally(fetched=2, new=1, known=1, late_median_s=1500.0, late_max_s=1500.0)


def test_a_correction_is_new_and_changed(job: Job, service: Service) -> None:
    service.metars = [METAR_1450, METAR_1440]
    run_feed(job, "metar", now=NOW)
    service.metars = [METAR_1450.replace("METAR XABC 101450Z", "METAR XABC 101450Z COR"), METAR_1440]
    run_feed(job, "metar", now=NOW + timedelta(minutes=5))
    tally = last(job, "metar").tally
    assert tally is not None
    assert (tally.new, tally.changed, tally.known) == (1, 1, 1)


def test_an_amended_forecast_is_new_and_changed(job: Job, service: Service) -> None:
    service.tafs = ["TAF XABC 101130Z 1012/1112 24010KT P6SM OVC040"]
    assert run_feed(job, "taf", now=NOW) is Outcome.OK
    assert last(job, "taf").tally == Tally(fetched=1, new=1, late_median_s=12_600.0, late_max_s=12_600.0)  # 3 h 30
    service.tafs = ["TAF AMD XABC 101500Z 1015/1112 24010KT 2SM OVC004"]
    run_feed(job, "taf", now=NOW + timedelta(minutes=5))
    assert last(job, "taf").tally == Tally(fetched=1, new=1, changed=1, late_median_s=300.0, late_max_s=300.0)


def test_nothing_newer(job: Job, service: Service) -> None:
    service.metars = [METAR_1450]
    run_feed(job, "metar", now=NOW)
    assert run_feed(job, "metar", now=NOW + timedelta(minutes=5)) is Outcome.UNCHANGED
    assert last(job, "metar").tally == Tally()
    assert len(service.asked) == 2


def test_a_feed_that_fails_is_noted_with_why(job: Job, service: Service) -> None:
    service.failing = {METARS}
    assert run_feed(job, "metar", now=NOW) is Outcome.FAILED
    run = last(job, "metar")
    assert run.tally is None
    assert run.error is not None
    assert "404" in run.error
    with reading(job.engine) as conn:
        assert last_runs(conn, outcomes=GOOD) == {}


def test_a_fault_of_ours_is_noted_too(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_args: object, **_options: object) -> None:
        raise ZeroDivisionError("oops")

    monkeypatch.setattr(module, "collect", broken)
    assert run_feed(job, "metar", now=NOW) is Outcome.FAILED
    assert last(job, "metar").error == "a fault of refuge: ZeroDivisionError: oops"


def test_a_run_that_the_store_refuses_to_note_ends_well(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(*_args: object, **_options: object) -> None:
        raise StoreError("database is locked")

    monkeypatch.setattr(module, "begin_run", locked)
    assert run_feed(job, "metar", now=NOW) is Outcome.FAILED


def test_stations_new_changed_and_known(job: Job, service: Service) -> None:
    lost = station("XLST") | {"lat": -99.99, "lon": -99.99}
    service.stations = [station("XABC"), station("XDEF"), lost]
    run_feed(job, "stations", now=NOW)
    assert last(job, "stations").tally == Tally(fetched=3, new=2, refused=1)
    service.stations = [station("XABC"), station("XDEF", elevation_m=120), station("XGHI")]
    run_feed(job, "stations", now=NOW + timedelta(days=1))
    assert last(job, "stations").tally == Tally(fetched=3, new=1, changed=1, known=1)
    assert run_feed(job, "stations", now=NOW + timedelta(days=2)) is Outcome.UNCHANGED


def waits(record: list[float], stop_after: int | None = None) -> Callable[[float], bool]:
    def wait(seconds: float) -> bool:
        record.append(seconds)
        return stop_after is not None and len(record) > stop_after

    return wait


def test_the_service_is_asked_for_one_path_once_a_minute(job: Job, service: Service) -> None:
    service.winds = WINDS_TEXT
    waited: list[float] = []
    patient = Job(engine=job.engine, worker="one", wait=waits(waited), base_url=job.base_url)
    assert run_feed(patient, "winds", now=NOW) is Outcome.OK
    assert len(service.asked) == 6
    assert len(waited) == 5
    # its published limits: no endpoint more often than once a minute (data/README.md)
    assert min(waited) > 60
    # the same text six times is one bulletin, based on 12:00
    assert last(job, "winds").tally == Tally(fetched=6, new=1, known=5, late_median_s=10_800.0, late_max_s=10_800.0)


def test_a_stop_between_requests_keeps_what_came(job: Job, service: Service) -> None:
    service.winds = WINDS_TEXT
    hurried = Job(engine=job.engine, worker="one", wait=waits([], stop_after=1), base_url=job.base_url)
    assert run_feed(hurried, "winds", now=NOW) is Outcome.PARTIAL
    assert len(service.asked) == 2
    run = last(job, "winds")
    assert run.tally is not None
    assert run.tally.new == 1
    assert run.error is not None
    assert "told to stop" in run.error


def test_once_runs_every_feed_and_one_that_fails_costs_no_other(job: Job, service: Service) -> None:
    service.metars, service.stations, service.failing = [METAR_1450], [station("XABC")], {STATIONS}
    outcomes = work_once(job, planned("metar,stations"), now=NOW)
    assert outcomes == {"stations": Outcome.FAILED, "metar": Outcome.OK}
    service.failing = {WINDS, METARS}
    outcomes = work_once(job, planned("metar,stations"), now=NOW)
    assert outcomes == {"stations": Outcome.OK, "metar": Outcome.FAILED}


def test_once_at_an_address_that_nobody_answers_waits_for_nothing(
    job: Job, caplog: pytest.LogCaptureFixture
) -> None:
    """Port 9 of this machine: the eleven pauses of a minute each that winds made are left out."""
    waited: list[float] = []
    away = replace(job, base_url="http://127.0.0.1:9", wait=waits(waited))
    with caplog.at_level(logging.INFO, logger="refuge.worker"):
        outcomes = work_once(away, planned("metar,winds"), now=NOW)
    assert outcomes == {"metar": Outcome.FAILED, "winds": Outcome.FAILED}
    assert [seconds for seconds in waited if seconds] == []
    assert [record.getMessage() for record in caplog.records] == ["run begins", "run ended"] * 2
    assert "no answer" in str(last(job, "winds").error)


def test_once_stops_between_feeds(job: Job, stop: threading.Event) -> None:
    stop.set()
    assert work_once(job, planned(None), now=NOW) == {}


def test_runs_of_long_ago_are_forgotten(job: Job) -> None:
    with writing(job.engine) as conn:
        begin_run(conn, "metar", worker="one", started_at=NOW - timedelta(days=91))
        begin_run(conn, "metar", worker="one", started_at=NOW - timedelta(days=89))
        begin_run(conn, "metar", worker="one", started_at=NOW)
    with writing(job.engine) as conn:
        assert close_interrupted(conn, ended_at=NOW) == 2
