"""gzip, undone within bounds: a small answer may not become an endless one."""

import zlib

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
