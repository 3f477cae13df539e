"""Station guidance, read by column: LAMP (LAV, LEV) and the National Blend of Models (NBH, NBS).

Guidance is a forecast made by statistics from models and observations, for far more places than
have a TAF. A block holds one station: a header, one or more lines of hours, and a line for each
element, in columns of three characters whose values may touch. A line that does not fit its
columns to the character is left unread as a whole: half a line might put a value at a wrong hour.
Layouts that are not known are refused, never guessed.

Sources: NWS MDL, 'LAMP Card 2.7.0' and 'NBM Card v4.2' (products, hours, missing values), and the
samples of data/guidance. Values become meaning in `refuge.weather.guidance_hours`.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from refuge.weather.guidance_split import MAX_LINES, station_of
from refuge.weather.reports import Unreadable
from refuge.zulu import aware_utc

Product = Literal["LAV", "LEV", "NBH", "NBS"]
PRODUCTS: tuple[Product, ...] = ("LAV", "LEV", "NBH", "NBS")

# fmt: off
KEPT = frozenset((
    "TMP", "DPT", "WDR", "WSP", "WGS", "GST", "PPO", "PCO", "P01", "OBV", "POZ", "LP1", "CIG", "CCG", "VIS",
    "CVS", "MVC", "IFC", "LIC", "MVV", "IFV", "LIV", "T01", "T03", "PZR", "PPL",
))
"""Elements that are used; each has a value at every hour, or the whole line is left out."""
KNOWN = KEPT | frozenset((
    "CLD", "TYP", "LP2", "LC1", "LC2", "CP1", "CP2", "CC1", "CC2", "PC1", "POS", "P06", "P12", "Q06", "Q12",
    "Q01", "T06", "T12", "TSD", "DSD", "WBG", "SKY", "SSD", "WSD", "GSD", "N/X", "X/N", "TXN", "XND", "DUR",
    "PSN", "PRA", "S01", "S06", "SLV", "I01", "I06", "LCB", "MHT", "TWD", "TWS", "HID", "SOL", "SWH",
))
"""All elements of the two cards, and of the samples; another is named in ``unread``."""
# fmt: on
FRAME = ("UTC", "FHR", "HR", "DT")
"""The lines that say which column is which hour."""
_NEWEST_MAJOR = 5
"""Of the Blend: V5.0 of 2026. What a later one means by its codes nobody here knows yet."""
AHEAD = timedelta(hours=1)
"""No guidance is received before it is made; an hour for clocks that differ."""
_HEADER = re.compile(
    r"(?P<station>[A-Z0-9]{3,8}) +(?P<maker>GFS LAMP|NBM(?: V\d{1,2}\.\d{1,2})?)(?: (?P<product>[A-Z]{3}))?"
    r" GUIDANCE +(?P<month>\d{1,2})/(?P<day>\d{1,2})/(?P<year>\d{4}) +(?P<hour>\d\d)(?P<minute>\d\d) UTC",
    re.ASCII,
)
_OTHER = re.compile(r"(?:\S+ +)?(?P<what>\S+(?: V\S+)?(?: MOS| \S+)?) GUIDANCE", re.ASCII)
_LABEL = re.compile(r"[A-Z][A-Z0-9/]{1,2}", re.ASCII)
_ROW = re.compile(r"(?:   |  [\dA-Z]| [A-Z]{2}| \d\d|\d{3}| -\d|-\d\d)+", re.ASCII)
_NUMBERS = re.compile(r"(?:  \d| \d\d|\d{3})+", re.ASCII)
_DAY = re.compile(r"/([A-Z]{3})[A-Z]? +(\d{1,2})", re.ASCII)
_MONTHS = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")
_AFTER_LABEL = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Guidance:
    """One station's block of guidance, its columns found, its cells as printed.

    ``rows`` holds three characters for each of ``times`` by element; a line that could not be read
    is not among them but named in ``unread``. ``version`` is that of the Blend, ``None`` where the
    header gives none. All times aware UTC; ``based_on`` is the time of the run.
    """

    raw: str
    station: str
    product: Product
    version: str | None
    based_on: datetime
    times: tuple[datetime, ...]
    rows: Mapping[str, str]
    unread: tuple[str, ...] = ()


class _Refused(Exception):  # noqa: N818 - a reason on its way to `Unreadable`
    """Why a block cannot be read."""


def decode_guidance(raw: str, *, received_at: datetime) -> Guidance | Unreadable:
    """Return what one block of guidance says, or why it cannot be read; never raises."""
    try:
        return _decoded(raw, aware_utc(received_at))
    except _Refused as exc:
        return Unreadable(raw=raw, kind=None, station=station_of(raw), error=f"guidance: {exc}")


def product_of(raw: str) -> Product | Literal["other"] | None:
    """Return the product that a block seems to be of, also a refused one; ``None`` if it does not tell."""
    first, _, rest = raw.lstrip().partition("\n")
    match = _HEADER.fullmatch(first.strip())
    if match is None:
        return None if " MOS GUIDANCE" not in first else "other"
    if match["maker"] == "GFS LAMP":
        return "LEV" if re.search(r"^ *HR ", rest, re.MULTILINE) else "LAV"
    return next((product for product in PRODUCTS if product == match["product"]), "other")


def _decoded(raw: str, received_at: datetime) -> Guidance:
    lines = [line for line in map(str.rstrip, raw.split("\n")) if line]
    if not lines:
        raise _Refused("an empty block")
    if len(lines) > MAX_LINES:
        raise _Refused(f"more than {MAX_LINES} lines")
    indent = len(lines[0]) - len(lines[0].lstrip())
    version, based_on, named = _header(lines[0][indent:])
    if based_on > received_at + AHEAD:
        raise _Refused(f"made at {based_on:%Y-%m-%d %H:%M}Z, after it was received")
    found, unread = _lines(lines[1:], indent)
    product: Product = named or ("LEV" if "HR" in found else "LAV")
    times = frame_times(product, based_on, tuple(found.get(name, "") for name in FRAME))
    if isinstance(times, str):
        raise _Refused(times)
    rows = {}
    for label, cells in found.items():
        if label in KEPT:
            if len(cells) == 3 * len(times) and _ROW.fullmatch(cells):
                rows[label] = cells
            else:
                unread.append(f"{label} (does not fit its columns)")
    return Guidance(
        raw=raw,
        station=lines[0].split(maxsplit=1)[0],
        product=product,
        version=version,
        based_on=based_on,
        times=times,
        rows=rows,
        unread=tuple(unread),
    )


@lru_cache(maxsize=64)
def _based_on(year: str, month: str, day: str, hour: str, minute: str) -> datetime | None:
    try:
        return datetime(int(year), int(month), int(day), int(hour), int(minute), tzinfo=UTC)
    except ValueError:
        return None


def read_header(line: str) -> tuple[str | None, datetime, Product | None] | None:
    """Return version, time of the run, and product (not of LAMP) by a header; ``None`` where it is refused."""
    try:
        return _header(line)
    except _Refused:
        return None


def _header(line: str) -> tuple[str | None, datetime, Product | None]:
    """Return version, time of the run, and product of a block; LAMP's header does not name its product."""
    match = _HEADER.fullmatch(line)
    if match is None:
        other = _OTHER.search(line)
        raise _Refused(f"{other['what']} guidance is not read" if other else f"{line[:60]!r} is no header")
    based_on = _based_on(*match.group("year", "month", "day", "hour", "minute"))
    if based_on is None:
        raise _Refused(f"{line[:60]!r} gives no time")
    if match["maker"] == "GFS LAMP":
        if match["product"] is not None:
            raise _Refused(f"LAMP {match['product']} is not read")
        return None, based_on, None
    version = match["maker"].partition(" V")[2] or None
    if version and int(version.partition(".")[0]) > _NEWEST_MAJOR:
        raise _Refused(f"version {version} of the National Blend is newer than what is known here")
    product: Product | None = next((p for p in PRODUCTS if p == match["product"]), None)
    if product not in ("NBH", "NBS"):
        raise _Refused(f"product {match['product']} of the National Blend is not read")
    return version, based_on, product


def _lines(lines: list[str], indent: int) -> tuple[dict[str, str], list[str]]:
    """Return the lines by label, less the label, and what is no line of an element."""
    found: dict[str, str] = {}
    unread: list[str] = []
    margin = " " * indent
    for whole in lines:
        text = whole[indent:] if indent else whole
        if text[:3] in KNOWN and text[3:4] == " " and text[:3] not in found and whole.startswith(margin):
            found[text[:3]] = text[_AFTER_LABEL:]
            continue
        label = "DT" if text.startswith("DT") else text[:3].rstrip()
        parted = not whole[:indent].strip() and (label == "DT" or not text[3:_AFTER_LABEL].strip())
        if not parted or not (label in FRAME or label in KNOWN or _LABEL.fullmatch(label)):
            unread.append(whole.strip()[:40])
            continue
        if label in found:
            raise _Refused(f"{label} stands twice: two blocks have run into one")
        found[label] = text if label == "DT" else text[_AFTER_LABEL:]
        if label not in KNOWN and label not in FRAME:
            unread.append(f"{label} (not known)")
    return found, unread


@lru_cache(maxsize=256)
def frame_times(product: Product, based_on: datetime, frame: tuple[str, ...]) -> tuple[datetime, ...] | str:
    """Return the hours of the columns, or why they cannot be told; thousands of blocks share them.

    The hour of the day, the hours ahead and the dates must agree: one of them alone, damaged, would
    put good weather at the wrong time.
    """
    utc, fhr, hr, dt = frame
    if not utc or not _NUMBERS.fullmatch(utc):
        return "no line of hours (UTC) that can be read"
    hours = _numbers(utc)
    base, step = based_on, 1
    if product in ("LAV", "LEV"):
        base = based_on.replace(minute=0)
    elif based_on.minute:
        return f"made at {based_on:%H:%M}Z, not at a whole hour"
    if product in ("LAV", "NBH"):
        ahead = list(range(1, len(hours) + 1))
    else:
        step, given = (3, fhr) if product == "NBS" else (1, hr)
        if not given or not _NUMBERS.fullmatch(given):
            return "no line of hours ahead (FHR, HR) that can be read"
        ahead = _numbers(given)
    steps = {b - a for a, b in pairwise(ahead)}
    if len(ahead) != len(hours) or ahead[0] < 1 or steps - {step}:
        return f"hours ahead that do not follow each other by {step}"
    times = tuple(base + timedelta(hours=n) for n in ahead)
    if [at.hour for at in times] != hours:
        return "hours of the day that do not fit the time of the run"
    return times if not dt or _dates_agree(dt, times) else "dates that do not fit the hours"


def _numbers(cells: str) -> list[int]:
    return [int(cells[at : at + 3]) for at in range(0, len(cells), 3)]


def _dates_agree(line: str, times: tuple[datetime, ...]) -> bool:
    """Return whether each ``/APR   8`` stands at the column of that day."""
    days = list(_DAY.finditer(line))
    if not days or line.count("/") != len(days):
        return False
    for match in days:
        column = max(0, (match.start() - _AFTER_LABEL) // 3)
        if column >= len(times):
            return False
        at = times[column]
        if (match[1], int(match[2])) != (_MONTHS[at.month - 1], at.day):
            return False
    return True
