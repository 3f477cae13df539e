"""The HTTP client against a real server on this machine: every way in which an answer can be bad."""

import gzip
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from refuge import __version__
from refuge.errors import FeedError
from refuge.feeds.feed import Validators
from refuge.feeds.http import HttpSettings, get

QUICK = HttpSettings(read_s=5.0, deadline_s=10.0, attempts=3, first_wait_s=0.0)


def test_plain_content_with_its_validators(httpserver: HTTPServer) -> None:
    headers = {"ETag": '"abc"', "Last-Modified": "Sat, 22 Oct 2022 03:00:00 GMT"}
    httpserver.expect_request("/x").respond_with_data("hello", headers=headers)
    answer = get(httpserver.url_for("/x"), settings=QUICK)
    assert answer.content == b"hello"
    assert answer.validators == Validators(
        url=httpserver.url_for("/x"), etag='"abc"', last_modified="Sat, 22 Oct 2022 03:00:00 GMT"
    )


def test_what_the_server_learns_about_us(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/x", query_string="level=low").respond_with_data("hello")
    get(httpserver.url_for("/x"), params={"level": "low"}, settings=HttpSettings(contact="ops@example.org"))
    (request, _) = httpserver.log[0]
    assert request.headers["User-Agent"] == f"refuge/{__version__} (+ops@example.org)"
    assert request.headers["Accept-Encoding"] == "gzip"


@pytest.mark.parametrize("encoded", [False, True])
def test_a_gz_file_also_when_packed_again_on_the_way(httpserver: HTTPServer, encoded: bool) -> None:
    body = gzip.compress(b"hello")
    headers = {"Content-Encoding": "gzip"} if encoded else {}
    httpserver.expect_request("/x.gz").respond_with_data(gzip.compress(body) if encoded else body, headers=headers)
    assert get(httpserver.url_for("/x.gz"), settings=QUICK).content == b"hello"


def test_content_packed_on_the_way_alone(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/x").respond_with_data(gzip.compress(b"hello"), headers={"Content-Encoding": "gzip"})
    assert get(httpserver.url_for("/x"), settings=QUICK).content == b"hello"


def test_a_packing_that_was_not_asked_for_is_refused(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/x").respond_with_data(b"??", headers={"Content-Encoding": "br"})
    with pytest.raises(FeedError, match="packed as br"):
        get(httpserver.url_for("/x"), settings=QUICK)


def test_asks_only_for_what_is_newer(httpserver: HTTPServer) -> None:
    def answer(request: Request) -> Response:
        same = request.headers.get("If-None-Match") == '"abc"'
        return Response(status=304) if same else Response("new", headers={"ETag": '"abc"'})

    httpserver.expect_request("/x").respond_with_handler(answer)
    url = httpserver.url_for("/x")
    first = get(url, settings=QUICK)
    assert first.content == b"new"
    assert get(url, since={url: first.validators}, settings=QUICK).content is None
    by_date = Validators(url=url, last_modified="Sat, 22 Oct 2022 03:00:00 GMT")
    assert get(url, since={url: by_date}, settings=QUICK).content == b"new"
    assert httpserver.log[-1][0].headers["If-Modified-Since"] == "Sat, 22 Oct 2022 03:00:00 GMT"


def test_no_data_is_nothing_new(httpserver: HTTPServer) -> None:
    # 204: data/README.md, 'NOAA limits'
    httpserver.expect_request("/x").respond_with_data(status=204)
    assert get(httpserver.url_for("/x"), settings=QUICK).content is None


@pytest.mark.parametrize("status", [500, 502, 503])
def test_a_failing_server_is_asked_again(httpserver: HTTPServer, status: int) -> None:
    httpserver.expect_ordered_request("/x").respond_with_data("oops", status=status)
    httpserver.expect_ordered_request("/x").respond_with_data("hello")
    assert get(httpserver.url_for("/x"), settings=QUICK).content == b"hello"


def test_but_not_for_ever(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/x").respond_with_data("oops", status=500)
    with pytest.raises(FeedError, match="answered 500"):
        get(httpserver.url_for("/x"), settings=QUICK)
    assert len(httpserver.log) == QUICK.attempts


def test_too_many_requests_waits_as_long_as_asked(httpserver: HTTPServer) -> None:
    httpserver.expect_ordered_request("/x").respond_with_data(status=429, headers={"Retry-After": "1"})
    httpserver.expect_ordered_request("/x").respond_with_data("hello")
    began_s = time.monotonic()
    assert get(httpserver.url_for("/x"), settings=QUICK).content == b"hello"
    assert time.monotonic() - began_s >= 1.0


def test_too_many_requests_gives_up_at_once_when_the_wait_is_too_long(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/x").respond_with_data(status=429)  # then a minute: feeds/rate-limits.yml
    began_s = time.monotonic()
    with pytest.raises(FeedError, match=r"answered 429.*wait a minute"):
        get(httpserver.url_for("/x"), settings=QUICK)
    assert time.monotonic() - began_s < 5.0
    assert len(httpserver.log) == 1


def test_a_wrong_address_is_not_asked_again(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/x").respond_with_data(status=404)
    with pytest.raises(FeedError, match="answered 404"):
        get(httpserver.url_for("/x"), settings=QUICK)
    assert len(httpserver.log) == 1


def test_too_much_is_refused_while_it_comes(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/x").respond_with_data(b"x" * 5000)
    with pytest.raises(FeedError, match="more than 1,000 bytes"):
        get(httpserver.url_for("/x"), settings=HttpSettings(max_packed_bytes=1000))


def test_too_much_unpacked_is_refused(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/x.gz").respond_with_data(gzip.compress(b"x" * 5000))
    with pytest.raises(FeedError, match="more than 1,000 bytes unpacked"):
        get(httpserver.url_for("/x.gz"), settings=HttpSettings(max_bytes=1000))


@contextmanager
def dripping(first: bytes, drop: bytes) -> Iterator[str]:
    """Give the address of a server that sends `first`, then `drop` every 50 ms until nobody listens."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            connection, _ = server.accept()
            with connection:
                connection.recv(65536)
                try:
                    connection.sendall(first)
                    while True:
                        connection.sendall(drop)
                        time.sleep(0.05)
                except OSError:
                    return  # the client hung up: what the test is about

        thread = threading.Thread(target=serve)
        thread.start()
        yield f"http://127.0.0.1:{server.getsockname()[1]}/x"
        thread.join(timeout=5)
        assert not thread.is_alive()


@pytest.mark.parametrize(
    ("first", "drop"),
    [(b"HTTP/1.1 200 OK\r\nContent-Length: 100000\r\n\r\n", b"x"), (b"HTTP/1.1 200 OK\r\nX: ", b"x")],
    ids=["body", "headers"],
)
def test_a_slow_drip_is_cut_by_the_total_deadline(first: bytes, drop: bytes) -> None:
    # each read is well within its timeout: stack.md, 'fetching', a slow drip ran 3 s against 0.5 s
    began_s = time.monotonic()
    with dripping(first, drop) as url, pytest.raises(FeedError, match=r"no whole answer within 0.5 s"):
        get(url, settings=HttpSettings(read_s=5.0, deadline_s=0.5))
    assert time.monotonic() - began_s < 2.0


def test_a_connection_cut_in_the_middle_is_no_shorter_answer() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            connection, _ = server.accept()
            with connection:
                connection.recv(65536)
                connection.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 100\r\n\r\nMETAR")

        thread = threading.Thread(target=serve)
        thread.start()
        with pytest.raises(FeedError, match="no answer"):
            get(f"http://127.0.0.1:{server.getsockname()[1]}/x", settings=HttpSettings(attempts=1))
        thread.join(timeout=5)


def test_nobody_there_is_a_feed_error() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"http://127.0.0.1:{server.getsockname()[1]}/x"
    with pytest.raises(FeedError, match="no answer"):
        get(url, settings=HttpSettings(attempts=1))


@pytest.mark.parametrize("url", ["no address", "ftp://example.org/x", "http://[broken/x", "http://x:port/"])
def test_an_address_that_is_none_is_a_feed_error(url: str) -> None:
    with pytest.raises(FeedError):
        get(url, settings=QUICK)
