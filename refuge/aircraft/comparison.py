"""What other failures leave of information, and what a small change would do to it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import FAILURES, Failure, FlightState, failure_text, parse_failure
from refuge.aircraft.endurance import Endurance, endurance
from refuge.aircraft.network import Network
from refuge.aircraft.parts import Figure, Load
from refuge.errors import InputError

FASTER_MIN = 5.0
FIGURES = {"oat": "oat_c", "soak": "soak_c", "fuel": "fuel_min", "shed": "shed_min", "flown": "flown_min"}
FLAGS = ("icing", "night", "torch")


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A small change, and by how many minutes information lasts longer; below 0: shorter."""

    what: str
    minutes: float


def other_failures(aircraft: Aircraft, state: FlightState) -> tuple[tuple[str, Endurance], ...]:
    """Return the endurance after each other failure that means something to this aircraft, one at a time."""
    found: list[tuple[str, Endurance]] = []
    for name in FAILURES:
        failure: frozenset[Failure] = frozenset({name})
        if failure == state.failure:
            continue
        try:
            found.append((failure_text(failure), endurance(aircraft, replace(state, failure=failure))))
        except InputError:  # it has no such part, and so no such failure
            continue
    return tuple(found)


def is_change(text: str) -> bool:
    """Return whether a text such as ``soak=-15,night`` names another state, rather than another aircraft."""
    return "=" in text or all(word in FLAGS for word in text.split(","))


def changed_state(state: FlightState, text: str) -> FlightState:
    """Return `state` with what a text such as ``soak=-15,night,failure=all,not-shed=all`` says.

    Raises
    ------
    InputError
        If a part of it is no state.
    """
    changes: dict[str, Any] = {}
    for part in text.split(","):
        key, _, value = part.strip().partition("=")
        if key in FLAGS and not value:
            changes[key] = True
        elif key == "failure":
            changes[key] = parse_failure(value)
        elif key == "not-shed" and value:
            changes["not_shed"] = frozenset(value.split("+"))
        elif key in FIGURES:
            changes[FIGURES[key]] = _number(part, value)
        else:
            known = ", ".join([*(f"{name}=NUMBER" for name in FIGURES), "failure=NAME", "not-shed=LOAD", *FLAGS])
            raise InputError(f"{part!r} is no state", where="--compare", remedy=f"write {known}, joined by commas")
    return replace(state, **changes)


def _number(part: str, value: str) -> float:
    try:
        return float(value)
    except ValueError as exc:
        raise InputError(f"{part!r} is no number", where="--compare", remedy="write such as soak=-15") from exc


def sensitivity(aircraft: Aircraft, state: FlightState) -> tuple[Change, ...]:
    """Return what a degree colder, an ampere less, and shedding five minutes faster would change.

    Empty where information is not known. A degree colder is left out where no temperature is given, an ampere
    less where no load that stays on says its current.
    """
    now = endurance(aircraft, state).information_min
    if now is None:
        return ()
    return tuple(_changes(aircraft, state, now))


def _changes(aircraft: Aircraft, state: FlightState, now_min: float) -> Iterator[Change]:
    if state.oat_c is not None or state.soak_c is not None:
        colder = replace(
            state,
            oat_c=None if state.oat_c is None else max(-90.0, state.oat_c - 1),
            soak_c=None if state.soak_c is None else max(-90.0, state.soak_c - 1),
        )
        yield Change(what="a degree colder", minutes=_left(aircraft, colder) - now_min)
    lighter = [(_left(each, state) - now_min, name) for name, each in _an_ampere_less(aircraft)]
    if lighter:
        minutes, name = max(lighter)
        yield Change(what=f"an ampere less ({name})", minutes=minutes)
    begins_min = aircraft.recognition_min if state.shed_min is None else state.shed_min
    if begins_min > 0 and state.failure & {"alternator", "all"}:
        faster = replace(state, shed_min=max(0.0, begins_min - FASTER_MIN))
        minutes = _left(aircraft, faster) - now_min
        yield Change(what=f"shed {min(FASTER_MIN, begins_min):g} min faster", minutes=minutes)


def _left(aircraft: Aircraft, state: FlightState) -> float:
    return endurance(aircraft, state).information_min or 0.0


def _an_ampere_less(aircraft: Aircraft) -> Iterator[tuple[str, Aircraft]]:
    """Yield the aircraft with each load that stays on, and draws more than an ampere, drawing one less."""
    network = aircraft.network
    shed = network.shed_loads()
    for load in network.loads.values():
        if load.id not in shed and not load.landing and load.mean_a > 1 and _has_ah(network):
            yield (
                load.id,
                replace(aircraft, network=replace(network, loads={**network.loads, load.id: _less(load)})),
            )


def _less(load: Load) -> Load:
    if load.amps is None:
        raise AssertionError("asked only of a load that draws")
    amps = load.amps.value - 1 / load.duty
    return replace(load, amps=Figure(value=amps, basis=load.amps.basis, source=load.amps.source))


def _has_ah(network: Network) -> bool:
    return any(each.capacity is not None and each.duration is None for each in network.sources.values())
