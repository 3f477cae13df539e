"""Blocks of guidance made for tests: invented stations (prefix X), the layout of the MDL cards."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from refuge.weather.guidance import Guidance, decode_guidance

MADE = datetime(2028, 2, 28, 22, tzinfo=UTC)
RECEIVED = datetime(2028, 2, 28, 23, tzinfo=UTC)


def cells(values: list[str]) -> str:
    return "".join(f"{value:>3}" for value in values)


def lamp(rows: Mapping[str, list[str]], *, extended: bool = False, made: datetime = MADE) -> str:
    """Return a LAV block of these rows, or a LEV block."""
    count = len(next(iter(rows.values())))
    first = 26 if extended else 1
    times = [made + timedelta(hours=first + n) for n in range(count)]
    lines = [f"XCCC   GFS LAMP GUIDANCE   {made.month}/{made:%d/%Y}  {made:%H}30 UTC"]
    if extended:
        lines.append("HR  " + cells([str(first + n) for n in range(count)]))
    lines.append("UTC " + cells([f"{at:%H}" for at in times]))
    return "\n".join([*lines, *(f"{name:<4}{cells(values)}" for name, values in rows.items())])


def blend(
    rows: Mapping[str, list[str]],
    *,
    product: str = "NBH",
    version: str = " V5.0",
    made: datetime = MADE,
    first: int = 0,
) -> str:
    """Return an NBH block of these rows, or an NBS block that begins `first` hours ahead."""
    count = len(next(iter(rows.values())))
    step = 3 if product == "NBS" else 1
    ahead = [(first or 1) + step * n for n in range(count)]
    lines = [
        f" XAAA   NBM{version} {product} GUIDANCE    {made.month}/{made:%d/%Y}  {made:%H}00 UTC",
        " UTC " + cells([f"{made + timedelta(hours=n):%H}" for n in ahead]),
    ]
    if product == "NBS":
        lines.append(" FHR " + cells([f"{n:02d}" for n in ahead]))
    return "\n".join([*lines, *(f" {name:<4}{cells(values)}" for name, values in rows.items())])


def read(raw: str, received_at: datetime = RECEIVED) -> Guidance:
    found = decode_guidance(raw, received_at=received_at)
    assert isinstance(found, Guidance), found
    return found
