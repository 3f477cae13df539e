"""The brief as a file that lies about until the next: it says of which day it is, and until when it counts."""

import textwrap
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from refuge.flight.briefing import Brief
from refuge.flight.caution import CAUTION
from refuge.render.brief import WIDTH, brief_json, brief_text
from refuge.zulu import iso


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """What a file says of itself: from which roster, when it was due and made, when the next one is.

    ``due`` is ``None`` for one that was asked for, and not by the clock.
    """

    roster: str
    zone: ZoneInfo
    made_at: datetime
    due: datetime | None
    next_due: datetime

    @property
    def day(self) -> str:
        """Return the local date of the brief."""
        return f"{self.made_at.astimezone(self.zone):%Y-%m-%d}"

    def local(self, instant: datetime) -> str:
        """Return an instant in local time, with its date, to the minute."""
        return f"{instant.astimezone(self.zone):%A %Y-%m-%d %H:%M} {self.zone.key}"


def made_text(found: Brief, slip: Slip) -> str:
    """Return the text of a brief that was made."""
    late = "" if slip.due is None or _same_minute(slip) else f"; it was due {slip.local(slip.due)}"
    head = [
        f"BRIEF of {slip.local(slip.made_at)}{late}",
        f"Roster {slip.roster}",
        *_until(slip),
    ]
    return "\n".join(head) + "\n\n" + brief_text(found)


def made_json(found: Brief, slip: Slip) -> dict[str, Any]:
    """Return the same as JSON values: the keys of `refuge brief --json`, and what the file says of itself."""
    return _slip_json(slip, error=None) | brief_json(found)


def failed_text(reason: str, slip: Slip) -> str:
    """Return the text that takes the place of a brief that could not be made."""
    lines = [
        f"NO BRIEF of {slip.local(slip.made_at if slip.due is None else slip.due)}",
        *textwrap.wrap(f"It could not be made: {reason}", WIDTH),
        "",
        "Of the flights of this roster nothing is known here, and an earlier brief does not count any more.",
        *([f"Tried {slip.local(slip.made_at)}"] if slip.due is not None and not _same_minute(slip) else []),
        f"Roster {slip.roster}",
        *_until(slip),
        "",
        *textwrap.wrap(CAUTION, WIDTH),
    ]
    return "\n".join(lines) + "\n"


def failed_json(reason: str, slip: Slip) -> dict[str, Any]:
    """Return the same as JSON values: null, not nothing, where a brief has its lines."""
    return _slip_json(slip, error=reason) | {
        "as_of": iso(slip.made_at),
        "data_as_of": None,
        "warnings": [f"no brief: {reason}"],
        "lines": None,
        "bad_rows": None,
        "caution": CAUTION,
    }


def _slip_json(slip: Slip, *, error: str | None) -> dict[str, Any]:
    return {
        "state": "made" if error is None else "failed",
        "error": error,
        "day": slip.day,
        "zone": slip.zone.key,
        "roster": slip.roster,
        "due": None if slip.due is None else iso(slip.due),
        "next_due": iso(slip.next_due),
    }


def _until(slip: Slip) -> list[str]:
    return textwrap.wrap(
        f"The next is due {slip.local(slip.next_due)} ({iso(slip.next_due)}): after that, this one is old", WIDTH
    )


def _same_minute(slip: Slip) -> bool:
    return slip.due is not None and (slip.made_at - slip.due).total_seconds() < 60.0
