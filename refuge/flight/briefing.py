"""What a brief is made of: flights of a roster in one aircraft each, and the rows that could not be used."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from refuge.flight.evidence import STALE_AFTER_MIN
from refuge.flight.route import Plan, Stretch
from refuge.zulu import iso


@dataclass(frozen=True, slots=True, kw_only=True)
class BadRow:
    """A line of a roster that cannot be used, and why; ``past`` where only the time of departure is gone.

    ``faults`` are the parts of ``reason`` where it has several.
    """

    line: int
    flight: str
    reason: str
    faults: tuple[str, ...] = ()
    past: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One flight in one aircraft, ``aircraft`` as the roster names it, ``aircraft_id`` as its file does.

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

    @property
    def aircraft_id(self) -> str:
        """Return the id that the aircraft's file gives it."""
        return self.plan.asked.question.aircraft.id


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """Lines, what wants a look first, and the rows that could not be used; all as of ``as_of``.

    ``data_as_of`` is the receipt of the newest bulletin; ``warnings`` say which weather is missing or stale,
    and which aircraft are templates that nobody filled in.
    """

    as_of: datetime
    data_as_of: datetime | None
    warnings: tuple[str, ...]
    lines: tuple[Line, ...]
    bad: tuple[BadRow, ...]


def data_warnings(
    as_of: datetime, *, received: datetime | None, observed: datetime | None, forecast_until: datetime | None
) -> Iterator[str]:
    """Yield what is missing or stale of all weather that a brief can rest on; stale is unknown (method.md 4).

    Parameters
    ----------
    as_of : datetime
        When the brief is made.
    received, observed, forecast_until : datetime, optional
        Receipt of the newest bulletin, time of the newest report, and the end of the last forecast.
    """
    stale = timedelta(minutes=STALE_AFTER_MIN)
    if received is None:
        yield "no bulletin at all is known: the weather is unknown everywhere"
        return
    if as_of - received > stale:
        yield f"nothing was received since {iso(received)}: is the worker collecting? See refuge status"
    if observed is None or as_of - observed > stale:
        newest = "there is none" if observed is None else f"the newest is of {iso(observed)}"
        yield f"no report is younger than {STALE_AFTER_MIN:.0f} min ({newest}): every report counts as unknown"
    if forecast_until is None or forecast_until <= as_of:
        last = "there is none" if forecast_until is None else f"the last ended {iso(forecast_until)}"
        yield f"no forecast reaches beyond this brief ({last}): what comes is unknown"
