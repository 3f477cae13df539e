"""Station guidance by the worker: the newest run that is there, noted like every other feed's."""

import threading
from datetime import UTC, datetime, timedelta

import pytest
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from refuge.status import status_of
from refuge.store.engine import reading
from refuge.store.guidance import guidance_as_of
from refuge.store.runs import Outcome, Run, Tally, last_runs
from refuge.worker.lead import work_once
from refuge.worker.plan import planned
from refuge.worker.run import Job, run_feed
from tests.adapters.worker.replay import Service
from tests.core.weather.guidance_blocks import blend, lamp

NOW = datetime(2028, 2, 28, 23, 20, tzinfo=UTC)
NBH = "/pub/data/nccf/com/blend/prod/blend.20280228/{0}/text/blend_nbhtx.t{0}z"
LAV = "/pub/data/nccf/com/lmp/prod/lmp.20280228/lmp.t{0}30z.lavtxt.ascii"
STATION = {"id": "XAAA", "icaoId": "XAAA", "site": "A", "lat": 1.0, "lon": 2.0, "elev": 3, "siteType": ["METAR"]}


@pytest.fixture
def server(httpserver: HTTPServer) -> HTTPServer:
    """Give the service, which has a Blend of 22:00 (invented) that is not asked for twice."""
    block = blend({"CIG": ["60"], "VIS": ["100"]})

    def answer(request: Request) -> Response:
        if request.headers.get("If-None-Match") == '"1"':
            return Response(status=304)
        return Response(f"{block}\n{' ' * 80}\n{block.replace('XAAA', 'XELSE')}\n", headers={"ETag": '"1"'})

    httpserver.no_handler_status_code = 404
    httpserver.expect_request(NBH.format("22")).respond_with_handler(answer)
    return httpserver


@pytest.fixture
def placed(job: Job, service: Service, server: HTTPServer) -> Job:
    """Give a worker whose store has one station."""
    service.stations = [STATION]
    assert run_feed(job, "stations", now=NOW) is Outcome.OK
    return job


def last(job: Job, feed: str) -> Run:
    with reading(job.engine) as conn:
        return last_runs(conn)[feed]


def test_the_newest_run_that_is_there_with_how_late_it_came(placed: Job) -> None:
    assert run_feed(placed, "nbh", now=NOW) is Outcome.OK
    # made at 22:00, received at 23:20; of a station that the store does not have nothing is kept
    assert last(placed, "nbh").tally == Tally(fetched=1, new=1, late_median_s=4800.0, late_max_s=4800.0)
    with reading(placed.engine) as conn:
        assert set(guidance_as_of(conn, NOW)) == {"XAAA"}
    assert run_feed(placed, "nbh", now=NOW + timedelta(minutes=20)) is Outcome.UNCHANGED
    warnings = [text for text in status_of(placed.engine, NOW + timedelta(hours=4)).warnings if "nbh" in text]
    # overdue three hours and ten minutes after the last good run, of 23:40
    assert warnings == ["nbh: no good run since 2028-02-28T23:40:00Z: overdue"]


def test_guidance_by_one_name_and_a_product_that_fails_costs_no_other(placed: Job, server: HTTPServer) -> None:
    server.expect_request(LAV.format("22")).respond_with_data(lamp({"CIG": ["8"]}).replace("XCCC", "XAAA"))
    outcomes = work_once(placed, planned("guidance"), now=NOW)
    assert outcomes == {
        "lav": Outcome.OK, "lev": Outcome.FAILED, "nbh": Outcome.OK, "nbs": Outcome.FAILED,
    }  # fmt: skip
    assert "none of the last 4 runs of LEV is there" in str(last(placed, "lev").error)


def test_without_a_place_there_is_nothing_to_keep(job: Job, server: HTTPServer) -> None:
    assert run_feed(job, "nbh", now=NOW) is Outcome.FAILED
    assert "no station and no airfield is known" in str(last(job, "nbh").error)
    assert server.log == []


def test_a_stop_breaks_it_off(placed: Job, server: HTTPServer, stop: threading.Event) -> None:
    before = len(server.log)
    stop.set()
    assert run_feed(placed, "nbh", now=NOW) is Outcome.FAILED
    assert "told to stop" in str(last(placed, "nbh").error)
    assert len(server.log) == before
