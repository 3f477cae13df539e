"""What a block of guidance is of, less its elements: enough to keep it, so that thousands get in quickly.

A cycle has thousands of blocks, a question needs a few hundred: so elements are read where a
block is asked for. A head is there exactly for the blocks that `decode_guidance` reads, and says
the same: whatever is not of the plainest shape is given to it.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from refuge.weather.guidance import (
    AHEAD,
    FRAME,
    KNOWN,
    Guidance,
    Product,
    decode_guidance,
    frame_times,
    read_header,
)
from refuge.weather.guidance_split import MAX_LINES
from refuge.weather.reports import Unreadable

_DATES = ("DT  ", "DT /")
"""The line of dates begins so in the Blend and in LAMP."""
_LABELS = frozenset(f"{name:<4}" for name in KNOWN | {"UTC", "FHR", "HR"}) | set(_DATES)
_FRAME_LABELS = tuple(f"{name:<4}" for name in FRAME if name != "DT")
_WIDTH = 4
_STATION = re.compile(r"[A-Z0-9]{3,8}", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidanceHead:
    """The station, the run and the hours of a block; the fields are those of `Guidance`."""

    station: str
    product: Product
    version: str | None
    based_on: datetime
    times: tuple[datetime, ...]


def guidance_head(raw: str, *, received_at: datetime) -> GuidanceHead | Unreadable:
    """Return what a block is of, or why it cannot be read, exactly as `decode_guidance` has it."""
    found = _plain_head(raw.split("\n"), received_at) or decode_guidance(raw, received_at=received_at)
    return head_of(found) if isinstance(found, Guidance) else found


def head_of(value: Guidance) -> GuidanceHead:
    """Return the head of a block that was read."""
    return GuidanceHead(
        station=value.station,
        product=value.product,
        version=value.version,
        based_on=value.based_on,
        times=value.times,
    )


@lru_cache(maxsize=64)
def _run(header: str) -> tuple[str | None, datetime, Product | None] | None:
    """Return what a header says after its station: the same in all blocks of a run."""
    return read_header(f"XXX {header}")


def _plain_head(lines: Sequence[str], received_at: datetime) -> GuidanceHead | None:
    """Return the head of a block in which every line has a known label, once; ``None`` for any other."""
    first = lines[0].rstrip()
    indent = len(first) - len(first.lstrip())
    margin, cells_at = " " * indent, indent + _WIDTH
    station, _, run = first[indent:].partition(" ")
    header = _run(run) if _STATION.fullmatch(station) else None
    if header is None or len(lines) > MAX_LINES:
        return None
    version, based_on, named = header
    rows = {line[indent:cells_at]: line for line in lines[1:]}
    # A label that stands twice, or is not known, may be a reason to refuse.
    if len(rows) != len(lines) - 1 or not rows.keys() <= _LABELS or based_on > received_at + AHEAD:
        return None
    dates = [rows[label] for label in _DATES if label in rows]
    frame = [rows.get(label, margin) for label in _FRAME_LABELS]
    if len(dates) > 1 or not all(line.startswith(margin) for line in (*dates, *frame)):
        return None
    cells = (*(line[cells_at:].rstrip() for line in frame), dates[0][indent:].rstrip() if dates else "")
    product: Product = named or ("LEV" if "HR  " in rows else "LAV")
    times = frame_times(product, based_on, cells)
    if isinstance(times, str):
        return None
    return GuidanceHead(station=station, product=product, version=version, based_on=based_on, times=times)
