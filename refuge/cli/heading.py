"""`refuge heading`: heading, groundspeed and time for one leg, as on a slide rule."""

import json
from typing import Any

import click

from refuge.errors import InputError
from refuge.options import finite, parse_wind


def parse_variation(text: str | None) -> float:
    """Return a variation in degrees, east positive, from ``E6`` or ``W6``; 0 where there is none."""
    if text is None:
        return 0.0
    sign, number = text[:1].upper(), text[1:]
    try:
        value = float(number)
    except ValueError:
        value = -1.0
    if sign not in {"E", "W"} or not 0.0 <= value <= 180.0:
        raise InputError(f"{text!r} is no variation", where="--variation", remedy="write E6 or W6")
    return value if sign == "E" else -value


@click.command(epilog="Example: refuge heading --track 090 --tas 120 --wind 045/40 --distance 60 --variation E6")
@click.option("--track", required=True, type=float, metavar="D", help="Track to make good, degrees true.")
@click.option("--tas", required=True, type=float, metavar="KT", help="True airspeed, knots.")
@click.option("--wind", required=True, metavar="D/KT", help="Wind at the level, from degrees true / knots.")
@click.option("--distance", required=True, type=float, metavar="NM", help="Distance, nautical miles.")
@click.option("--variation", metavar="E6|W6", help="Magnetic variation; none if not given.")
@click.option(
    "--deviation", type=float, default=0.0, metavar="D", help="Correction from the compass card, degrees."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def heading(
    ctx: click.Context,
    *,
    track: float,
    tas: float,
    wind: str,
    distance: float,
    variation: str | None,
    deviation: float,
    as_json: bool,
) -> None:
    """Heading, groundspeed and time for one leg in a wind; no allowance is added.

    Without --variation the magnetic heading equals the true one. Exit 1 if the leg is never flown:
    the wind is too strong.
    """
    from refuge.flight.caution import CAUTION

    values = leg(
        track, tas, parse_wind(wind), distance, parse_variation(variation), finite(deviation, "--deviation") or 0.0
    )
    if as_json:
        click.echo(json.dumps(values | {"caution": CAUTION}))
    elif values["minutes"] is None:
        click.echo(f"never: the wind {wind} is too strong for {tas:g} kt on track {track:03.0f}")
    else:
        click.echo(_text(values))
        click.echo(CAUTION)
    if values["minutes"] is None:
        ctx.exit(1)


def leg(
    track: float, tas: float, wind: tuple[float, float], distance: float, variation_e: float, deviation: float
) -> dict[str, Any]:
    """Return the numbers of interface.md, `refuge heading`; ``None`` for those that do not exist."""
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
    magnetic = (true - variation_e) % 360.0
    return {
        "wca_deg": round(float(solved.wca_deg), 2),
        "heading_deg_true": round(true, 2),
        "heading_deg_mag": round(magnetic, 2),
        "heading_deg_compass": round((magnetic + deviation) % 360.0, 2),
        "gs_kt": round(float(solved.gs_kt), 2),
        "minutes": round(float(minutes_at(distance, solved.gs_kt)), 2),
    }


def _text(values: dict[str, Any]) -> str:
    names = {"heading_deg_true": "true", "heading_deg_mag": "magnetic", "heading_deg_compass": "compass"}
    headings = ", ".join(f"{round(values[key]) % 360 or 360:03d} {name}" for key, name in names.items())
    speed = f"groundspeed {values['gs_kt']:.1f} kt, {values['minutes']:.1f} min"
    return f"heading {headings} (WCA {values['wca_deg']:+.1f}), {speed}"
