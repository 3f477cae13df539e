"""What a person may say of one flight, as words and numbers: the same for every door."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, TypeVar

from refuge.errors import InputError
from refuge.zulu import parse_instant

_T = TypeVar("_T")
STRONGEST_KT = 250.0
"""No wind blows stronger at the levels of such aircraft (common practice, no source): more is a slip of the pen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What is asked, as written. ``None`` is "not given"."""

    at: str
    aircraft: str
    minimums: str
    altitude: float | None = None
    fails: str | None = None
    failure: str = "alternator"
    wind: str | None = None
    lowest_safe: float | None = None
    oat_c: float | None = None
    soak_c: float | None = None
    fuel_min: float | None = None
    shed_min: float | None = None
    torch: bool = False
    handheld: bool = False
    margin_min: float | None = None
    heading: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteOptions(Options):
    """What is asked of a whole flight, as written: ``at`` is where it begins."""

    places: tuple[str, ...] = ()
    departs: str | None = None
    airborne: bool = False
    since_failure_min: float | None = None


def parse_wind(text: str) -> tuple[float, float]:
    """Return direction (degrees true) and speed (kt) of a wind written ``280/25``.

    Raises
    ------
    InputError
        If it is not written so, or is no wind.
    """
    direction, _, speed = text.partition("/")
    try:
        values = float(direction), float(speed)
    except ValueError:
        values = (math.nan, math.nan)
    if not (0.0 <= values[0] <= 360.0 and 0.0 <= values[1] <= STRONGEST_KT):
        raise InputError(
            f"{text!r} is no wind", where="--wind",
            remedy=f"write direction true and knots, such as 280/25; {STRONGEST_KT:g} kt at most",
        )  # fmt: skip
    return values


def parse_heading(text: str) -> tuple[float, Literal["compass", "true"]]:
    """Return degrees and kind of a heading: ``270`` by compass, ``270T`` true.

    Raises
    ------
    InputError
        If it is no heading.
    """
    number = text.strip().upper()
    try:
        degrees = float(number.removesuffix("T"))
    except ValueError:
        degrees = math.nan
    if not 0.0 <= degrees <= 360.0:
        raise InputError(
            f"{text!r} is no heading", where="--heading", remedy="write 270 for one by compass, 270T for a true one"
        )
    return degrees, "true" if number.endswith("T") else "compass"


def at_least_zero(value: float | None, option: str) -> float | None:
    """Return the number of an option, refusing one that is negative or no finite number."""
    if value is not None and not 0.0 <= value < math.inf:
        raise InputError(f"{value:g} cannot be", where=option, remedy="give 0 or more")
    return value


def finite(value: float | None, option: str) -> float | None:
    """Return the number of an option, refusing what is no finite number."""
    if value is not None and not math.isfinite(value):
        raise InputError(f"{value:g} is no number to reckon with", where=option, remedy="give a plain number")
    return value


def read_as(option: str, parse: Callable[[str], _T], text: str) -> _T:
    """Return what `parse` makes of the text of an option; its complaint names the option.

    Raises
    ------
    InputError
        As `parse` does.
    """
    try:
        return parse(text)
    except InputError as exc:
        raise InputError(exc.what, where=exc.where or option, remedy=exc.remedy) from exc


def window(from_text: str, to_text: str) -> tuple[datetime, datetime]:
    """Return start and end of a window.

    Raises
    ------
    InputError
        If one is no time, or the end comes before the start.
    """
    start, end = read_as("--from", parse_instant, from_text), read_as("--to", parse_instant, to_text)
    if end < start:
        raise InputError(
            f"the window ends ({to_text}) before it starts ({from_text})", where="--to", remedy="swap the two"
        )
    return start, end
