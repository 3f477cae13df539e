"""What a request says of the form of its answer (RFC 9110, 12.5 and 13.1), and what an ETag covers."""

import pytest

from refuge.web.ready import GEOJSON, Made, is_known, make_ready, prefers_geojson, takes_gzip


@pytest.mark.parametrize(
    ("header", "taken"),
    [
        (b"gzip", True), (b"gzip, deflate, br", True), (b"br;q=1, gzip;q=0.2", True), (b"*", True), (b"GZIP", True),
        (b"gzip;q=0", False), (b"*, gzip;q=0", False), (b"identity", False), (b"", False), (b"gzip;q=x", False),
    ],
)  # fmt: skip
def test_gzip_is_sent_to_who_takes_it(header: bytes, taken: bool) -> None:
    assert takes_gzip(header) is taken


@pytest.mark.parametrize(
    ("header", "preferred"),
    [
        (b"application/geo+json", True), (b"application/geo+json, */*;q=0.1", True), (b"*/*", False),
        (b"application/json", False), (b"application/json, application/geo+json;q=0.9", False),
        (b"application/geo+json;q=0", False), (b"application/geo+json;q=0.5", True), (b"text/html", False),
    ],
)  # fmt: skip
def test_geojson_is_sent_to_who_prefers_it(header: bytes, preferred: bool) -> None:
    assert prefers_geojson(header) is preferred


@pytest.mark.parametrize(
    ("sent", "known"),
    [
        (b'W/"a"', True), (b'"a"', True), (b"*", True), (b'"b", W/"a"', True), (b'W/"b","a"', True),
        (b'"b"', False), (b'"aa"', False), (b"a", False),
    ],
)  # fmt: skip
def test_an_etag_is_compared_weakly(sent: bytes, known: bool) -> None:
    assert is_known(b'W/"a"', sent) is known


def test_an_etag_covers_what_it_is_told_to() -> None:
    """Other bytes that say the same keep it; the same bytes of another kind do not."""
    one, same = make_ready(Made(body="1", covers="x")), make_ready(Made(body="2", covers="x"))
    other, geo = make_ready(Made(body="1", covers="y")), make_ready(Made(body="1", covers="x", media=GEOJSON))
    assert one.etag == same.etag
    assert len({one.etag, other.etag, geo.etag}) == 3
