"""Files that may be packed."""

import gzip
import zlib

from refuge.errors import InputError


def plain(data: bytes, *, where: str) -> bytes:
    """Return `data`, unpacked if it is gzip.

    Raises
    ------
    InputError
        If it begins like gzip and is damaged.
    """
    if data[:2] != b"\x1f\x8b":
        return data
    try:
        return gzip.decompress(data)
    except (OSError, EOFError, zlib.error) as exc:
        raise InputError(f"damaged gzip: {exc}", where=where, remedy="fetch or copy the file again") from exc
