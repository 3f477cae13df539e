"""`refuge heading`: heading, groundspeed and time for one leg, as on a slide rule."""

import json
import textwrap
from typing import TYPE_CHECKING, Any

import click

from refuge.cli.options import NUMBER, instant_or_now, now_option, store_option
from refuge.errors import InputError
from refuge.options import finite, parse_wind, read_as

if TYPE_CHECKING:
    from refuge.flight.compass import Variation

WIDTH = 110


def parse_variation(text: str) -> float:
    """Return a variation in degrees, east positive, from ``E6`` or ``W6``, or ``6E`` or ``6W``."""
    letters = text.strip().upper()
    sign, number = (letters[-1:], letters[:-1]) if letters[-1:] in {"E", "W"} else (letters[:1], letters[1:])
    try:
        value = float(number)
    except ValueError:
        value = -1.0
    if sign not in {"E", "W"} or not 0.0 <= value <= 180.0:
        raise InputError(f"{text!r} is no variation", where="--variation", remedy="write E6 or W6")
    return value if sign == "E" else -value


@click.command(
    no_args_is_help=True,
    epilog="Example: refuge heading --track 090 --tas 120 --wind 045/40 --distance 60 --variation E6",
)
@click.option("--track", required=True, type=NUMBER, metavar="D", help="Track to make good, degrees true.")
@click.option("--tas", required=True, type=NUMBER, metavar="KT", help="True airspeed, knots.")
@click.option("--wind", required=True, metavar="D/KT", help="Wind at the level, from degrees true / knots.")
@click.option("--distance", required=True, type=NUMBER, metavar="NM", help="Distance, nautical miles.")
@click.option("--variation", metavar="E6|W6", help="Magnetic variation; that at --at, or none, if not given.")
@click.option("--at", metavar="PLACE", help="Where: takes the variation there from the magnetic model of the day.")
@click.option(
    "--deviation",
    type=NUMBER,
    metavar="D",
    help="Correction from the compass card, degrees; without it no heading is called one by compass.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@now_option
@store_option
@click.pass_context
def heading(
    ctx: click.Context,
    *,
    track: float,
    tas: float,
    wind: str,
    distance: float,
    variation: str | None,
    at: str | None,
    deviation: float | None,
    as_json: bool,
    now: str | None,
    store: str | None,
) -> None:
    """Heading, groundspeed and time for one leg in a wind; no allowance is added.

    Without --variation and --at the magnetic heading equals the true one, and the text shows the true one
    alone. Exit 1 if the leg is never flown: the wind is too strong.
    """
    from refuge.flight.caution import CAUTION

    there = _variation(variation, at, now, store)
    values = leg(track, tas, parse_wind(wind), distance, there, _correction(deviation))
    notes = [*there.warnings, *([there.said] if variation is None and at is not None else [])]
    no_variation, no_deviation = variation is None and at is None, deviation is None
    if no_variation:
        notes.append("no variation given: magnetic and compass headings are as true (--variation, or --at PLACE)")
    if no_deviation:
        notes.append("no deviation given: the compass heading is the magnetic one (--deviation, from the card)")
    if as_json:
        more = {"variation_deg_e": None if there.deg_e is None else round(there.deg_e, 2), "notes": notes}
        click.echo(json.dumps(values | more | {"caution": CAUTION}))
    elif values["minutes"] is None:
        click.echo(f"never: the wind {wind} is too strong for {tas:g} kt on track {track:03.0f}")
    else:
        hidden = {"heading_deg_mag"} if no_variation else set()
        hidden |= {"heading_deg_compass"} if no_variation or no_deviation else set()
        for line in (_text(values, hidden), *notes, *textwrap.wrap(CAUTION, WIDTH)):
            click.echo(line)
    if values["minutes"] is None:
        ctx.exit(1)


def _correction(deviation: float | None) -> float:
    """Return the correction of the compass card in degrees, 0 where none is given.

    Raises
    ------
    InputError
        If it is more than a compass may be off.
    """
    from refuge.aircraft.airframe import CARD_LIMIT_DEG

    correction = finite(deviation, "--deviation") or 0.0
    if abs(correction) > CARD_LIMIT_DEG:
        raise InputError(
            f"{correction:g} cannot be", where="--deviation",
            remedy=f"give degrees from -{CARD_LIMIT_DEG:g} to {CARD_LIMIT_DEG:g}",
        )  # fmt: skip
    return correction


def _variation(given: str | None, at: str | None, now: str | None, store: str | None) -> "Variation":
    """Return the variation that the person gives, else that of the model where and when they are, else none.

    Raises
    ------
    InputError
        If both are given: which of the two counts must not be guessed.
    """
    from refuge.flight.compass import Variation, variation_at

    if given is not None and at is not None:
        raise InputError("each gives a variation", where="--variation, --at", remedy="give one of the two")
    if given is not None or at is None:
        degrees = 0.0 if given is None else parse_variation(given)
        return Variation(deg_e=degrees, said="variation as given")
    from refuge.ask import place_of
    from refuge.earth import parse_position
    from refuge.files.coefficients import magnetic_model
    from refuge.store.engine import reading
    from refuge.store.opening import existing_store

    position = read_as("--at", parse_position, at)
    if position is None:
        with existing_store(store) as engine, reading(engine) as conn:
            position = place_of(conn, at)
    # The level is not asked for: 10,000 ft more or less change the variation by hundredths of a degree.
    return variation_at(magnetic_model(), position, 0.0, instant_or_now(now))


def leg(
    track: float, tas: float, wind: tuple[float, float], distance: float, variation: "Variation", deviation: float
) -> dict[str, Any]:
    """Return the numbers of interface.md, `refuge heading`; ``None`` for those that do not exist."""
    from refuge.flight.compass import Compass
    from refuge.flight.reach import minutes_at
    from refuge.flight.triangle import solve

    for value, name, most in (
        (track, "--track", 360.0),
        (tas, "--tas", 1000.0),
        (distance, "--distance", 10_800.0),
    ):
        if not 0.0 <= value <= most or (name == "--tas" and value <= 0.0):
            raise InputError(f"{value:g} cannot be", where=name, remedy=f"give a number from 0 to {most:g}")
    solved = solve(track, tas, *wind)
    if not bool(solved.possible):
        keys = ("wca_deg", "heading_deg_true", "heading_deg_mag", "heading_deg_compass", "gs_kt", "minutes")
        return dict.fromkeys(keys)
    true = float(solved.heading_deg_true)
    compass = Compass(variation=variation, deviation_said="", correction_deg=(deviation,))
    magnetic, shown = compass.magnetic(true), compass.reading(true)
    return {
        "wca_deg": round(float(solved.wca_deg), 2),
        "heading_deg_true": round(true, 2),
        "heading_deg_mag": None if magnetic is None else round(float(magnetic), 2),
        "heading_deg_compass": None if shown is None else round(float(shown), 2),
        "gs_kt": round(float(solved.gs_kt), 2),
        "minutes": round(float(minutes_at(distance, solved.gs_kt)), 2),
    }


def _text(values: dict[str, Any], hidden: set[str]) -> str:
    from refuge.render.compass import three_digits

    names = {"heading_deg_true": "true", "heading_deg_mag": "magnetic", "heading_deg_compass": "compass"}
    shown = {key: name for key, name in names.items() if values[key] is not None and key not in hidden}
    headings = ", ".join(f"{three_digits(values[key])} {name}" for key, name in shown.items())
    speed = f"groundspeed {values['gs_kt']:.1f} kt, {values['minutes']:.1f} min"
    return f"heading {headings} (WCA {values['wca_deg']:+.1f}), {speed}"
