"""What several commands share: reading times, winds and numbers from options, and finding files by id."""

import math
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import click

from refuge.errors import InputError
from refuge.zulu import parse_instant

Decorated = Callable[..., Any]


def instant_or_now(text: str | None) -> datetime:
    """Return the instant that an option gives, or the time now: only a door reads the clock."""
    return datetime.now(UTC) if text is None else parse_instant(text)


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
    if not (0.0 <= values[0] <= 360.0 and 0.0 <= values[1] < math.inf):
        raise InputError(
            f"{text!r} is no wind", where="--wind", remedy="write direction true and knots, such as 280/25"
        )
    return values


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


def store_option(function: Decorated) -> Decorated:
    """Add ``--store`` (``REFUGE_STORE``) to a command."""
    return click.option(
        "--store",
        envvar="REFUGE_STORE",
        metavar="URL",
        help="Store: a file or a database URL (REFUGE_STORE); default: one SQLite file in the user's data folder.",
    )(function)


def now_option(function: Decorated) -> Decorated:
    """Add ``--now`` to a command."""
    return click.option(
        "--now", metavar="TIME", help="Ask as of this time, such as 2022-10-22T03:00Z; no later bulletin is used."
    )(function)
