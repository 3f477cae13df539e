"""The periods of a forecast: its validity and those of its groups, in the forms of both codes.

Since November 2008 periods carry days (``1012/1112``, ``FM101800``); before, hours alone
(``061918``, ``1904``, ``FM0400``), which count from the start of the validity on.
"""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta

from refuge.zulu import resolve_ddhhmm

_DAYS = re.compile(r"(\d{2})(\d{2})/(\d{2})(\d{2})", re.ASCII)
_DAY_AND_HOURS = re.compile(r"(\d{2})(\d{2})(\d{2})", re.ASCII)
_HOURS = re.compile(r"(\d{2})(\d{2})", re.ASCII)
_LONGEST = timedelta(hours=48)
"""No forecast is made for longer than 30 h; beyond this a period is misread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Validity:
    """The validity of a forecast, half-open; ``hours_only`` is the form before 2008."""

    start: datetime
    end: datetime
    hours_only: bool

    @staticmethod
    def written_as(token: str) -> bool:
        """Return whether a token has the form of a validity."""
        return any(form.fullmatch(token) for form in (_DAYS, _DAY_AND_HOURS, _HOURS))

    def period(self, token: str) -> tuple[datetime, datetime] | None:
        """Return start and end of a group's period, ``None`` if it is none of this validity."""
        days = _DAYS.fullmatch(token)
        hours = _HOURS.fullmatch(token) if self.hours_only and days is None else None
        if days is not None:
            start = resolve_ddhhmm(int(days[1]), int(days[2]), 0, near=self.start)
            end = None if start is None else resolve_ddhhmm(int(days[3]), int(days[4]), 0, near=start)
        elif hours is not None:
            start = first_at(self.start, int(hours[1]), 0)
            end = None if start is None else first_at(start + timedelta(hours=1), int(hours[2]), 0)
        else:
            return None
        if start is None or end is None or not start < end <= start + _LONGEST:
            return None
        return (start, end) if start < self.end and end > self.start else None

    def moment(self, day: str | None, hour: str, minute: str) -> datetime | None:
        """Return the instant of an FM group, ``None`` if it lies outside the validity, or may be one of two.

        Four figures are hours and minutes, or beside periods with days a day and hours that lost their minutes.
        """
        if day is None and not self.hours_only and self.moment(hour, minute, "00") is not None:
            return None
        if day is None:
            instant = first_at(self.start, int(hour), int(minute))
        else:
            instant = resolve_ddhhmm(int(day), int(hour), int(minute), near=self.start)
        return instant if instant is not None and self.start <= instant < self.end else None


def resolve_validity(token: str, *, near: datetime) -> Validity | None:
    """Return the validity that a token names, its start nearest to `near`; ``None`` if it is none."""
    days, day_and_hours, hours = (form.fullmatch(token) for form in (_DAYS, _DAY_AND_HOURS, _HOURS))
    start: datetime | None = None
    end: datetime | None = None
    if days is not None:
        start = resolve_ddhhmm(int(days[1]), int(days[2]), 0, near=near)
        end = None if start is None else resolve_ddhhmm(int(days[3]), int(days[4]), 0, near=start)
    elif day_and_hours is not None:
        start = resolve_ddhhmm(int(day_and_hours[1]), int(day_and_hours[2]), 0, near=near)
        end = None if start is None else first_at(start + timedelta(hours=1), int(day_and_hours[3]), 0)
    elif hours is not None:
        start = first_at(near - timedelta(hours=12), int(hours[1]), 0)
        end = None if start is None else first_at(start + timedelta(hours=1), int(hours[2]), 0)
    if start is None or end is None or not start < end <= start + _LONGEST:
        return None
    return Validity(start=start, end=end, hours_only=days is None)


def first_at(start: datetime, hour: int, minute: int) -> datetime | None:
    """Return the first instant from `start` on with this time of day; hour 24 is midnight."""
    if hour > 24 or minute > 59 or (hour == 24 and minute):
        return None
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    instant = midnight + timedelta(hours=hour % 24, minutes=minute)
    return instant if instant >= start else instant + timedelta(days=1)
