"""What an aircraft's file shows or lacks before its numbers can be relied upon."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from refuge.aircraft.airframe import FUEL_RESERVE_MIN, Aircraft
from refuge.aircraft.case import Case, FlightState
from refuge.aircraft.charge import PEUKERT
from refuge.aircraft.circuit import Circuit
from refuge.aircraft.derating import RELIABLE_PERCENT, derate
from refuge.aircraft.parts import STORED, Source, SourceKind

ALTERNATOR_SHARE = 0.80
"""Continuous load by alternator output, at most: AC 43.13-1B 11-35, a rule of thumb."""
CERTIFIED_MIN = 30.0
"""Essential loads on the battery after the loss of generation: 14 CFR 23.1353(h) (amdt 23-62), to 25,000 ft."""

USUAL_TAS_KT, USUAL_DESCENT_FT_MIN, USUAL_CAPACITY_AH = 300.0, 1500.0, 60.0
"""More than these is unusual for a single-engine aircraft (common practice, no source)."""
USUAL_MIN: Mapping[SourceKind, float] = {"battery": 120.0, "own_battery": 120.0, "portable": 240.0}
"""What a published duration usually is at most (common practice, no source); portable gear hardly draws."""
USUAL_LANDING_MIN = 5.0
"""A landing load is carried at least so long: 5 to 10 min (reference.md 4.2, from memory)."""

Mark = Literal["holds", "fails", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One rule: whether it holds, why, and what to do where it does not."""

    rule: str
    mark: Mark
    why: str


def findings(aircraft: Aircraft, on: date) -> tuple[Finding, ...]:
    """Return what `aircraft` shows on the day `on`, rules first, then what is missing."""
    return (
        *_alternators(aircraft),
        _certified(aircraft, on),
        *_batteries(aircraft, on),
        *_missing(aircraft),
        *_unusual(aircraft),
    )


def _unusual(aircraft: Aircraft) -> Iterator[Finding]:
    """Yield what looks like a slip of the pen, or like a template that was not filled in."""
    reserve_min, landing_min = aircraft.fuel_reserve_min, aircraft.landing_min
    if reserve_min < FUEL_RESERVE_MIN:
        rule = f"fuel_reserve_min: at least {FUEL_RESERVE_MIN:g} min at cruise, by day and by night (14 CFR 91.167)"
        yield Finding(rule=rule, mark="fails", why=f"{reserve_min:g} min are kept: every refuge seems nearer")
    if landing_min < USUAL_LANDING_MIN:
        why = f"{landing_min:g} is less than usual ({USUAL_LANDING_MIN:g}): look at it once more"
        yield Finding(rule="landing_min: plausible", mark="fails", why=why)
    for name, value, most in _large(aircraft):
        if value > most:
            why = f"{value:g} is more than usual ({most:g}): look at it once more, the figure and its unit"
            yield Finding(rule=f"{name}: plausible", mark="fails", why=why)
    if aircraft.unfilled:
        yield Finding(rule="sources: filled in", mark="unknown", why=aircraft.unfilled)


def _large(aircraft: Aircraft) -> Iterator[tuple[str, float, float]]:
    """Yield figures that make answers better the larger they are, each with what it usually is at most."""
    yield "cruise_tas_kt", aircraft.cruise_tas_kt, USUAL_TAS_KT
    yield "descent_ft_min", aircraft.descent_ft_min, USUAL_DESCENT_FT_MIN
    for _, source in sorted(aircraft.network.sources.items()):
        if source.duration is not None and source.kind in USUAL_MIN:
            yield f"{source.id}: minutes", source.duration.minutes, USUAL_MIN[source.kind]
        if source.capacity is not None:
            yield f"{source.id}: capacity", source.capacity.ah, USUAL_CAPACITY_AH


def _alternators(aircraft: Aircraft) -> Iterator[Finding]:
    rule = "alternator: continuous load at most 80 % of its output (AC 43.13-1B 11-35, a rule of thumb)"
    network = aircraft.network
    alternators = [each for _, each in sorted(network.sources.items()) if each.kind == "alternator"]
    electric = [load for _, load in sorted(network.loads.items()) if load.fed_by and not load.landing]
    electric = [load for load in electric if not _all_driven(aircraft, load.fed_by)]
    bare = [load.id for load in electric if load.amps is None]
    total_a = sum(load.mean_a for load in electric)
    for source in alternators:
        if source.rated_a is None:
            yield Finding(rule=rule, mark="unknown", why=f"{source.id} does not say its `rated_a`")
            continue
        share = total_a / source.rated_a.value
        text = f"{total_a:g} A of {source.rated_a.value:g} A: {share * 100:.1f} %"
        if share > ALTERNATOR_SHARE:
            yield Finding(rule=rule, mark="fails", why=text)
        elif bare:
            yield Finding(rule=rule, mark="unknown", why=f"{text}, without {', '.join(bare)}, which say no `amps`")
        else:
            yield Finding(rule=rule, mark="holds", why=text)


def _all_driven(aircraft: Aircraft, fed_by: tuple[str, ...]) -> bool:
    """Return whether nothing but pumps or equipment of its own feeds a load."""
    kinds = {aircraft.network.sources[name].kind for name in fed_by if name in aircraft.network.sources}
    buses = any(name in aircraft.network.buses for name in fed_by)
    return not buses and "alternator" not in kinds and "battery" not in kinds


def _certified(aircraft: Aircraft, on: date) -> Finding:
    """Return whether the aircraft's batteries, as new, carry the essential loads for the time of the rule."""
    rule = (
        f"battery: essential loads for {CERTIFIED_MIN:g} min after the loss of generation, recognition and shedding"
        " included (14 CFR 23.1353(h), to 25,000 ft; 60 min above)"
    )
    batteries = {each.id for each in aircraft.network.sources.values() if each.kind == "battery"}
    if not batteries:
        return Finding(rule=rule, mark="unknown", why="there is no source of kind battery")
    case = Case(aircraft=aircraft, state=FlightState(on=on), circuit=Circuit(aircraft.network))
    run = case.run({each.id: 1.0 for each in aircraft.network.sources.values() if each.kind in STORED})
    used = [run.end_min(name) or 0.0 for name in sorted(batteries) if run.start_min(name) is not None]
    if not used:
        return Finding(rule=rule, mark="unknown", why="no battery is used")
    last = max(used)
    text = f"the last battery ends {last:.0f} min after the failure, before derating"
    return Finding(rule=rule, mark="holds" if last >= CERTIFIED_MIN else "fails", why=text)


def _batteries(aircraft: Aircraft, on: date) -> Iterator[Finding]:
    for _, source in sorted(aircraft.network.sources.items()):
        if source.kind in STORED:
            doubts = derate(source, on=on, temperature_c=None).doubts
            rule = f"{source.id}: age known, and no capacity check below {RELIABLE_PERCENT:g} %"
            if doubts:
                yield Finding(rule=rule, mark="fails", why="; ".join(doubts))
            else:
                yield Finding(rule=rule, mark="holds", why=f"in service since {source.in_service}")


def _missing(aircraft: Aircraft) -> Iterator[Finding]:
    """Yield what is not in the file, and what the answer takes instead."""
    for _, source in sorted(aircraft.network.sources.items()):
        if source.kind in STORED:
            for text in _missing_of(source):
                yield Finding(rule=f"{source.id}: complete", mark="unknown", why=text)
    if not any(each.shed for each in aircraft.network.loads.values()) and not aircraft.network.sheds:
        yield Finding(rule="shed list: complete", mark="unknown", why="no load is shed: is there no checklist?")


def _missing_of(source: Source) -> Iterator[str]:
    if source.chemistry is None:
        yield "its `chemistry` is not stated: in the cold it cannot be relied upon"
    if source.duration is None and source.capacity is not None:
        if source.capacity.peukert is None:
            yield f"no `peukert`: {PEUKERT[source.chemistry]:g} is taken, the worst of its kind"
        if source.check is None:
            yield "no `check`: 80 % of nameplate is taken (CAP 562)"
        if source.charge is None:
            yield "no `charge`: 90 % is taken (from memory)"
    duration = source.duration
    if duration is not None and duration.counts_from == "shed" and duration.unshed_ratio is None:
        yield "no `unshed_ratio`: unshed it is taken to last half as long, each minute of late shedding costs 2"
