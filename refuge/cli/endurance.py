"""`refuge endurance`: how long attitude, airspeed and altitude last after a failure."""

import json
import math
from datetime import UTC, datetime

import click

from refuge.aircraft.airframe import Aircraft
from refuge.errors import InputError
from refuge.zulu import parse_instant


@click.command(
    epilog="Example: refuge endurance fixtures/demo/aircraft/XA-GLASS.toml --oat=-5",
)
@click.argument("aircraft")
@click.option(
    "--failure", default="alternator", show_default=True, help="alternator, all, pump, display, or two joined by +."
)
@click.option("--oat", "oat_c", type=float, metavar="C", help="Outside air temperature at the level, Celsius.")
@click.option("--soak", "soak_c", type=float, metavar="C", help="Temperature the aircraft stood in, Celsius.")
@click.option("--icing", is_flag=True, help="In cloud where airspeed needs pitot heat, whatever the temperature.")
@click.option(
    "--night", is_flag=True, help="By night: instruments without their own light need panel light or a torch."
)
@click.option("--torch", is_flag=True, help="A torch is aboard, charged and in reach.")
@click.option(
    "--fuel-min", type=float, metavar="MIN", help="All fuel aboard, minutes at cruise; the reserve is taken off."
)
@click.option("--margin", "margin_min", type=float, metavar="MIN", help="Minutes kept in hand; 15 if not given.")
@click.option(
    "--now", metavar="TIME", help="Ask as of this time (for the age of batteries), such as 2026-03-01T12:00Z."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def endurance(
    aircraft: str,
    failure: str,
    oat_c: float | None,
    soak_c: float | None,
    icing: bool,
    night: bool,
    torch: bool,
    fuel_min: float | None,
    margin_min: float | None,
    now: str | None,
    as_json: bool,
) -> None:
    """How long attitude, airspeed and altitude last in AIRCRAFT, a file or an id.

    Counted from the failure, from the published durations in the aircraft's file, derated for
    temperature and age. The budget is what is left after recognition and margin.
    """
    from refuge.aircraft.case import FlightState, failure_text, parse_failure
    from refuge.aircraft.endurance import MARGIN_MIN
    from refuge.aircraft.endurance import endurance as work_out
    from refuge.render.endurance import endurance_json, endurance_text

    margin = _margin_min(margin_min, MARGIN_MIN)
    failed = parse_failure(failure)
    flown = _loaded(aircraft)
    found = work_out(
        flown,
        FlightState(
            on=_instant(now).date(),
            failure=failed,
            oat_c=oat_c,
            soak_c=soak_c,
            icing=icing,
            night=night,
            torch=torch,
            fuel_min=fuel_min,
        ),
    )
    if as_json:
        click.echo(json.dumps(endurance_json(found, margin_min=margin), indent=2))
    else:
        click.echo(endurance_text(flown, found, failure=failure_text(failed), margin_min=margin), nl=False)


def _loaded(name: str) -> Aircraft:
    from refuge.config import user_folder
    from refuge.files.aircraft import load_aircraft
    from refuge.files.lookup import find_file

    return load_aircraft(find_file(name, kind="aircraft", folders=[user_folder() / "aircraft"]))


def _instant(now: str | None) -> datetime:
    return datetime.now(UTC) if now is None else parse_instant(now)


def _margin_min(given: float | None, usual: float) -> float:
    margin = usual if given is None else given
    if not 0 <= margin < math.inf:
        raise InputError(
            f"{margin:g} min cannot be kept in hand", where="--margin", remedy="give 0 or more minutes"
        )
    if margin < usual:
        click.echo(f"note: a margin of {margin:g} min is less than the usual {usual:g}", err=True)
    return margin
