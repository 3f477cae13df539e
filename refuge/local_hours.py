"""Local hours with their seasons: until when lights burn, and whether a tower is open, over a window.

A time that the clock shows twice, or never, when the season changes is read against the pilot:
what opens opens at the later instant, what closes closes at the earlier one.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from refuge.airfield import EVERY_DAY, Hours

_DAY_MIN = 1440


def zone_of(name: str | None) -> ZoneInfo | None:
    """Return the time zone of this IANA name; ``None`` where there is no name, or no such zone here."""
    if not name:
        return None
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return None


def open_through(hours: tuple[Hours, ...], zone: ZoneInfo | None, start: datetime, end: datetime) -> bool | None:
    """Return whether some span, or spans that join, cover the window; ``None`` if local time is not known."""
    if any(_always(span) for span in hours):
        return True
    if zone is None:
        return None if hours else False
    first = start.astimezone(zone).date() - timedelta(days=1)
    spans = sorted(_instants(hours, zone, first, end.astimezone(zone).date()))
    reached = start
    for opens, closes in spans:
        if opens <= reached:
            reached = max(reached, closes)
    return reached >= end and any(opens <= start <= closes for opens, closes in spans)


def evening_end(until: time, zone: ZoneInfo, instant: datetime) -> datetime:
    """Return when what burns "from dusk until" this local time goes out, for the night that holds `instant`.

    The night is the one that follows the last local noon.
    """
    local = instant.astimezone(zone)
    noon = local.date() if local.time() >= time(12) else local.date() - timedelta(days=1)
    day = noon if until > time(12) else noon + timedelta(days=1)
    return min(_both(day, until, zone))


def _always(span: Hours) -> bool:
    return set(span.days) == set(EVERY_DAY) and span.opens_min == 0 and span.closes_min == _DAY_MIN


def _instants(
    hours: tuple[Hours, ...], zone: ZoneInfo, first: date, last: date
) -> Iterator[tuple[datetime, datetime]]:
    for offset in range((last - first).days + 1):
        day = first + timedelta(days=offset)
        for span in hours:
            if day.weekday() in span.days:
                closes = span.closes_min + (_DAY_MIN if span.closes_min <= span.opens_min else 0)
                opens_at, closes_at = max(_at(day, span.opens_min, zone)), min(_at(day, closes, zone))
                yield opens_at, closes_at


def _at(day: date, minutes: int, zone: ZoneInfo) -> tuple[datetime, datetime]:
    days, rest = divmod(minutes, _DAY_MIN)
    return _both(day + timedelta(days=days), time(*divmod(rest, 60)), zone)


def _both(day: date, at: time, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Return both instants that a local time may mean; they are the same on all but two days a year."""
    local = datetime.combine(day, at, tzinfo=zone)
    return local.astimezone(UTC), local.replace(fold=1).astimezone(UTC)
