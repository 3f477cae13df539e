"""What several commands share: reading the clock, and options that they have in common."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import click

from refuge.options import read_as
from refuge.zulu import parse_instant

Decorated = Callable[..., Any]


def instant_or_now(text: str | None) -> datetime:
    """Return the instant that an option gives, or the time now: only a door reads the clock."""
    return datetime.now(UTC) if text is None else read_as("--now", parse_instant, text)


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
