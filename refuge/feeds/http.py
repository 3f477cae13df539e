"""The one HTTP client: explicit timeouts under a total deadline, conditional, retried within bounds."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from typing import Protocol, TypeVar

import httpx
import stamina

from refuge import __version__
from refuge.errors import AbsentError, FeedError, UnreachedError
from refuge.feeds.feed import Validators
from refuge.feeds.inflate import MAX_BYTES, MAX_PACKED_BYTES, Unpacker, inflated

STREAMED_BYTES = 512 * 1024
"""Packed bytes handed on at a time."""
_NO_DATA = 204
_NOT_MODIFIED = 304
_TOO_MANY = 429
NOT_THERE = frozenset({403, 404})
"""An open bucket says 403 of what is not there, where it does not list its content (from memory)."""

_T = TypeVar("_T")
_SinkT = TypeVar("_SinkT", bound="Sink")
_Read = Callable[[httpx.Response, str], Awaitable[_T]]


@dataclass(frozen=True, slots=True, kw_only=True)
class HttpSettings:
    """Bounds of every request.

    ``deadline_s`` bounds one address as a whole, retries included: a server that sends a byte now
    and then satisfies every other timeout. ``contact`` goes into the User-Agent, so that the
    service can write to whoever asks too much.
    """

    contact: str = ""
    connect_s: float = 10.0
    read_s: float = 20.0
    deadline_s: float = 90.0
    attempts: int = 4
    first_wait_s: float = 0.5
    max_packed_bytes: int = MAX_PACKED_BYTES
    max_bytes: int = MAX_BYTES


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Content with its validators; ``content`` is ``None`` where the source has nothing new."""

    content: bytes | None
    validators: Validators


def get(
    url: str,
    *,
    since: Mapping[str, Validators] | None = None,
    settings: HttpSettings | None = None,
    params: Mapping[str, str] | None = None,
) -> Answer:
    """Return what `url` holds, unpacked, or that it has nothing newer than `since` (validators by address).

    429, 5xx and broken connections are tried again, within ``attempts`` and ``deadline_s``.

    Raises
    ------
    FeedError
        If there is no usable answer by then.
    """
    settings = settings or HttpSettings()

    async def whole(response: httpx.Response, address: str) -> bytes:
        packed = bytearray()
        async for chunk in response.aiter_raw():
            packed += chunk
            _check_packed(len(packed), address, settings)
        return inflated(bytes(packed), where=address, max_bytes=settings.max_bytes)

    content, validators = _ask(url, params, since, settings, whole)
    return Answer(content=content, validators=validators)


class Sink(Protocol):
    """What takes content piece by piece, so that none of it need be held."""

    def feed(self, piece: bytes) -> None:
        """Take the next piece, unpacked."""
        ...


def stream(
    url: str,
    *,
    fresh: Callable[[], _SinkT],
    since: Mapping[str, Validators] | None = None,
    settings: HttpSettings | None = None,
) -> tuple[_SinkT | None, Validators]:
    """Pour what `url` holds, unpacked, into a sink and return it; ``None`` if there is nothing newer than `since`.

    Each attempt has a `fresh` sink: what came before a connection broke is not used. Otherwise as `get`.

    Raises
    ------
    FeedError
        If there is no whole answer in time.
    """
    settings = settings or HttpSettings()

    async def poured(response: httpx.Response, address: str) -> _SinkT:
        sink, unpacker, packed = fresh(), Unpacker(where=address, max_bytes=settings.max_bytes), 0
        # Small pieces are gathered: what cuts them into lines and blocks then works on many at once.
        async for chunk in response.aiter_raw(STREAMED_BYTES):
            packed += len(chunk)
            _check_packed(packed, address, settings)
            for piece in unpacker.feed(chunk):
                sink.feed(piece)
        unpacker.close()
        return sink

    return _ask(url, None, since, settings, poured)


def _check_packed(count: int, address: str, settings: HttpSettings) -> None:
    if count > settings.max_packed_bytes:
        raise FeedError(f"more than {settings.max_packed_bytes:,} bytes", where=address, remedy="check the address")


def _ask(
    url: str,
    params: Mapping[str, str] | None,
    since: Mapping[str, Validators] | None,
    settings: HttpSettings,
    read: _Read[_T],
) -> tuple[_T | None, Validators]:
    """Return what `read` makes of the answer, ``None`` where there is none, and its validators; errors mapped."""
    stamina.instrumentation.set_on_retry_hooks(())  # its own would write to stderr
    address = url
    try:
        address = str(httpx.URL(url, params=params) if params else httpx.URL(url))
        return asyncio.run(_ask_by(address, (since or {}).get(address), settings, read))
    except TimeoutError as exc:
        raise FeedError(
            f"no whole answer within {settings.deadline_s:g} s", where=address, remedy="try again later"
        ) from exc
    except httpx.HTTPStatusError as exc:
        raise _status_error(exc.response, address) from exc
    except (httpx.HTTPError, httpx.InvalidURL) as exc:
        what = str(exc) or type(exc).__name__
        kind = UnreachedError if isinstance(exc, httpx.ConnectError | httpx.ConnectTimeout) else FeedError
        raise kind(f"no answer: {what}", where=address, remedy="check the network and the address") from exc


async def _ask_by(
    address: str, since: Validators | None, settings: HttpSettings, read: _Read[_T]
) -> tuple[_T | None, Validators]:
    timeout = httpx.Timeout(settings.read_s, connect=settings.connect_s)
    headers = {"User-Agent": user_agent(settings.contact), "Accept-Encoding": "gzip"} | _conditions(since)
    async with (
        asyncio.timeout(settings.deadline_s),
        httpx.AsyncClient(timeout=timeout, headers=headers, follow_redirects=True, max_redirects=3) as client,
    ):
        end_s = asyncio.get_running_loop().time() + settings.deadline_s
        attempts = stamina.retry_context(
            on=lambda exc: _wait_before_retry(exc, end_s - asyncio.get_running_loop().time()),
            attempts=settings.attempts,
            timeout=None,  # the deadline around it holds
            wait_initial=settings.first_wait_s,
            wait_max=20.0,
            wait_jitter=settings.first_wait_s,
        )
        async for attempt in attempts:
            with attempt:
                return await _once(client, address, read)
    raise FeedError("no attempt was made", where=address)  # stamina makes one at least


async def _once(client: httpx.AsyncClient, address: str, read: _Read[_T]) -> tuple[_T | None, Validators]:
    async with client.stream("GET", address) as response:
        if response.status_code in (_NO_DATA, _NOT_MODIFIED):
            return None, _validators(address, response)
        response.raise_for_status()
        if (coding := response.headers.get("Content-Encoding", "identity")) not in ("identity", "gzip"):
            raise FeedError(f"packed as {coding}, which was not asked for", where=address)
        return await read(response, address), _validators(address, response)


def user_agent(contact: str) -> str:
    """Return the name that refuge goes by, with the contact if there is one."""
    return f"refuge/{__version__}" + (f" (+{contact})" if contact else "")


def _conditions(since: Validators | None) -> dict[str, str]:
    if since is None:
        return {}
    asked = {"If-None-Match": since.etag, "If-Modified-Since": since.last_modified}
    return {name: value for name, value in asked.items() if value}


def _validators(address: str, response: httpx.Response) -> Validators:
    return Validators(
        url=address, etag=response.headers.get("ETag"), last_modified=response.headers.get("Last-Modified")
    )


def _wait_before_retry(exc: Exception, left_s: float) -> bool | float:
    """Return whether to try again, or after how many seconds; not if those are not left."""
    if not isinstance(exc, httpx.HTTPStatusError):
        return isinstance(exc, httpx.TransportError) and not isinstance(exc, httpx.UnsupportedProtocol)
    if exc.response.status_code != _TOO_MANY and not exc.response.is_server_error:
        return False
    wait_s = _asked_wait_s(exc.response)
    return (wait_s or True) if (wait_s or 0.0) < left_s else False


def _asked_wait_s(response: httpx.Response) -> float | None:
    """Return the seconds that the server asks to wait; for 429 a minute where it does not say."""
    text = response.headers.get("Retry-After", "")
    if text.isdigit():
        return float(text) or None
    return 60.0 if response.status_code == _TOO_MANY else None


def _status_error(response: httpx.Response, address: str) -> FeedError:
    what = f"answered {response.status_code} {response.reason_phrase}".rstrip()
    if response.status_code in NOT_THERE:
        return AbsentError(what, where=address, remedy="try again later")
    remedy = "wait a minute and try again" if response.status_code == _TOO_MANY else "try again later"
    return FeedError(what, where=address, remedy=remedy)
