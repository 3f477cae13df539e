"""Laws of endurance, on random networks: nothing worse lasts longer, nothing unknown becomes known."""

import math
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import FAILURES, FlightState
from refuge.aircraft.endurance import Endurance, budget_min, endurance
from refuge.aircraft.network import Bus, CapacityCheck, Duration, Function, Load, Network, Source

TODAY = date(2026, 2, 15)
TOLERANCE_MIN = 1e-6

GIVEN: tuple[tuple[Function, ...], ...] = (
    ("attitude",),
    ("attitude", "airspeed"),
    ("radio",),
    ("pitot_heat",),
    ("panel_light",),
)

days = st.dates(min_value=date(2015, 1, 1), max_value=date(2026, 2, 15))
durations = st.builds(
    Duration,
    minutes=st.integers(0, 120).map(float),
    counts_from=st.sampled_from(("failure", "shed")),
    basis=st.just("b"),
    source=st.just("s"),
    shed_by_min=st.integers(0, 15).map(float),
    unshed_ratio=st.sampled_from((None, 1.0, 1.5, 2.0, 3.0)),
)
checks = st.none() | st.builds(CapacityCheck, percent=st.integers(40, 110).map(float), on=days, source=st.just("s"))


@st.composite
def stored(draw: st.DrawFn, name: str, kind: Any = "battery") -> Source:
    return Source(
        id=name,
        kind=kind,
        duration=draw(durations),
        chemistry=draw(st.sampled_from(("lead-acid", "lithium", "other", None))),
        in_service=draw(st.none() | days),
        check=draw(checks),
        ready=draw(st.booleans()) if kind != "battery" else None,
    )


@st.composite
def networks(draw: st.DrawFn) -> Network:
    """A chain of buses, each with a battery of its own, an own battery, a pump, and loads on some of them."""
    count = draw(st.integers(1, 3))
    sources = [Source(id="alternator", kind="alternator"), Source(id="pump", kind="engine_drive")]
    sources += [draw(stored(f"battery{n}")) for n in range(count)]
    sources += [draw(stored("own", "own_battery"))]
    buses = [
        Bus(id=f"bus{n}", fed_by=("alternator" if n == 0 else f"bus{n - 1}", f"battery{n}")) for n in range(count)
    ]
    feeders = st.lists(
        st.sampled_from([bus.id for bus in buses] + ["pump", "own"]), min_size=1, max_size=3, unique=True
    ).map(lambda names: tuple(sorted(names)))  # one order, so that no two sources wait for each other
    loads = [
        Load(
            id=f"load{n}",
            fed_by=draw(feeders),
            gives=gives,
            own_light=draw(st.booleans()),
            primary_display=n == 0,
            shed=draw(st.integers(0, 5)) == 0,
        )
        for n, gives in enumerate(GIVEN)
    ]
    loads += [
        Load(id="airspeed", fed_by=(), gives=("airspeed",)),
        Load(id="altimeter", fed_by=(), gives=("altitude",)),
    ]
    return Network(
        sources={source.id: source for source in sources},
        buses={bus.id: bus for bus in buses},
        loads={load.id: load for load in loads},
    )


@st.composite
def aircrafts(draw: st.DrawFn) -> Aircraft:
    return Aircraft(
        id="X",
        name="x",
        cruise_tas_kt=110,
        descent_ft_min=500,
        approved_for_icing=False,
        warning_light=draw(st.booleans()),
        alternate_static=draw(st.booleans()),
        engine_electric=False,
        fuel_feed_electric=False,
        network=draw(networks()),
    )


states = st.builds(
    FlightState,
    on=st.just(TODAY),
    failure=st.sampled_from(FAILURES).map(lambda failure: frozenset({failure})),
    oat_c=st.none() | st.integers(-45, 30).map(float),
    soak_c=st.none() | st.integers(-45, 30).map(float),
    icing=st.booleans(),
    night=st.booleans(),
    torch=st.booleans(),
    fuel_min=st.none() | st.integers(0, 300).map(float),
    shed_min=st.none(),
)


def no_better(worse: Endurance, better: Endurance) -> None:
    """Unknown is the worst but for a certain zero: what is worse may become certain that nothing is left."""
    if better.information_min is None:
        assert worse.information_min in {None, 0.0}
    elif worse.information_min is not None:
        assert worse.information_min <= better.information_min + TOLERANCE_MIN


def with_source(flown: Aircraft, source: Source) -> Aircraft:
    return replace(flown, network=replace(flown.network, sources={**flown.network.sources, source.id: source}))


names = st.sampled_from(("battery0", "own"))


@given(aircrafts(), states, names, st.floats(0, 1))
def test_a_shorter_source_never_lengthens(flown: Aircraft, state: FlightState, name: str, share: float) -> None:
    source = flown.network.sources[name]
    assert source.duration is not None
    shorter = replace(source, duration=replace(source.duration, minutes=source.duration.minutes * share))
    no_better(endurance(with_source(flown, shorter), state), endurance(flown, state))


@given(aircrafts(), states, names, st.integers(1, 4000))
def test_an_older_source_never_lengthens(flown: Aircraft, state: FlightState, name: str, more_days: int) -> None:
    source = flown.network.sources[name]
    since = source.in_service
    older = replace(source, in_service=None if since is None else since - timedelta(days=more_days))
    worse, better = endurance(with_source(flown, older), state), endurance(flown, state)
    no_better(worse, better)
    assert worse.dependable <= better.dependable or worse.information_min != better.information_min


@given(aircrafts(), states, st.integers(1, 4000))
def test_a_later_day_never_lengthens(flown: Aircraft, state: FlightState, more_days: int) -> None:
    later = replace(state, on=state.on + timedelta(days=more_days))
    no_better(endurance(flown, later), endurance(flown, state))


@given(aircrafts(), states, st.integers(-45, 30), st.integers(0, 60))
def test_colder_never_lengthens(flown: Aircraft, state: FlightState, warm_c: int, colder_c: int) -> None:
    for key in ("oat_c", "soak_c"):
        warm: dict[str, Any] = {key: float(warm_c)}
        not_given: dict[str, Any] = {key: None}
        cold: dict[str, Any] = {key: float(max(-90, warm_c - colder_c))}
        no_better(endurance(flown, replace(state, **cold)), endurance(flown, replace(state, **warm)))
        no_better(endurance(flown, replace(state, **warm)), endurance(flown, replace(state, **not_given)))


@given(aircrafts(), states, st.integers(0, 40), st.integers(0, 40))
def test_shedding_later_never_lengthens(flown: Aircraft, state: FlightState, late_min: int, later_min: int) -> None:
    first = flown.recognition_min + late_min
    worse = endurance(flown, replace(state, shed_min=first + later_min))
    no_better(worse, endurance(flown, replace(state, shed_min=first)))


@given(aircrafts(), states)
def test_ice_night_and_no_torch_never_lengthen(flown: Aircraft, state: FlightState) -> None:
    no_better(endurance(flown, replace(state, icing=True)), endurance(flown, state))
    no_better(endurance(flown, replace(state, night=True)), endurance(flown, replace(state, night=False)))
    no_better(endurance(flown, replace(state, torch=False)), endurance(flown, replace(state, torch=True)))


@given(aircrafts(), states, st.integers(0, 300), st.integers(0, 300))
def test_less_fuel_never_lengthens(flown: Aircraft, state: FlightState, least_min: int, more_min: int) -> None:
    less = endurance(flown, replace(state, fuel_min=float(least_min)))
    no_better(less, endurance(flown, replace(state, fuel_min=float(least_min + more_min))))


@given(aircrafts(), states, stored("new"), st.booleans(), st.sampled_from(("load0", "load1", "bus0")))
def test_adding_a_source_never_shortens(
    flown: Aircraft, state: FlightState, source: Source, first: bool, consumer: str
) -> None:
    power = flown.network
    # On a bus of its own, fed only by it: two batteries on one bus are another question (D48).
    bus = Bus(id="new-bus", fed_by=("new",))

    def extended(fed_by: tuple[str, ...]) -> tuple[str, ...]:
        return (bus.id, *fed_by) if first else (*fed_by, bus.id)

    buses = {**power.buses, bus.id: bus}
    loads = dict(power.loads)
    if consumer in buses:
        buses[consumer] = replace(buses[consumer], fed_by=extended(buses[consumer].fed_by))
    else:
        loads[consumer] = replace(loads[consumer], fed_by=extended(loads[consumer].fed_by))
    more = Network(sources={**power.sources, "new": source}, buses=buses, loads=loads)
    no_better(endurance(flown, state), endurance(replace(flown, network=more), state))


@given(aircrafts(), states)
def test_the_order_of_tables_does_not_matter(flown: Aircraft, state: FlightState) -> None:
    power = flown.network
    turned = Network(
        sources=dict(reversed(list(power.sources.items()))),
        buses=dict(reversed(list(power.buses.items()))),
        loads=dict(reversed(list(power.loads.items()))),
    )
    assert endurance(replace(flown, network=turned), state) == endurance(flown, state)


@given(aircrafts(), states, names, st.sampled_from(("chemistry", "in_service")))
def test_knowing_less_never_makes_it_better(flown: Aircraft, state: FlightState, name: str, key: str) -> None:
    less: dict[str, Any] = {key: None}
    worse = endurance(with_source(flown, replace(flown.network.sources[name], **less)), state)
    better = endurance(flown, state)
    no_better(worse, better)
    if worse.information_min == better.information_min:
        assert worse.dependable <= better.dependable


@given(aircrafts(), states)
def test_every_answer_holds_together(flown: Aircraft, state: FlightState) -> None:
    found = endurance(flown, state)
    budget = budget_min(found)
    if found.information_min is None:
        assert budget is None
        assert not found.dependable
        assert found.functions[found.limited_by].state in {"unknown", "absent"}
        return
    assert 0 <= found.information_min < math.inf
    assert budget is not None
    assert 0 <= budget <= found.information_min
    assert found.nominal_min is None or found.information_min <= found.nominal_min + TOLERANCE_MIN
    assert found.functions[found.limited_by].end_min == found.information_min
    for phase, following in zip(found.phases, found.phases[1:], strict=False):
        assert phase.to_min == following.from_min
        assert set(following.works) <= set(phase.works)
    assert found.phases[-1].to_min is None
