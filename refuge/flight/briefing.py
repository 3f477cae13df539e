"""What a brief is made of: flights of a roster in one aircraft each, and the rows that could not be used."""

from dataclasses import dataclass
from datetime import datetime

from refuge.flight.route import Plan, Stretch


@dataclass(frozen=True, slots=True, kw_only=True)
class BadRow:
    """A line of a roster that cannot be used, and why."""

    line: int
    flight: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One flight in one aircraft.

    ``worst`` is its longest gap, ``best`` the identifier of the refuge that is best for most minutes, for
    ``best_min`` of them; ``breaks`` what stands in the way in the gap, or what the flight hangs on.
    """

    line: int
    flight: str
    places: tuple[str, ...]
    aircraft: str
    plan: Plan
    worst: Stretch | None
    best: str | None
    best_min: int
    breaks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """Lines, what wants a look first, and the rows that could not be used."""

    data_as_of: datetime | None
    lines: tuple[Line, ...]
    bad: tuple[BadRow, ...]
