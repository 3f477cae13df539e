"""`refuge route`: a whole flight, where to go for every minute of it, and the minutes without an answer."""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from refuge.cli.options import NUMBER, evidence_options, instant_or_now, now_option, store_option
from refuge.cli.pictures import picture_option, write_picture
from refuge.cli.progress import counting
from refuge.errors import InputError
from refuge.options import RouteOptions, read_as
from refuge.zulu import parse_instant

if TYPE_CHECKING:
    from datetime import datetime

    from refuge.alternatives import Alternatives
    from refuge.flight.route import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(RouteOptions):
    """What the options say, as written: the flight, and what only this door takes."""

    bulletins: tuple[Path, ...] = ()
    received: str | None = None
    ways: bool = False
    over: tuple[str, ...] = ()
    picture: Path | None = None
    reach_at: str | None = None
    as_json: bool = False
    as_geojson: bool = False
    now: str | None = None
    store: str | None = None


@click.command(
    no_args_is_help=True,
    context_settings={"ignore_unknown_options": True},
    epilog="Example: refuge route XTES XLUM --departs 2026-03-10T15:00Z --aircraft XA-GLASS --minimums XS-SCHOOL"
    " --altitude 6000 --lowest-safe 2200 --store refuge-demo.sqlite --now 2026-03-10T15:00Z",
)
@click.argument("places", nargs=-1, metavar="[DEP] [VIA ...] DEST")
@click.option("--departs", metavar="TIME", help="When the flight begins; now if not given.")
@click.option(
    "--from-position", metavar="PLACE",
    help="Already in the air, here: the way goes on over the places named (leave out where it began). No climb,"
    " no departure slip.",
)  # fmt: skip
@click.option(
    "--since-failure", "since_failure_min", type=NUMBER, metavar="MIN",
    help="In the air: the supply failed so many minutes before; of recognition only what is ahead counts.",
)  # fmt: skip
@click.option("--ways", is_flag=True, help="Other departures, levels and aircraft, with the gap minutes left.")
@click.option("--over", multiple=True, metavar="PLACE", help="With --ways: try a detour over this place; repeat.")
@picture_option("Draw a map of the way, and spare, ceiling and daylight over time, into this .svg or .png.")
@click.option(
    "--reach-at", metavar="TIME|MIN",
    help="With --picture: show reach and verdicts of a failure then (16:24Z, a whole time, or minutes after"
    " departure); the middle of the longest gap if not given.",
)  # fmt: skip
@evidence_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option("--geojson", "as_geojson", is_flag=True, help="Print GeoJSON.")
@now_option
@store_option
@click.pass_context
def route(ctx: click.Context, /, places: tuple[str, ...], from_position: str | None, **options: Any) -> None:
    """For every minute of a flight: where to go if the supply fails then, and the gaps without a refuge.

    Places are identifiers or positions. Exit 0 if there is a refuge at some minute, 1 if at none, 2 for bad
    input, 3 if data are missing, or so old (3 hours) that there can be no refuge.
    """
    _refuse_unknown_options(ctx, places)
    way = places if from_position is None else (from_position, *places)
    if options["as_json"] and options["as_geojson"]:
        raise InputError("one form of answer at a time", where="--json, --geojson", remedy="give one")
    if options["over"] and not options["ways"]:
        raise InputError("a detour is tried among the ways", where="--over", remedy="give --ways too")
    asked = Asked(at=way[0] if way else "", places=way, airborne=from_position is not None, **options)
    if asked.reach_at is not None and asked.picture is None:
        raise InputError("it says what a picture shows", where="--reach-at", remedy="give --picture FILE too")
    plan, others = plan_of(asked, instant_or_now(asked.now))
    _note(plan)
    if asked.picture is not None:
        _draw(asked.picture, plan, asked)
    click.echo(_answer(asked, plan, others), nl=False)
    from refuge.flight.situation import is_old

    old = is_old(plan.situation.data_as_of, plan.asked.question.now)
    ctx.exit(0 if any(plan.ranked) else 3 if old else 1)


def _note(plan: "Plan") -> None:
    """Say on the other channel, where no table hides it, that the way goes over a place before its end."""
    from refuge.render.route_json import over_first

    said = over_first(plan.asked)
    if said is not None:
        click.echo(f"note: {said}", err=True)


def _refuse_unknown_options(ctx: click.Context, places: tuple[str, ...]) -> None:
    """Refuse a word that no option is called: it came here since a place may begin with a minus."""
    for place in places:
        if re.match(r"--|-[A-Za-z]", place):
            known = [name for option in ctx.command.params for name in option.opts]
            raise click.NoSuchOption(place, possibilities=get_close_matches(place, known), ctx=ctx)


def plan_of(asked: Asked, now: "datetime") -> "tuple[Plan, Alternatives | None]":
    """Return the plan that the options ask, and its alternatives; everything read in one transaction."""
    from functools import partial

    from refuge.alternatives import alternatives
    from refuge.cli.find import bulletins_of
    from refuge.flight.route import build
    from refuge.planning import route_question, with_weather
    from refuge.store.documents import document
    from refuge.store.engine import reading
    from refuge.store.opening import existing_store
    from refuge.wiring import load_parties, parties_by_id, weather_of_bulletins
    from refuge.world import read_world

    bulletins = bulletins_of(asked.bulletins, asked.received, now, stamped=asked.now)
    files = None if bulletins is None else weather_of_bulletins(bulletins, now)
    with existing_store(asked.store) as engine, reading(engine) as conn:
        parties = load_parties(asked.aircraft, asked.minimums, asked.store, partial(document, conn))
        world = with_weather(read_world(conn, now), files)
    question, situation = route_question(asked, parties, world, now=now)
    plan = build(question, situation)
    if not asked.ways:
        return plan, None
    fleet = parties_by_id(asked.store, world.documents).aircraft
    with counting("other flights") as progress:
        return plan, alternatives(asked, parties, world, now=now, fleet=fleet, over=asked.over, progress=progress)


def _draw(path: Path, plan: "Plan", asked: Asked) -> None:
    """Write the picture of a plan.

    Raises
    ------
    InputError
        If the file is no picture's name, or cannot be written, or the minute is none of the flight.
    """
    from refuge.gazetteer.coasts import coast_of
    from refuge.render.route_picture import route_picture
    from refuge.wiring import is_demo_store

    minute = None if asked.reach_at is None else minute_of(plan, asked.reach_at)
    coast = coast_of(invented=is_demo_store(asked.store, plan.situation.airfields))
    write_picture(path, lambda kind: route_picture(plan, kind=kind, coast=coast, minute=minute))


def minute_of(plan: "Plan", text: str) -> int:
    """Return the minute of a flight that a text names: minutes after departure, ``16:24Z`` or a whole time.

    Raises
    ------
    InputError
        If it is none of the three, or no minute of the flight.
    """
    from datetime import timedelta

    last, departs = int(plan.track.minutes[-1]), plan.asked.departs
    if text.strip().isdecimal():
        minute = int(text)
    else:
        wanted = text.strip().upper()
        if len(wanted) == len("16:24Z") and wanted.endswith("Z"):
            at = read_as("--reach-at", parse_instant, f"{departs:%Y-%m-%d}T{wanted}")
            at += timedelta(days=1) if at < departs.replace(second=0, microsecond=0) else timedelta()
        else:
            at = read_as("--reach-at", parse_instant, wanted)
        minute = int((at - departs) // timedelta(minutes=1))
    if not 0 <= minute <= last:
        raise InputError(
            f"{text} is no minute of the flight, which has minutes 0 to {last}", where="--reach-at",
            remedy=f"give a time from {departs:%H:%MZ} to {plan.instant(last):%H:%MZ}",
        )  # fmt: skip
    return minute


def _answer(asked: Asked, plan: "Plan", others: "Alternatives | None") -> str:
    from refuge.render.ways import ways_json, ways_text

    if asked.as_json or asked.as_geojson:
        from refuge.render.find_json import json_line
        from refuge.render.route_json import route_geojson, route_json

        body = route_geojson(plan) if asked.as_geojson else route_json(plan)
        return json_line(body | ({} if others is None else ways_json(others.ways, others.refused)))
    from refuge.render.route_text import route_text

    return route_text(plan, [] if others is None else ways_text(others.ways, others.refused))
