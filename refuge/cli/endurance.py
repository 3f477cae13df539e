"""`refuge endurance`: how long attitude, airspeed and altitude last after a failure."""

import json
import math
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from refuge.cli.options import NUMBER, instant_or_now
from refuge.cli.pictures import picture_option, write_picture
from refuge.errors import InputError

if TYPE_CHECKING:
    from refuge.aircraft.airframe import Aircraft
    from refuge.aircraft.case import FlightState
    from refuge.aircraft.endurance import Endurance


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The options as click hands them over."""

    aircraft: str
    failure: str
    oat_c: float | None
    soak_c: float | None
    icing: bool
    night: bool
    torch: bool
    fuel_min: float | None
    shed_min: float | None
    not_shed: tuple[str, ...]
    flown_min: float
    margin_min: float | None
    compare: str | None
    picture: Path | None
    now: str | None
    store: str | None
    as_json: bool


@click.command(
    no_args_is_help=True,
    epilog="Example: refuge endurance fixtures/demo/aircraft/XA-GLASS.toml --oat=-5",
)
@click.argument("aircraft")
@click.option(
    "--failure", default="alternator", show_default=True, help="alternator, all, pump, display, or two joined by +."
)
@click.option("--oat", "oat_c", type=NUMBER, metavar="C", help="Outside air temperature at the level, Celsius.")
@click.option("--soak", "soak_c", type=NUMBER, metavar="C", help="Temperature the aircraft stood in, Celsius.")
@click.option("--icing", is_flag=True, help="In cloud where airspeed needs pitot heat, whatever the temperature.")
@click.option(
    "--night", is_flag=True, help="By night: instruments without their own light need panel light or a torch."
)
@click.option("--torch", is_flag=True, help="A torch is aboard, charged and in reach.")
@click.option(
    "--fuel-min", type=NUMBER, metavar="MIN", help="All fuel aboard, minutes at cruise; the reserve is taken off."
)
@click.option(
    "--shed-min", type=NUMBER, metavar="MIN", help="The pilot begins to shed then; at recognition if not given."
)
@click.option("--not-shed", multiple=True, metavar="LOAD", help="A load that is not shed, or all; repeat for more.")
@click.option(
    "--flown", "flown_min", type=NUMBER, default=0.0, metavar="MIN",
    help="Minutes flown before the failure, for a battery box that warms in flight.",
)  # fmt: skip
@click.option("--margin", "margin_min", type=NUMBER, metavar="MIN", help="Minutes kept in hand; 15 if not given.")
@click.option(
    "--compare", metavar="OTHER",
    help="Another aircraft (a file or id), or this one in another state: soak=-15,night,shed=15.",
)  # fmt: skip
@picture_option("Draw the bars into this file too, .svg or .png.")
@click.option(
    "--now", metavar="TIME", help="Ask as of this time (for the age of batteries), such as 2026-03-01T12:00Z."
)
@click.option(
    "--store", envvar="REFUGE_STORE", metavar="URL", help="A store whose aircraft an id may name (REFUGE_STORE)."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def endurance(**options: Any) -> None:
    """How long attitude, airspeed and altitude last in AIRCRAFT, a file or an id.

    Counted from the failure, event by event, from published durations or from Ah and amps in the
    aircraft's file, derated for temperature and age. The budget is what is left after recognition and margin.
    """
    from refuge.aircraft.endurance import endurance as work_out
    from refuge.render.endurance import conditions_text

    asked = Asked(**options)
    margin = _margin_min(asked.margin_min)
    flown, state = _loaded(asked.aircraft, asked.store), _state(asked, instant_or_now(asked.now).date())
    cases = [(flown.id, flown, state)]
    if asked.compare is not None:
        cases.append(_other(asked, flown, state))
    shown = [(label, work_out(aircraft, at)) for label, aircraft, at in cases]
    if asked.picture is not None:
        _draw(asked.picture, shown, [conditions_text(aircraft, at) for _, aircraft, at in cases], margin)
    click.echo(_answer(flown, state, shown, margin, as_json=asked.as_json), nl=False)


def _answer(
    flown: "Aircraft", state: "FlightState", shown: "list[tuple[str, Endurance]]", margin: float, *, as_json: bool
) -> str:
    from refuge.aircraft.case import failure_text
    from refuge.aircraft.comparison import other_failures, sensitivity
    from refuge.render.compare import compared_text
    from refuge.render.endurance import answer_json, endurance_text

    found = shown[0][1]
    compared = shown[1] if len(shown) == 2 else None
    if compared is not None and not as_json:
        return compared_text(shown[0], compared, margin_min=margin)
    others, changes = other_failures(flown, state), sensitivity(flown, state)
    if as_json:
        body = answer_json(found, margin_min=margin, others=others, changes=changes, compared=compared)
        return json.dumps(body, indent=2) + "\n"
    failure = failure_text(state.failure)
    return endurance_text(flown, found, failure=failure, margin_min=margin, others=others, changes=changes)


def _state(asked: Asked, on: date) -> "FlightState":
    from refuge.aircraft.case import FlightState, parse_failure

    return FlightState(
        on=on,
        failure=parse_failure(asked.failure),
        oat_c=asked.oat_c,
        soak_c=asked.soak_c,
        icing=asked.icing,
        night=asked.night,
        torch=asked.torch,
        fuel_min=asked.fuel_min,
        shed_min=asked.shed_min,
        not_shed=frozenset(asked.not_shed),
        flown_min=asked.flown_min,
    )


def _other(asked: Asked, flown: "Aircraft", state: "FlightState") -> "tuple[str, Aircraft, FlightState]":
    """Return what the answer is compared with: its name, the aircraft and its state."""
    from refuge.aircraft.comparison import changed_state, is_change

    other = asked.compare or ""
    if is_change(other):
        return other, flown, changed_state(state, other)
    second = _loaded(other, asked.store)
    return second.id, second, state


def _draw(path: Path, shown: "list[tuple[str, Endurance]]", conditions: list[str], margin_min: float) -> None:
    from refuge.render.endurance_picture import Drawn, endurance_picture

    drawn = [
        Drawn(label=label, found=found, conditions=said)
        for (label, found), said in zip(shown, conditions, strict=True)
    ]
    write_picture(path, lambda kind: endurance_picture(drawn, margin_min=margin_min, kind=kind))


def _loaded(name: str, store: str | None) -> "Aircraft":
    """Return the aircraft of a file or an id; only where a store is named are its documents looked through."""
    if store is not None and not Path(name).is_file():
        return _of_store(name, store)
    from refuge.config import user_folder
    from refuge.files.aircraft import load_aircraft
    from refuge.files.lookup import find_file

    return load_aircraft(find_file(name, kind="aircraft", folders=[user_folder() / "aircraft"]))


def _of_store(name: str, store: str) -> "Aircraft":
    from functools import partial

    from refuge.store.documents import document
    from refuge.store.engine import reading
    from refuge.store.opening import existing_store
    from refuge.wiring import named_aircraft

    with existing_store(store) as engine, reading(engine) as conn:
        return named_aircraft(name, store, partial(document, conn))


def _margin_min(given: float | None) -> float:
    from refuge.aircraft.endurance import MARGIN_MIN as USUAL_MIN

    margin = USUAL_MIN if given is None else given
    if not 0 <= margin < math.inf:
        raise InputError(
            f"{margin:g} min cannot be kept in hand", where="--margin", remedy="give 0 or more minutes"
        )
    if margin < USUAL_MIN:
        click.echo(f"note: a margin of {margin:g} min is less than the usual {USUAL_MIN:g}", err=True)
    return margin
