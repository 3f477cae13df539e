"""`refuge brief`: a roster of flights, one line each, what wants a second look first."""

from pathlib import Path

import click

from refuge.cli.options import instant_or_now, now_option, store_option


@click.command(
    no_args_is_help=True,
    epilog="Example: refuge brief roster.csv --store refuge-demo.sqlite --now 2026-03-10T15:00Z",
)
@click.argument("roster", type=click.Path(path_type=Path), metavar="ROSTER.csv")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@now_option
@store_option
@click.pass_context
def brief(ctx: click.Context, /, roster: Path, as_json: bool, now: str | None, store: str | None) -> None:
    """For each flight of a roster and each aircraft that may fly it: gap minutes, and what breaks it.

    \b
    flight,from,to,departs,aircraft,minimums,altitude_ft,lowest_safe_ft
    A1,XTES,XLUM,2026-03-10T15:15Z,XA-GLASS XA-PAIR,XS-SCHOOL,6000,2200

    Columns: flight, from, to, departs (with its zone), aircraft (ids or files, several with spaces between) and
    minimums; where wanted via (parted by semicolons), altitude_ft, lowest_safe_ft, wind, oat_c, soak_c, fuel_min,
    margin_min, failure, torch, handheld. Exit 0 if every flight is within the gap budget, 1 if one is not, 2 if
    a row cannot be used, 3 if data are missing.
    """  # noqa: D301 - click wants the backspace itself
    from refuge.brief import brief_in_store
    from refuge.files.roster import load_roster
    from refuge.render.brief import brief_json, brief_text
    from refuge.render.find_json import json_line
    from refuge.store.opening import existing_store

    at, rows = instant_or_now(now), load_roster(roster)
    with existing_store(store) as engine:
        found = brief_in_store(rows, engine, store, now=at)
    click.echo(json_line(brief_json(found)) if as_json else brief_text(found), nl=False)
    ctx.exit(2 if found.bad else 0 if all(line.plan.within_budget for line in found.lines) else 1)
