"""`refuge find`: airfields in reach of one position, and which of them will be visual."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from refuge.cli.options import evidence_options, instant_or_now, now_option, store_option
from refuge.errors import InputError
from refuge.options import Options, read_as

if TYPE_CHECKING:
    from datetime import datetime

    from refuge.flight.shortlist import Shortlist
    from refuge.weather.bulletin import Bulletin

TABLE_LIMIT = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(Options):
    """What the options say, as written: the question, and what only this door takes."""

    explain: str | None = None
    bulletins: tuple[Path, ...] = ()
    received: str | None = None
    limit: int | None = None
    as_json: bool = False
    as_geojson: bool = False
    areas: bool = False
    now: str | None = None
    store: str | None = None


@click.command(
    no_args_is_help=True,
    epilog="Example: refuge find --at XCOR --aircraft XA-GLASS --minimums XS-SCHOOL --wind 280/25"
    " --store refuge-demo.sqlite --now 2026-03-10T15:00Z",
)
@click.option("--at", required=True, metavar="PLACE", help="Where it turns: an identifier or a position.")
@click.option("--fails", metavar="TIME", help="When the supply fails; now if not given.")
@evidence_options
@click.option(
    "--heading", metavar="D", help="Heading now, 270 by compass or 270T true: adds turn direction and seconds."
)
@click.option("--explain", metavar="ID", help="Every check of one airfield, line by line.")
@click.option(
    "--limit", type=click.IntRange(min=0), metavar="N",
    help="Show N airfields (12 in a table, 200 as JSON; 0: all). What meets is always shown.",
)  # fmt: skip
@click.option("--areas", is_flag=True, help="Where the weather is good around, when the budget ends.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option("--geojson", "as_geojson", is_flag=True, help="Print GeoJSON.")
@now_option
@store_option
@click.pass_context
def find(ctx: click.Context, /, **options: Any) -> None:
    """Which airfields can be reached from PLACE while the instruments last, and will be visual.

    Verdicts are meets, misses or unknown; unknown is never meets. Exit 0 if one meets, 1 if none does, 2 for
    bad input, 3 if data are missing.
    """
    asked = Asked(**options)
    if asked.as_json + asked.as_geojson + (asked.explain is not None) > 1:
        raise InputError("one form of answer at a time", where="--json, --geojson, --explain", remedy="give one")
    shortlist = shortlist_of(asked, instant_or_now(asked.now))
    click.echo(_answer(asked, shortlist), nl=False)
    from refuge.flight.situation import is_old

    old = is_old(shortlist.basis.situation.data_as_of, shortlist.basis.question.now)
    ctx.exit(0 if shortlist.meeting else 3 if old else 1)


def shortlist_of(asked: Asked, now: "datetime") -> "Shortlist":
    """Return the answer to what the options ask, everything read in one transaction."""
    from refuge.ask import situation_for
    from refuge.flight.shortlist import build
    from refuge.store.engine import reading
    from refuge.store.opening import existing_store
    from refuge.wiring import question_in_store

    bulletins = bulletins_of(asked.bulletins, asked.received, now, stamped=asked.now)
    files = None
    if bulletins is not None:
        from refuge.wiring import weather_of_bulletins

        files = weather_of_bulletins(bulletins, now)
    with existing_store(asked.store) as engine, reading(engine) as conn:
        question = question_in_store(asked, asked.store, conn, now=now, files=files)
        situation = situation_for(conn, question, files)
    return build(question, situation)


def bulletins_of(
    paths: tuple[Path, ...], received: str | None, now: "datetime", *, stamped: str | None
) -> "list[Bulletin] | None":
    """Return the bulletins of the files named, or ``None`` where the store's weather is asked.

    They count as received at `received`, else at `stamped`, else at the time of each file.

    Raises
    ------
    InputError
        If a file cannot be read, or a receipt is given and no file.
    """
    if not paths and received is not None:
        raise InputError(
            "it is the receipt of bulletins in files", where="--received", remedy="give --bulletins too"
        )
    if not paths:
        return None
    from refuge.feeds.folder import file_feed
    from refuge.zulu import parse_instant

    text = received or stamped
    received_at = None if text is None else read_as("--received", parse_instant, text)
    found: list[Bulletin] = []
    for path in paths:
        read = file_feed(path, now=now, received_at=received_at).everything
        for error in read.errors:
            click.echo(f"note: {error}", err=True)
        found += read.bulletins
    return found


def _answer(asked: Asked, shortlist: "Shortlist") -> str:
    if asked.explain is not None:
        from refuge.render.explain import explain_text

        return explain_text(shortlist, asked.explain)
    if asked.as_json or asked.as_geojson:
        from refuge.render.find_json import JSON_LIMIT, find_geojson, find_json, json_line

        limit = JSON_LIMIT if asked.limit is None else asked.limit or None
        make = find_geojson if asked.as_geojson else find_json
        body = make(shortlist, limit=limit, areas=asked.areas)
        return json_line(body)
    from refuge.render.find_text import find_text

    limit = TABLE_LIMIT if asked.limit is None else asked.limit or None
    return find_text(shortlist, limit=limit, areas=asked.areas)
