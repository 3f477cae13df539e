"""The Aviation Weather Center, replayed by a real server on this machine, into a real store."""

import gzip
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from pytest_httpserver import HTTPServer
from sqlalchemy import Engine, func, select
from werkzeug import Request, Response

from refuge.errors import FeedError, UnreachedError
from refuge.feeds.awc import AwcFeed
from refuge.feeds.http import Answer, HttpSettings, get
from refuge.ingest import IngestCounts, collect, collect_stations
from refuge.store.engine import reading
from refuge.store.places import all_stations
from refuge.store.raws import last_imports
from refuge.store.reads import latest_observations
from refuge.store.schema import bulletins, refused
from refuge.weather.bulletin import Kind

NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)
# Invented reports (prefix X) in the columns of the service; only the first three are read.
CSV = (
    "raw_text,station_id,observation_time\n"
    "METAR XABC 220250Z 24010KT 10SM OVC040 10/05 A2992,XABC,2022-10-22T02:50:00Z\n"
    "half a row\n"
    "METAR XDEF 220250Z 24010KT 2SM BR OVC004 10/09 A2992,XDEF,2022-10-22T02:50:00Z\n"
)
XML = (
    '<?xml version="1.0"?><response><data><TAF><raw_text>TAF XABC 212330Z 2200/2306 24010KT P6SM OVC040</raw_text>'
    "<station_id>XABC</station_id><issue_time>2022-10-21T23:30:00Z</issue_time></TAF></data></response>"
)
WINDS = """000
FBUS31 KWNO 220159
FD1US1
DATA BASED ON 220000Z
VALID 220600Z   FOR USE 0200-0900Z. TEMPS NEG ABV 24000

FT  3000    6000
ABI      2544+15
"""
STATIONS = [
    {
        "id": "XABC",
        "icaoId": "XABC",
        "site": "Abc",
        "lat": 1.5,
        "lon": 2.5,
        "elev": 100,
        "siteType": ["METAR", "TAF"],
    },
    {"id": "XDEF", "icaoId": "XDEF", "site": "Def", "lat": -99.99, "lon": -99.99, "elev": 9, "siteType": ["METAR"]},
    {"id": "XGHI", "icaoId": "XGHI", "site": "Ghi", "lat": 1, "lon": 2, "elev": 9999, "siteType": ["METAR"]},
    {"id": "41001", "icaoId": None, "site": "Buoy", "lat": 34.5, "lon": -72.6, "elev": 0, "siteType": []},
]

Feed = Callable[[], AwcFeed]


@pytest.fixture
def feed(httpserver: HTTPServer) -> Feed:
    settings = HttpSettings(deadline_s=10.0, attempts=2, first_wait_s=0.0)
    return lambda: AwcFeed(received_at=NOW, base_url=httpserver.url_for("/"), settings=settings)


def serve(httpserver: HTTPServer, path: str, content: bytes, etag: str = '"1"') -> None:
    def answer(request: Request) -> Response:
        if request.headers.get("If-None-Match") == etag:
            return Response(status=304)
        return Response(content, headers={"ETag": etag})

    httpserver.expect_request(path).respond_with_handler(answer)


def count(engine: Engine) -> int:
    with reading(engine) as conn:
        return conn.execute(select(func.count()).select_from(bulletins)).scalar() or 0


def test_reports_once_and_then_only_what_is_newer(httpserver: HTTPServer, engine: Engine, feed: Feed) -> None:
    serve(httpserver, "/data/cache/metars.cache.csv.gz", gzip.compress(CSV.encode()))
    first = collect(engine, feed(), Kind.METAR, now=NOW)
    assert (first.fetched, first.counts) == (3, IngestCounts(new=2, refused=1))
    again = collect(engine, feed(), Kind.METAR, now=NOW)
    assert (again.unchanged, again.counts) == (True, IngestCounts())
    with reading(engine) as conn:
        assert set(latest_observations(conn, NOW)) == {"XABC", "XDEF"}
        (kept,) = conn.execute(select(refused)).all()
    assert (kept.raw, kept.bulletin_id) == ("half a row", None)
    assert "columns" in kept.error


def test_a_newer_cache_brings_only_the_new_reports(httpserver: HTTPServer, engine: Engine, feed: Feed) -> None:
    path = "/data/cache/metars.cache.csv.gz"
    serve(httpserver, path, gzip.compress(CSV.encode()))
    collect(engine, feed(), Kind.METAR, now=NOW)
    httpserver.clear()
    newer = CSV + "METAR XABC 220259Z 24010KT 1SM BR OVC002 10/10 A2992,XABC,2022-10-22T02:59:00Z\n"
    serve(httpserver, path, gzip.compress(newer.encode()), etag='"2"')
    assert collect(engine, feed(), Kind.METAR, now=NOW).counts == IngestCounts(new=1, known=3)


def test_an_answer_that_was_not_stored_is_asked_for_again(
    httpserver: HTTPServer, engine: Engine, feed: Feed, monkeypatch: pytest.MonkeyPatch
) -> None:
    serve(httpserver, "/data/cache/metars.cache.csv.gz", gzip.compress(CSV.encode()))

    def fail(*_args: object, **_more: object) -> IngestCounts:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("refuge.ingest.ingest", fail)
        with pytest.raises(KeyboardInterrupt):
            collect(engine, feed(), Kind.METAR, now=NOW)
    assert collect(engine, feed(), Kind.METAR, now=NOW).counts.new == 2


def test_forecasts(httpserver: HTTPServer, engine: Engine, feed: Feed) -> None:
    serve(httpserver, "/data/cache/tafs.cache.xml.gz", gzip.compress(XML.encode()))
    assert collect(engine, feed(), Kind.TAF, now=NOW).counts == IngestCounts(new=1)
    assert collect(engine, feed(), Kind.TAF, now=NOW).unchanged


def test_winds_of_both_heights_and_three_periods(httpserver: HTTPServer, engine: Engine, feed: Feed) -> None:
    def answer(request: Request) -> str:
        return WINDS.replace("FD1US1", f"FD{request.args['fcst'][0]}US{1 + (request.args['level'] == 'high')}")

    httpserver.expect_request("/api/data/windtemp").respond_with_handler(lambda r: Response(answer(r)))
    done = collect(engine, feed(), Kind.WINDS, now=NOW)
    assert (done.counts, done.errors) == (IngestCounts(new=6), ())
    asked = {(r.args["region"], r.args["level"], r.args["fcst"]) for r, _ in httpserver.log}
    assert asked == {("all", level, hours) for level in ("low", "high") for hours in ("06", "12", "24")}


def test_one_part_of_the_winds_that_fails_spoils_no_other(
    httpserver: HTTPServer, engine: Engine, feed: Feed
) -> None:
    def answer(request: Request) -> Response:
        return Response(WINDS) if request.args["level"] == "low" else Response(status=404)

    httpserver.expect_request("/api/data/windtemp").respond_with_handler(answer)
    done = collect(engine, feed(), Kind.WINDS, now=NOW)
    assert done.counts == IngestCounts(new=1, known=2)
    assert len(done.errors) == 3
    assert count(engine) == 1


def counted(pauses: list[bool]) -> Callable[[], bool]:
    """Return a pause that takes no time, goes on, and leaves a mark."""

    def pause() -> bool:
        pauses.append(True)
        return True

    return pause


def test_where_no_connection_comes_about_the_other_parts_are_not_waited_for(engine: Engine) -> None:
    """Port 9 of this machine: nobody listens there. With a minute between the parts it took eleven."""
    pauses: list[bool] = []
    feed = AwcFeed(
        received_at=NOW, base_url="http://127.0.0.1:9", settings=HttpSettings(attempts=1),
        pause=counted(pauses),
    )  # fmt: skip
    with pytest.raises(UnreachedError, match="no answer"):
        collect(engine, feed, Kind.WINDS, now=NOW)
    assert pauses == []


def test_a_connection_lost_half_way_keeps_what_came(
    httpserver: HTTPServer, engine: Engine, feed: Feed, monkeypatch: pytest.MonkeyPatch
) -> None:
    httpserver.expect_request("/api/data/windtemp").respond_with_data(WINDS)
    pauses: list[bool] = []

    def lost(url: str, **more: Any) -> Answer:
        if len(pauses) == 2:
            raise UnreachedError("no answer", where=url)
        return get(url, **more)

    monkeypatch.setattr("refuge.feeds.awc.get", lost)
    done = collect(engine, replace(feed(), pause=counted(pauses)), Kind.WINDS, now=NOW)
    assert (done.fetched, done.counts.new, len(done.errors), len(pauses)) == (2, 1, 1, 2)
    assert not done.unchanged


def test_winds_of_the_contiguous_states_where_all_is_no_region(
    httpserver: HTTPServer, engine: Engine, feed: Feed
) -> None:
    # feeds/aviationweather-openapi.yml names no region "all"
    httpserver.expect_request("/api/data/windtemp").respond_with_handler(
        lambda r: Response(WINDS) if r.args["region"] == "us" else Response(status=400)
    )
    assert collect(engine, feed(), Kind.WINDS, now=NOW).counts.new == 1


def test_stations(httpserver: HTTPServer, engine: Engine, feed: Feed) -> None:
    serve(httpserver, "/data/cache/stations.cache.json.gz", gzip.compress(json.dumps(STATIONS).encode()))
    done = collect_stations(engine, feed(), now=NOW)
    assert (done.fetched, done.counts) == (4, IngestCounts(new=2, refused=2))
    with reading(engine) as conn:
        kept = {station.id: station for station in all_stations(conn)}
        (noted,) = last_imports(conn)
    assert set(kept) == {"XABC", "XGHI"}
    assert kept["XABC"].elevation_ft == pytest.approx(100 / 0.3048)  # exact: 0.3048 m, agreement of 1959
    assert (kept["XABC"].reports, kept["XABC"].forecasts) == (True, True)
    assert kept["XGHI"].elevation_ft is None
    assert (noted.what, noted.imported_at) == ("stations", NOW)
    assert "position" in noted.counts
    assert collect_stations(engine, feed(), now=NOW).unchanged


@pytest.mark.parametrize("content", [b"[]", b"{}", b"Sorry", json.dumps(STATIONS[3:]).encode()])
def test_a_list_that_is_none_leaves_the_stations_alone(
    httpserver: HTTPServer, engine: Engine, feed: Feed, content: bytes
) -> None:
    path = "/data/cache/stations.cache.json.gz"
    serve(httpserver, path, json.dumps(STATIONS).encode())
    collect_stations(engine, feed(), now=NOW)
    httpserver.clear()
    serve(httpserver, path, content, etag='"2"')
    with pytest.raises(FeedError):
        collect_stations(engine, feed(), now=NOW)
    with reading(engine) as conn:
        assert len(all_stations(conn)) == 2


@pytest.mark.parametrize("kind", [Kind.METAR, Kind.TAF])
def test_an_answer_that_is_something_else_is_a_feed_error(
    httpserver: HTTPServer, engine: Engine, feed: Feed, kind: Kind
) -> None:
    httpserver.expect_request("/data/cache/metars.cache.csv.gz").respond_with_data("Sorry, out of order")
    httpserver.expect_request("/data/cache/tafs.cache.xml.gz").respond_with_data("Sorry, out of order")
    with pytest.raises(FeedError, match="data/cache"):
        collect(engine, feed(), kind, now=NOW)


def test_the_real_world_cycle_is_stored_once(
    httpserver: HTTPServer, engine: Engine, feed: Feed, shared_data: Path
) -> None:
    content = (shared_data / "cycle" / "metars.cache.2022-10.csv").read_bytes()
    httpserver.expect_request("/data/cache/metars.cache.csv.gz").respond_with_data(gzip.compress(content))
    first = collect(engine, feed(), Kind.METAR, now=NOW)
    assert first.fetched == 4685  # data/README.md: 4,685 stations
    assert first.counts.new + first.counts.known + first.counts.refused == 4685
    assert first.counts.new >= 4680
    assert collect(engine, feed(), Kind.METAR, now=NOW).counts == IngestCounts(known=4685)
    with reading(engine) as conn:
        assert len(latest_observations(conn, NOW)) == first.counts.new
        assert latest_observations(conn, NOW - timedelta(minutes=1)) == {}


def test_the_real_list_of_stations(httpserver: HTTPServer, engine: Engine, feed: Feed, shared_data: Path) -> None:
    content = (shared_data / "stations" / "stations.cache.json").read_bytes()
    httpserver.expect_request("/data/cache/stations.cache.json.gz").respond_with_data(gzip.compress(content))
    done = collect_stations(engine, feed(), now=NOW)
    assert done.fetched == 9868  # data/README.md
    with reading(engine) as conn:
        kept = all_stations(conn)
    # data/README.md: 7,677 METAR and 3,711 TAF sites, 373 of all without a position
    assert 7600 <= sum(station.reports for station in kept) <= 7677
    assert 3600 <= sum(station.forecasts for station in kept) <= 3711
    assert all(-90 <= station.lat_deg <= 90 for station in kept)
