"""When the brief is due: at set local times, each exactly once a day, whatever the clocks do.

A time that the clocks leave out comes as much later as they are set forward (02:30 that is not there is
03:30); of one that comes twice the first counts. A cron trigger would make none, or two.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from tempfile import TemporaryFile
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from apscheduler.triggers.base import BaseTrigger  # type: ignore[import-untyped]

from refuge.errors import InputError
from refuge.files.roster import load_heading

GRACE = timedelta(hours=3)
"""So late a brief is still made; later it says that it was missed (a proposal: a morning's flights)."""
MOST_TRIES = 3
"""For one brief: a worker that ends over it each time must get on with collecting."""
_LOCAL = re.compile(r"([01]\d|2[0-3]):([0-5]\d)$")
_DAYS_AROUND = range(-2, 3)
"""Local dates looked at around an instant: two zones have left out a whole one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefPlan:
    """What is briefed, when, and into which folder; ``store`` is the store's name as it was given."""

    roster: Path
    times: tuple[time, ...]
    zone: ZoneInfo
    folder: Path
    store: str | None

    def next_due(self, after: datetime) -> datetime:
        """Return the first instant after this one at which a brief is due."""
        return min(due for due in self._around(after) if due > after)

    def last_due(self, now: datetime) -> datetime:
        """Return the last instant up to `now` at which a brief was due."""
        return max(due for due in self._around(now) if due <= now)

    def _around(self, instant: datetime) -> set[datetime]:
        today = instant.astimezone(self.zone).date()
        dates = [today + timedelta(days=days) for days in _DAYS_AROUND]
        # fold=0: of two the first, and of none the one by the offset before (PEP 495)
        return {datetime.combine(d, t, tzinfo=self.zone).astimezone(UTC) for d in dates for t in self.times}


class Due(BaseTrigger):  # type: ignore[misc]
    """Fires whenever a brief is due."""

    def __init__(self, plan: BriefPlan) -> None:
        self._plan = plan

    def get_next_fire_time(self, previous: datetime | None, now: datetime) -> datetime:
        """Return when it fires next: not before `now` the first time, later than the last one after that."""
        return self._plan.next_due(previous or now - timedelta(microseconds=1))


def brief_plan(
    roster: Path | None, times: Sequence[str], zone: str | None, folder: Path | None, *, store: str | None
) -> BriefPlan | None:
    """Return what the options ask for; ``None`` where none of them is given.

    Raises
    ------
    InputError
        If one is missing or cannot be used: better now than on the first morning.
    """
    given = {"--brief": roster, "--brief-at": times, "--brief-zone": zone, "--brief-to": folder}
    if not any(given.values()):
        return None
    if roster is None or zone is None or folder is None or not times:
        missing = ", ".join(name for name, value in given.items() if not value)
        raise InputError("a brief needs all four", where=missing, remedy="give --brief, -at, -zone and -to")
    load_heading(roster)
    _check_folder(folder)
    return BriefPlan(
        roster=roster.absolute(),
        times=tuple(dict.fromkeys(_time(text) for text in times)),
        zone=_zone(zone),
        folder=folder.absolute(),
        store=store,
    )


def _time(text: str) -> time:
    if (match := _LOCAL.match(text.strip())) is None:
        raise InputError(
            f"{text!r} is no time of day", where="--brief-at", remedy="write hours and minutes, such as 07:00"
        )
    return time(int(match[1]), int(match[2]))


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as exc:
        raise InputError(
            f"no time zone {name!r}", where="--brief-zone", remedy="name one, such as Europe/Berlin or UTC"
        ) from exc


def _check_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise InputError(f"no folder {folder}", where="--brief-to", remedy="make it, or name another")
    try:
        with TemporaryFile(dir=folder):
            pass
    except OSError as exc:
        raise InputError(
            f"nothing can be written into {folder}: {exc.strerror}",
            where="--brief-to",
            remedy="let the worker's user write there, or name another",
        ) from exc
