"""Instants: aware UTC only, and DDHHMM groups resolved against the time of receipt."""

import re
from datetime import UTC, datetime, timedelta

from refuge.errors import InputError

_ISO = re.compile(
    r"(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?)(Z|[+-]\d{2}:?\d{2})?$", re.IGNORECASE
)
YEARS = (1970, 2099)
"""Instants that may be asked about: well inside what a calendar can reckon with, hours and days added."""


def aware_utc(instant: datetime) -> datetime:
    """Return `instant` in UTC.

    Raises
    ------
    InputError
        If `instant` has no zone: a naive time may be hours off, and nobody could tell.
    """
    if instant.tzinfo is None or instant.utcoffset() is None:
        raise InputError(
            f"time {instant.isoformat()} has no zone", remedy="write UTC times, such as 2022-10-22T03:00Z"
        )
    return instant.astimezone(UTC)


def parse_instant(text: str) -> datetime:
    """Return the aware UTC instant that an ISO 8601 text with a zone names; seconds optional.

    Raises
    ------
    InputError
        If the text is no such time, or has no zone.
    """
    match = _ISO.match(text.strip())
    if match is None:
        raise InputError(f"{text!r} is not a time", remedy="write it like 2022-10-22T03:00Z")
    if match[3] is None:
        raise InputError(f"time {text!r} has no zone", remedy=f"write UTC, such as {match[1]}T{match[2]}Z")
    if not YEARS[0] <= int(match[1][:4]) <= YEARS[1]:
        raise InputError(f"time {text!r} is too far away", remedy=f"give a year from {YEARS[0]} to {YEARS[1]}")
    try:
        return aware_utc(datetime.fromisoformat(text.strip().upper().replace(" ", "T")))
    except (ValueError, OverflowError) as exc:
        raise InputError(f"{text!r} is not a time: {exc}", remedy="write it like 2022-10-22T03:00Z") from exc


def iso(instant: datetime) -> str:
    """Return `instant` as ``2022-10-22T03:00:00Z``, to the second."""
    return aware_utc(instant).strftime("%Y-%m-%dT%H:%M:%SZ")


def resolve_ddhhmm(day: int, hour: int, minute: int, *, near: datetime) -> datetime | None:
    """Return the instant with this day of month and time that lies nearest to `near`.

    Hour 24 with minute 0 is midnight at the end of that day (WMO-No. 306, 51.8.1). The months
    before, of and after `near` are tried, so month and year ends and leap days come out right.
    ``None`` if no such day exists among them, or the numbers are no time of day.
    """
    if not (1 <= day <= 31 and 0 <= hour <= 24 and 0 <= minute <= 59) or (hour == 24 and minute != 0):
        return None
    candidates = []
    for months in (-1, 0, 1):
        year, month0 = divmod(near.year * 12 + near.month - 1 + months, 12)
        try:
            midnight = datetime(year, month0 + 1, day, tzinfo=UTC)
        except ValueError:
            continue
        candidates.append(midnight + timedelta(hours=hour, minutes=minute))
    return min(candidates, key=lambda instant: abs(instant - near), default=None)
