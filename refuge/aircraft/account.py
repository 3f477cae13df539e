"""What an endurance rests on, in words: assumptions, warnings, and what ends it."""

import math
from collections.abc import Iterator, Mapping

from refuge.aircraft.airframe import FUEL_RESERVE_MIN
from refuge.aircraft.case import PITOT_HEAT_C, Case, box_c, temperature_c
from refuge.aircraft.charge import UNSHED_RATIO, Cell
from refuge.aircraft.derating import Derating
from refuge.aircraft.faults import upstream
from refuge.aircraft.parts import STORED, Capacity, Duration, Function, Source
from refuge.aircraft.power import Run
from refuge.aircraft.timeline import INFORMATION, information_min
from refuge.units import celsius

HORIZON_MIN = 120.0
"""Planning looks no further: method.md 2."""

Ends = Mapping[Function, float | None]


def limited_why(case: Case, run: Run, ends: Ends, function: Function, *, dry: Ends) -> str:
    """Return what ends `function`, in words; `dry` are the ends as if there were no ice."""
    end = ends[function]
    if end is None:
        return f"how long {function} lasts is not known: it runs with the engine and the fuel is not given"
    if end == case.engine_min:
        return "fuel down to the reserve"
    if case.iced and end != dry.get(function):
        return "pitot heat lost in cloud at freezing or nearly so"
    credit_min = case.credit_min
    if any(credit_min.get(load.id) == end for load in run.givers[function]):
        return "switched off when the load is shed"
    emptied = sorted(name for name in _upstream(run, function) - case.dead if run.end_min(name) == end)
    if emptied:
        return f"{' and '.join(emptied)} {'at its end' if end else 'counts for nothing'}"
    if case.dark:
        return "panel light lost at night without a torch"
    return "the failure takes it at once"


def assumptions(
    case: Case, run: Run, deratings: Mapping[str, Derating], information: float | None
) -> Iterator[str]:
    """Yield what the numbers take for granted."""
    aircraft, state = case.aircraft, case.state
    light = "with" if aircraft.warning_light else "without"
    yield f"recognition {aircraft.recognition_min:g} min ({light} a warning light)"
    if case.sheds:
        yield from _shed_texts(case)
    for source in _stored_in_use(run):
        yield _source_text(source, deratings[source.id])
    yield from _landing_texts(case, run)
    yield from _take_over_texts(case, run)
    if state.fuel_min is None:
        yield "fuel not given: it is taken to outlast the batteries, and nothing engine-driven is counted"
    else:
        yield (
            f"fuel {state.fuel_min:g} min less {aircraft.fuel_reserve_min:g} min of reserve"
            + (" (14 CFR 91.167)" if aircraft.fuel_reserve_min == FUEL_RESERVE_MIN else "")
        )
    cold_c = temperature_c(state)
    if cold_c is not None:
        yield f"batteries at {celsius(cold_c)} C, the colder of what is given; no warming in flight is counted"
    for source in _stored_in_use(run):
        warmed_c, warming = box_c(source, state), source.warming
        if warming is not None and warmed_c is not None and warmed_c != cold_c:
            yield (
                f"{source.id} at {warmed_c:.0f} C after {state.flown_min:g} min in flight: it warms"
                f" {warming.c_per_h:g} C an hour, up to {warming.up_to_c:g} C ({warming.basis}; {warming.source})"
            )
    if state.torch:
        yield "the torch outlasts the instruments"
    if state.as_if_dry:
        yield "as if dry: airspeed is taken to outlast pitot heat"
    if information is not None and information > HORIZON_MIN:
        yield f"planning looks no further than {HORIZON_MIN:g} min"


def warnings(
    case: Case,
    run: Run,
    deratings: Mapping[str, Derating],
    ends: Ends,
    *,
    dry: Ends,
    dependable: bool,
    torch_said: str,
) -> Iterator[str]:
    """Yield what a pilot must know before relying on the numbers."""
    if not dependable:
        yield "NOT DEPENDABLE: nothing may be planned on this endurance"
    if case.aircraft.unfilled_said:
        yield case.aircraft.unfilled_said
    yield from doubts(run, deratings)
    if torch_said:
        yield torch_said
    for source in _stored_in_use(run):
        if source.ready is False:
            yield f"{source.id} is not armed or not charged: nothing is counted for it"
        elif source.kind in {"own_battery", "portable"}:
            yield f"{source.id} is taken as armed and charged: look before flight"
    yield from _engine_warnings(case, run, ends)
    yield from _single_sources(run)
    if temperature_c(case.state) is None:
        yield "no temperature given: nothing is taken off for cold (--oat, --soak)"
    if case.iced:
        yield from _ice_warnings(ends, dry)
    elif case.state.oat_c is None:
        yield f"taken as dry or warmer than {PITOT_HEAT_C:g} C: pitot heat is not asked for (--oat, --icing)"
    if case.state.night and not case.state.torch and ends.get("panel_light", 0.0) == 0:
        yield "night without panel light and torch: only instruments with their own light can be read"


def doubts(run: Run, deratings: Mapping[str, Derating]) -> Iterator[str]:
    """Yield which sources in use cannot be relied upon, and why."""
    for source in _stored_in_use(run):
        for doubt in deratings[source.id].doubts:
            yield f"{source.id} cannot be relied upon: {doubt}"


def of_unknown_end(case: Case, run: Run) -> list[str]:
    """Return what information could rest on that runs with the engine, where the fuel is not given."""
    if case.engine_min is not None:
        return []
    return sorted(
        {
            name
            for function in INFORMATION
            for name in _upstream(run, function)
            if run.network.sources[name].kind not in STORED and run.end_min(name) is None
        }
    )


def _engine_warnings(case: Case, run: Run, ends: Ends) -> Iterator[str]:
    driven = of_unknown_end(case, run)
    if driven:
        more = "" if information_min(ends) is None else "; the endurance is the least without it"
        yield f"{' and '.join(driven)} runs with the engine, and the fuel is not given (--fuel-min){more}"


def _single_sources(run: Run) -> Iterator[str]:
    for function in INFORMATION:
        givers = run.givers[function]
        alive = {name for name in _upstream(run, function) if run.end_min(name) != 0}
        if givers and all(load.fed_by for load in givers) and len(alive) == 1:
            yield f"{function} hangs on a single source: {alive.pop()}; its own failure is another case"


def _ice_warnings(ends: Ends, dry: Ends) -> Iterator[str]:
    last = information_min(dry)
    if last != information_min(ends):
        text = "nobody knows when" if last is None else f"after {math.floor(last)} min"
        yield f"airspeed ends with pitot heat in this cloud; as if dry, information would end {text}"


def _shed_texts(case: Case) -> Iterator[str]:
    done = {name: minute for name, minute in case.off_min.items() if minute < math.inf}
    missed = sorted(name for name, minute in case.off_min.items() if minute == math.inf)
    if case.aircraft.network.sheds:
        for minute in sorted(set(done.values())):
            names = ", ".join(sorted(name for name in done if done[name] == minute))
            yield f"load shed {minute:g} min after the failure: {names}"
    elif "all" not in case.state.not_shed:
        yield f"load shed {case.begins_min:g} min after the failure"
    if case.state.not_shed:
        yield f"NOT shed: {', '.join(missed) or 'anything'}"


def _landing_texts(case: Case, run: Run) -> Iterator[str]:
    loads = [load for _, load in sorted(run.network.loads.items()) if load.landing]
    if loads:
        amps = sum(load.mean_a for load in loads)
        names = ", ".join(load.id for load in loads)
        last = f"the last {case.aircraft.landing_min:g} min of a battery in Ah"
        yield f"landing load of {amps:g} A kept for {last}: {names}"


def _take_over_texts(case: Case, run: Run) -> Iterator[str]:
    for _, bus in sorted(run.network.buses.items()):
        for name, how in sorted(bus.takes_over.items()):
            if how == "by hand":
                yield f"{name} is switched to {bus.id} by hand: not before {case.aircraft.recognition_min:g} min"
            elif how == "tied":
                yield f"{name} is tied to {bus.id} and shares its load"


def _stored_in_use(run: Run) -> list[Source]:
    return [
        source
        for _, source in sorted(run.network.sources.items())
        if source.kind in STORED and run.start_min(source.id) is not None
    ]


def _source_text(source: Source, derating: Derating) -> str:
    if source.duration is not None:
        duration = source.duration
        text = f"{source.id}: {duration.minutes:g} min {_counted(duration)} ({duration.basis}; {duration.source})"
    elif source.capacity is not None:
        text = f"{source.id}: {_rated(source, source.capacity)}"
    else:
        raise AssertionError(f"{source.id} holds nothing")
    return ", ".join([text, *derating.notes])


def _rated(source: Source, capacity: Capacity) -> str:
    exponent = Cell(capacity, source.chemistry).exponent
    taken = ", taken" if capacity.peukert is None else ""
    one_hour = ", of which 85 % at the 1-hour rate (CAP 562)" if capacity.rate_h == 5 else ""
    return (
        f"{capacity.ah:g} Ah at the {capacity.rate_h:g}-hour rate{one_hour}, exponent {exponent:g}{taken}"
        f" ({capacity.basis}; {capacity.source})"
    )


def _counted(duration: Duration) -> str:
    if duration.counts_from == "failure":
        return "from the failure of its feed"
    ratio = UNSHED_RATIO if duration.unshed_ratio is None else duration.unshed_ratio
    taken = " taken" if duration.unshed_ratio is None else ""
    return f"from shed, if shed by {duration.shed_by_min:g} min; unshed load {ratio:g} times the shed one{taken}"


def _upstream(run: Run, function: Function) -> set[str]:
    """Return every source that can feed something that gives `function`."""
    network = run.network
    fed_by = tuple(name for load in run.givers[function] for name in load.fed_by)
    return {name for name in upstream(network.sources, network.buses, fed_by) if name in network.sources}
