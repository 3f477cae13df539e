"""What several commands share: reading the clock, and options that they have in common."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from refuge.options import read_as
from refuge.zulu import parse_instant

if TYPE_CHECKING:
    _OfFloat = click.ParamType[float]
else:
    _OfFloat = click.ParamType  # of which older versions have no kinds
Decorated = Callable[..., Any]


class Number(_OfFloat):
    """A number of an option, with what to write instead where it is none."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number.

        A comma may part thousands or tenths: which of the two is asked back, never guessed.
        """
        try:
            return float(value)
        except ValueError:
            text = str(value).strip()
        if _THOUSANDS.fullmatch(text):
            meant = f"write {text.replace(',', '')}, or {text.replace(',', '.')} for tenths"
        elif _TENTHS.fullmatch(text):
            meant = f"write {text.replace(',', '.')}"
        else:
            meant = "write digits only, such as 5.5"
        return self.fail(f"{text!r} is no number: {meant}", param, ctx)


_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})")
_TENTHS = re.compile(r"[+-]?[0-9]+,[0-9]+")
NUMBER = Number()


def instant_or_now(text: str | None) -> datetime:
    """Return the instant that an option gives, or the time now: only a door reads the clock."""
    return datetime.now(UTC) if text is None else read_as("--now", parse_instant, text)


def evidence_options(function: Decorated) -> Decorated:
    """Add to a command what a person may say of aircraft, minimums and evidence."""
    options = (
        click.option("--aircraft", required=True, metavar="A", help="An aircraft file, or its id."),
        click.option("--minimums", required=True, metavar="M", help="A minimums file, or its id."),
        click.option("--altitude", type=NUMBER, metavar="FT", help="Cruising level, feet; 10,000 if not given."),
        click.option(
            "--failure", default="alternator", show_default=True,
            help="alternator, all, pump, display, or two joined by +.",
        ),
        click.option("--wind", metavar="D/KT", help="Wind at the level, degrees true / knots: pilot's figure."),
        click.option(
            "--lowest-safe", type=NUMBER, metavar="FT", help="The chart's lowest safe height, clearance included."
        ),
        click.option("--oat", "oat_c", type=NUMBER, metavar="C", help="Air temperature at the level, Celsius."),
        click.option("--soak", "soak_c", type=NUMBER, metavar="C", help="Temperature the aircraft stood in."),
        click.option(
            "--fuel-min", type=NUMBER, metavar="MIN",
            help="All fuel aboard, minutes at cruise: at the failure, or where a flight begins.",
        ),
        click.option(
            "--shed-min", type=NUMBER, metavar="MIN",
            help="The pilot begins to shed so long after the failure; when it is noticed if not given.",
        ),
        click.option("--torch", is_flag=True, help="A torch is aboard, charged and in reach."),
        click.option("--handheld", is_flag=True, help="A handheld radio is aboard, charged."),
        click.option("--margin", "margin_min", type=NUMBER, metavar="MIN", help="Minutes in hand; else 15."),
        click.option(
            "--bulletins", multiple=True, type=click.Path(path_type=Path), metavar="FILE",
            help="Weather from this file or folder, not the store's; repeat for more.",
        ),
        click.option(
            "--received", metavar="TIME",
            help="Receipt of the bulletins; --now if not given, else the file's time.",
        ),
    )  # fmt: skip
    for option in reversed(options):
        function = option(function)
    return function


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
