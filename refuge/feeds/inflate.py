"""gzip, undone within bounds: a small answer may not become an endless one."""

import zlib
from collections.abc import Iterator

from refuge.errors import FeedError

MAX_PACKED_BYTES = 32 * 1024 * 1024
"""No feed is near it: the world's forecasts are about 2 MB packed."""
MAX_BYTES = 256 * 1024 * 1024

_MAGIC = b"\x1f\x8b"


def inflated(data: bytes, *, where: str, max_bytes: int = MAX_BYTES) -> bytes:
    """Return `data` unpacked if it is gzip (of one or more members, once or twice over), else as it is.

    Raises
    ------
    FeedError
        If it is damaged, cut short, or larger than `max_bytes` when unpacked.
    """
    for _ in range(2):  # a .gz file sent with Content-Encoding: gzip is packed twice
        if not data.startswith(_MAGIC):
            break
        data = _members(data, where, max_bytes)
    if len(data) > max_bytes:
        raise _too_large(where, max_bytes)
    return data


class Unpacker:
    """Undoes gzip piece by piece (one or more members); what is not gzip passes as it is."""

    _STEP = 256 * 1024

    def __init__(self, *, where: str, max_bytes: int = MAX_BYTES) -> None:
        """Give no more than `max_bytes`; `where` is for the errors."""
        self._where = where
        self._max_bytes = max_bytes
        self._given = 0
        self._plain: bool | None = None
        self._head = b""
        self._member: zlib._Decompress | None = None

    def feed(self, data: bytes) -> Iterator[bytes]:
        """Yield what these bytes unpack to, in pieces of bounded size.

        Raises
        ------
        FeedError
            If they are damaged, or too much in all.
        """
        if self._plain is None:
            data = self._head + data
            if len(data) < len(_MAGIC) and _MAGIC.startswith(data):
                self._head = data
                return
            self._head, self._plain = b"", not data.startswith(_MAGIC)
        for piece in (data,) if self._plain else self._unpacked(data):
            self._given += len(piece)
            if self._given > self._max_bytes:
                raise _too_large(self._where, self._max_bytes)
            yield piece

    def close(self) -> None:
        """Say that nothing more comes.

        Raises
        ------
        FeedError
            If the packed content is not whole.
        """
        if self._member is not None and not self._member.eof:
            raise FeedError("gzip cut short", where=self._where, remedy="try again later")

    def _unpacked(self, data: bytes) -> Iterator[bytes]:
        while data:
            if self._member is None or self._member.eof:
                self._member = zlib.decompressobj(wbits=31)
            try:
                yield self._member.decompress(data, self._STEP)
            except zlib.error as exc:
                raise FeedError(f"damaged gzip: {exc}", where=self._where, remedy="try again later") from exc
            data = self._member.unused_data if self._member.eof else self._member.unconsumed_tail


def _members(data: bytes, where: str, max_bytes: int) -> bytes:
    parts: list[bytes] = []
    room = max_bytes
    while data.startswith(_MAGIC):
        unpacker = zlib.decompressobj(wbits=31)
        try:
            part = unpacker.decompress(data, room + 1)
        except zlib.error as exc:
            raise FeedError(f"damaged gzip: {exc}", where=where, remedy="try again later") from exc
        if len(part) > room:
            raise _too_large(where, max_bytes)
        if not unpacker.eof:
            raise FeedError("gzip cut short", where=where, remedy="try again later")
        parts.append(part)
        room -= len(part)
        data = unpacker.unused_data
    return b"".join(parts)


def _too_large(where: str, max_bytes: int) -> FeedError:
    return FeedError(f"more than {max_bytes:,} bytes unpacked", where=where, remedy="check the address")
