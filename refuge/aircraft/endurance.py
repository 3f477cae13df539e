"""How long attitude, airspeed and altitude last after a failure: information endurance."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from refuge.aircraft.account import assumptions, doubts, limited_why, of_unknown_end, warnings
from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import Case, FlightState, check, derate_all, failure_text
from refuge.aircraft.circuit import Circuit
from refuge.aircraft.parts import FUNCTIONS, Function
from refuge.aircraft.timeline import (
    INFORMATION,
    FunctionEnd,
    Phase,
    ends_min,
    function_end,
    information_min,
    phases,
)

PLENTY_MIN = 1e6
"""More fuel than any aircraft carries."""
MARGIN_MIN = 15.0
"""Minutes kept in hand: the pattern of 14 CFR 121.633."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Endurance:
    """How long information lasts from the failure, and everything that goes with it.

    ``information_min`` is derated, ``nominal_min`` is not; ``None`` is "not known". ``limited_by``
    is the function that ends first, ``limited_why`` what ends it. Where ``dependable`` is false a source it
    rests on cannot be relied upon, and nothing may be planned on it; ``doubts`` say why. ``more_with_fuel``:
    something that runs with the engine could add to it, and the fuel is not given. ``with_torch`` says how long
    it would be by the light of a torch, where that is longer. ``dry`` is the endurance as if there were no cloud
    in which airspeed ends with pitot heat, where that is longer: to show, never to plan on.
    """

    information_min: float | None
    nominal_min: float | None
    limited_by: Function
    limited_why: str
    recognition_min: float
    dependable: bool
    functions: Mapping[Function, FunctionEnd]
    phases: tuple[Phase, ...]
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]
    more_with_fuel: bool = False
    doubts: tuple[str, ...] = ()
    with_torch: str = ""
    dry: "Endurance | None" = None


def budget_min(endurance: Endurance, margin_min: float = MARGIN_MIN) -> float | None:
    """Return the minutes to plan on: information less recognition and margin, never below 0.

    ``None`` if the endurance is not known. Whether it may be planned on is ``endurance.dependable``.
    """
    if endurance.information_min is None:
        return None
    return max(0.0, endurance.information_min - endurance.recognition_min - margin_min)


def endurance(aircraft: Aircraft, state: FlightState) -> Endurance:
    """Return how long information lasts in `aircraft` after the failure of `state`.

    Simulated event by event from published durations and from capacities with the currents drawn;
    derated once. What is not known makes the answer unknown or not dependable, never longer.

    Raises
    ------
    InputError
        If the failure cannot be worked out for this aircraft, or a figure of `state` cannot be.
    """
    check(aircraft, state)
    found = _endurance(aircraft, state)
    if not (state.icing or state.oat_c is not None) or state.as_if_dry:
        return found
    dry = _endurance(aircraft, replace(state, as_if_dry=True))
    return replace(found, dry=dry) if is_longer(dry, found) else found


def is_longer(one: Endurance, other: Endurance) -> bool:
    """Return whether information lasts longer in one than in the other; not known is never longer."""
    if one.information_min is None:
        return False
    return other.information_min is None or one.information_min > other.information_min


def left_after(endurance: Endurance, gone_min: float) -> tuple[Endurance, tuple[str, ...]]:
    """Return an endurance where the supply failed so many minutes ago, and what to say of it.

    Nobody turns in the past: what has gone by is lost like the minutes until a failure is noticed. Whole minutes,
    rounded up.
    """
    gone_min = float(math.ceil(gone_min))
    if gone_min <= endurance.recognition_min:
        return endurance, ()
    dry = None if endurance.dry is None else replace(endurance.dry, recognition_min=gone_min)
    said = f"the supply failed {gone_min:.0f} min ago: the aircraft turns now, with what is left"
    return replace(endurance, recognition_min=gone_min, dry=dry), (said,)


def _endurance(aircraft: Aircraft, state: FlightState) -> Endurance:
    deratings = derate_all(aircraft, state)
    case = Case(aircraft=aircraft, state=state, circuit=Circuit(aircraft.network))
    factors = {name: derating.factor for name, derating in deratings.items()}
    run = case.run(factors)
    around = case.around(dry=False)
    ends = ends_min(run, around)
    dry = ends_min(run, case.around(dry=True)) if case.iced else ends
    information = information_min(ends)
    relied = {name: 0.0 if deratings[name].doubts else factor for name, factor in factors.items()}
    dependable = information is not None and (relied == factors or case.information_left_min(relied) == information)
    function = _first_to_end(ends, case.engine_min)
    with_torch = _with_torch(case, factors, dry=False)
    torch_said = _torch_said(case, factors, with_torch)
    return Endurance(
        information_min=information,
        nominal_min=information
        if set(factors.values()) <= {1.0}
        else case.information_left_min(dict.fromkeys(factors, 1.0)),
        limited_by=function,
        limited_why=limited_why(case, run, ends, function, dry=dry),
        recognition_min=aircraft.recognition_min,
        dependable=dependable,
        functions={name: function_end(ends, name) for name in FUNCTIONS},
        phases=phases(
            run,
            ends,
            failure=failure_text(state.failure),
            recognition_min=aircraft.recognition_min,
            shed=case.shed_steps,
        ),
        assumptions=tuple(assumptions(case, run, deratings, information)),
        more_with_fuel=bool(of_unknown_end(case, run)) and _more_with_fuel(case, factors, information),
        doubts=() if dependable else tuple(doubts(run, deratings)),
        with_torch=with_torch,
        warnings=tuple(warnings(case, run, deratings, ends, dry=dry, dependable=dependable, torch_said=torch_said)),
    )


def _more_with_fuel(case: Case, factors: Mapping[str, float], information: float | None) -> bool:
    """Return whether information of known length would last longer with all the fuel one could want."""
    if information is None:
        return False
    fuelled = replace(case, state=replace(case.state, fuel_min=PLENTY_MIN))
    return (fuelled.information_left_min(factors) or 0.0) > information


def _with_torch(case: Case, factors: Mapping[str, float], *, dry: bool) -> str:
    """Return how long information would last by the light of a torch: empty where no longer, or nobody knows."""
    lit = replace(case, state=replace(case.state, torch=True))
    without, by_torch = (each.information_left_min(factors, dry=dry) for each in (case, lit))
    if not case.dark or without is None or by_torch is None or by_torch <= without:
        return ""
    return f"{math.floor(by_torch)} min"


def _torch_said(case: Case, factors: Mapping[str, float], with_torch: str) -> str:
    """Return what a pilot without a torch by night must know; as if dry where pitot heat hides its worth."""
    if with_torch:
        return f"by night and without a torch; with one (--torch) it would last {with_torch}"
    as_if_dry = _with_torch(case, factors, dry=True) if case.iced else ""
    if not as_if_dry:
        return ""
    return f"by night and without a torch; one changes nothing in this cloud, and as if dry makes it {as_if_dry}"


def _first_to_end(ends: Mapping[Function, float | None], engine_min: float | None) -> Function:
    """Return what limits information: the engine or its fuel feed where they stop, else the first to end.

    Where it is not known, the first whose end is not known.
    """
    information = information_min(ends)
    stops: tuple[Function, ...] = ("engine", "fuel_feed") if information != engine_min else ()
    return next(function for function in (*stops, *INFORMATION) if ends[function] == information)
