"""Answers ready to be sent: body, gzip and ETag made once, and sent without thinking."""

import gzip
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from hashlib import blake2b

from starlette.types import Send

GEOJSON = "application/geo+json"
JSON = "application/json"
PACKED_FROM_BYTES = 800
"""Shorter bodies gain nothing from gzip."""

Headers = list[tuple[bytes, bytes]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A body, and what its ETag covers: text that stays the same while the answer says the same."""

    body: str
    covers: str
    media: str = JSON


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """A body with everything that is sent with it, plain, packed, or as "not modified"."""

    etag: bytes
    body: bytes
    headers: Headers
    packed: bytes | None
    packed_headers: Headers
    unchanged_headers: Headers

    @property
    def size_bytes(self) -> int:
        """Return how much its bodies take."""
        return len(self.body) + len(self.packed or b"")


def make_ready(made: Made) -> Ready:
    """Return an answer with its gzip and its ETag.

    The ETag is weak: it names what an answer says (question, evidence, verdicts), not its bytes, which also
    tell as of when it was worked out. It is made of contents alone, so every server gives the same one.
    """
    body = made.body.encode()
    digest = blake2b(made.media.encode() + b"\n" + made.covers.encode(), digest_size=16).hexdigest()
    etag = f'W/"{digest}"'.encode()
    shared: Headers = [(b"etag", etag), (b"cache-control", b"no-cache"), (b"vary", b"accept, accept-encoding")]
    typed = [*shared, (b"content-type", made.media.encode()), (b"x-content-type-options", b"nosniff")]
    packed = gzip.compress(body, 6, mtime=0) if len(body) >= PACKED_FROM_BYTES else None
    size = len(packed or b"")
    return Ready(
        etag=etag,
        body=body,
        headers=[*typed, (b"content-length", str(len(body)).encode())],
        packed=packed,
        packed_headers=[*typed, (b"content-encoding", b"gzip"), (b"content-length", str(size).encode())],
        unchanged_headers=shared,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What a request says of the form of its answer."""

    none_match: bytes = b""
    packed: bool = False
    geojson: bool = False


def conditions_of(headers: Iterable[tuple[bytes, bytes]]) -> Conditions:
    """Return what the headers of a request (names in lower case) say of the form of its answer."""
    none_match, packed, geojson = b"", False, False
    for name, value in headers:
        if name == b"if-none-match":
            none_match = none_match + b"," + value if none_match else value
        elif name == b"accept-encoding":
            packed = takes_gzip(value)
        elif name == b"accept":
            geojson = prefers_geojson(value)
    return Conditions(none_match=none_match, packed=packed, geojson=geojson)


async def send_ready(send: Send, ready: Ready, asked: Conditions) -> int:
    """Send an answer as the request wants it; return the status."""
    if asked.none_match and is_known(ready.etag, asked.none_match):
        await send({"type": "http.response.start", "status": 304, "headers": ready.unchanged_headers})
        await send({"type": "http.response.body", "body": b""})
        return 304
    packed = ready.packed if asked.packed else None
    headers = ready.headers if packed is None else ready.packed_headers
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": ready.body if packed is None else packed})
    return 200


def is_known(etag: bytes, none_match: bytes) -> bool:
    """Return whether If-None-Match names this ETag, by the weak comparison (RFC 9110, 13.1.2)."""
    if none_match == etag:
        return True
    names = {name.strip().removeprefix(b"W/") for name in none_match.split(b",")}
    return b"*" in names or etag.removeprefix(b"W/") in names


@lru_cache(maxsize=64)
def takes_gzip(accept_encoding: bytes) -> bool:
    """Return whether an Accept-Encoding takes gzip."""
    weights = _weights(accept_encoding)
    return weights.get("gzip", weights.get("*", 0.0)) > 0.0


@lru_cache(maxsize=64)
def prefers_geojson(accept: bytes) -> bool:
    """Return whether an Accept names GeoJSON, and no plain JSON before it."""
    weights = _weights(accept)
    wanted = weights.get(GEOJSON, 0.0)
    return wanted > 0.0 and wanted >= weights.get(JSON, 0.0)


def _weights(header: bytes) -> dict[str, float]:
    """Return the names of a header with their weights; 0 where a weight cannot be read."""
    found: dict[str, float] = {}
    for part in header.decode("latin-1").lower().split(","):
        name, *parameters = (piece.strip() for piece in part.split(";"))
        given = [text[2:] for text in parameters if text.startswith("q=")]
        try:
            found[name] = float(given[0]) if given else 1.0
        except ValueError:
            found[name] = 0.0
    return found
