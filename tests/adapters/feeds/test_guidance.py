"""Guidance from a local server that has the service's paths: the newest run, as a stream, wanted stations only."""

import gzip
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from refuge.errors import FeedError, InputError
from refuge.feeds.feed import Fetched, Validators
from refuge.feeds.guidance import SETTINGS, GuidanceFeed, guidance_feed
from refuge.weather.bulletin import Kind
from refuge.weather.guidance import Product
from tests.core.weather.guidance_blocks import blend, lamp

NOW = datetime(2028, 2, 28, 23, 20, tzinfo=UTC)
QUICK = replace(SETTINGS, attempts=2, first_wait_s=0.0, deadline_s=10.0)
NBH = "/pub/data/nccf/com/blend/prod/blend.20280228/{0}/text/blend_nbhtx.t{0}z"
LAV = "/pub/data/nccf/com/lmp/prod/lmp.20280228/lmp.t{0}30z.lavtxt.ascii"
BLOCK = blend({"CIG": ["60"], "VIS": ["100"]})
OTHER = BLOCK.replace("XAAA", "XBBB")
CONTENT = f"{BLOCK}\n{' ' * 80}\n{OTHER}\n{' ' * 80}\n"


@pytest.fixture
def server(httpserver: HTTPServer) -> HTTPServer:
    httpserver.no_handler_status_code = 404
    return httpserver


def fetch(
    server: HTTPServer, product: Product = "NBH", *, wanted: tuple[str, ...] | None = ("XAAA",), **since: Validators
) -> Fetched:
    feed = GuidanceFeed(
        product=product, received_at=NOW, wanted=wanted, base_url=server.url_for(""), settings=QUICK
    )
    return feed.fetch(Kind.GUIDANCE, {v.url: v for v in since.values()})


def asked(server: HTTPServer) -> list[str]:
    return [request.path for request, _ in server.log]


def test_the_newest_run_that_is_there(server: HTTPServer) -> None:
    server.expect_request(NBH.format("22")).respond_with_data(CONTENT, headers={"ETag": '"a"'})
    server.expect_request(NBH.format("21")).respond_with_data("never asked for")
    found = fetch(server)
    assert asked(server) == [NBH.format("23"), NBH.format("22")]
    (bulletin,) = found.bulletins
    assert (bulletin.kind, bulletin.raw, bulletin.received_at) == (Kind.GUIDANCE, BLOCK, NOW)
    assert bulletin.source == server.url_for(NBH.format("22"))
    assert found.validators == (Validators(url=bulletin.source, etag='"a"'),)


def test_the_run_that_was_had_already(server: HTTPServer) -> None:
    def same(request: Request) -> Response:
        return Response(status=304 if request.headers.get("If-None-Match") == '"a"' else 500)

    server.expect_request(NBH.format("23")).respond_with_handler(same)
    known = Validators(url=server.url_for(NBH.format("23")), etag='"a"')
    assert fetch(server, known=known) == Fetched(unchanged=True)


def test_lamp_is_made_at_half_past(server: HTTPServer) -> None:
    block = lamp({"CIG": ["8"]})
    server.expect_request(LAV.format("22")).respond_with_data(block)
    assert [b.raw for b in fetch(server, "LAV", wanted=None).bulletins] == [block]
    assert asked(server) == [LAV.format("22")]


def test_all_stations_also_packed(server: HTTPServer) -> None:
    server.expect_request(NBH.format("23")).respond_with_data(
        gzip.compress(CONTENT.encode()), headers={"Content-Encoding": "gzip"}
    )
    assert [b.raw for b in fetch(server, wanted=None).bulletins] == [BLOCK, OTHER]


def test_a_damaged_block_of_a_wanted_station_is_kept_and_costs_no_neighbour(server: HTTPServer) -> None:
    damaged = BLOCK.replace("GUIDANCE", "#")
    server.expect_request(NBH.format("23")).respond_with_data(f"{OTHER}\n{damaged}\n{OTHER}")
    assert [b.raw for b in fetch(server, wanted=("XAAA", "XBBB")).bulletins] == [OTHER, damaged, OTHER]


def test_no_run_at_all(server: HTTPServer) -> None:
    with pytest.raises(FeedError, match="none of the last 4 runs of NBH is there"):
        fetch(server)
    assert len(server.log) == 4


def test_a_failing_service_is_not_asked_for_older_runs(server: HTTPServer) -> None:
    server.expect_request(NBH.format("23")).respond_with_data("sorry", status=503)
    with pytest.raises(FeedError, match="answered 503"):
        fetch(server)
    assert set(asked(server)) == {NBH.format("23")}


@pytest.mark.parametrize(
    ("body", "headers", "says"),
    [
        (b"<html>maintenance</html>", {}, "no station's block"),
        (gzip.compress(CONTENT.encode())[:-20], {}, "gzip cut short"),
        (b"\x1f\x8b" + b"nonsense" * 9, {}, "damaged gzip"),
        (b"x" * 70_000, {}, "a line without end"),
        (CONTENT.encode(), {"Content-Encoding": "br"}, "packed as br"),
    ],
)
def test_what_is_no_guidance(server: HTTPServer, body: bytes, headers: dict[str, str], says: str) -> None:
    server.expect_request(NBH.format("23")).respond_with_data(body, headers=headers)
    with pytest.raises(FeedError, match=says):
        fetch(server)


@pytest.mark.parametrize("bound", ["max_bytes", "max_packed_bytes"])
def test_too_much(server: HTTPServer, bound: str) -> None:
    server.expect_request(NBH.format("23")).respond_with_data(CONTENT * 100)
    feed = GuidanceFeed(
        product="NBH",
        received_at=NOW,
        base_url=server.url_for(""),
        settings=replace(QUICK, **{bound: 1000}),  # type: ignore[arg-type]
    )
    with pytest.raises(FeedError, match="more than 1,000 bytes"):
        feed.fetch(Kind.GUIDANCE, {})


def test_a_feed_by_name() -> None:
    feed = guidance_feed("nbs", received_at=NOW, wanted=None, base_url=None, settings=QUICK)
    assert (feed.product, feed.name) == ("NBS", "https://noaa-nbm-grib2-pds.s3.amazonaws.com")
    with pytest.raises(InputError, match="no product"):
        guidance_feed("nbe", received_at=NOW, wanted=None, base_url=None, settings=QUICK)
    with pytest.raises(FeedError, match="has no TAF"):
        feed.fetch(Kind.TAF, {})


def test_who_is_told_to_stop_breaks_off_in_the_middle_of_a_file(server: HTTPServer) -> None:
    """The first piece is taken, the second no more; no older run and no other service is asked then."""
    server.expect_request(NBH.format("23")).respond_with_data(CONTENT * 20_000)
    answers = iter([True, True])
    feed = GuidanceFeed(
        product="NBH",
        received_at=NOW,
        wanted=("XAAA",),
        base_url=server.url_for(""),
        settings=QUICK,
        go_on=lambda: next(answers, False),
    )
    with pytest.raises(FeedError, match="told to stop"):
        feed.fetch(Kind.GUIDANCE, {})
    assert asked(server) == [NBH.format("23")]
