"""Laws of the power network, on random networks in amps and Ah: nothing worse lasts longer."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import Case, FlightState, derate_all
from refuge.aircraft.charge import Cell
from refuge.aircraft.circuit import Circuit
from refuge.aircraft.endurance import Endurance, endurance
from refuge.aircraft.network import Network
from refuge.aircraft.parts import Bus, Capacity, Duration, Figure, Function, Load, Shed, Source, TakeOver

TODAY = date(2026, 2, 15)
TOLERANCE_MIN = 1e-6


def figure(value: float) -> Figure:
    return Figure(value=value, basis="b", source="s")


capacities = st.builds(
    Capacity,
    ah=st.floats(1, 40),
    rate_h=st.sampled_from((0.5, 1.0, 5.0)),
    peukert=st.sampled_from((None, 1.0, 1.15, 1.3)),
    basis=st.just("b"),
    source=st.just("s"),
)
durations = st.builds(
    Duration,
    minutes=st.floats(0, 90),
    counts_from=st.sampled_from(("failure", "shed")),
    shed_by_min=st.integers(0, 15).map(float),
    unshed_ratio=st.sampled_from((None, 1.0, 3.0)),
    basis=st.just("b"),
    source=st.just("s"),
)


@st.composite
def stored(draw: st.DrawFn, name: str, *, in_ah: bool = True, kind: Any = "battery") -> Source:
    return Source(
        id=name,
        kind=kind,
        capacity=draw(capacities) if in_ah else None,
        duration=None if in_ah else draw(durations),
        chemistry=draw(st.sampled_from(("lead-acid", "lithium", None))),
        in_service=TODAY - timedelta(days=draw(st.integers(0, 3000))),
        charge=draw(st.none() | st.floats(10, 100).map(figure)),
        ready=None if kind == "battery" else True,
    )


GIVEN: tuple[tuple[Function, ...], ...] = (("attitude",), ("attitude",), ("radio",), ("pitot_heat",), ("gear",), ())
few = settings(max_examples=50)
"""A network takes long to draw."""


@st.composite
def networks(draw: st.DrawFn, *, in_ah: bool | None = None) -> Network:
    """A chain of two buses with a tied, an isolated or a by-hand battery somewhere, an own battery, and loads."""
    mixed = st.booleans() if in_ah is None else st.just(in_ah)
    sources = [
        Source(id="alternator", kind="alternator"),
        draw(stored("main")),
        draw(stored("second", in_ah=draw(mixed))),
        draw(stored("own", in_ah=draw(mixed), kind="own_battery")),
    ]
    how: TakeOver | None = draw(st.sampled_from((None, "tied", "isolated", "by hand")))
    fed_by: tuple[str, ...] = ("alternator", "main")
    takes_over: Mapping[str, TakeOver] = {}
    if how is not None:
        sources.append(draw(stored("third")))
        fed_by, takes_over = (*fed_by, "third"), {"third": how}
    buses = [Bus(id="a", fed_by=fed_by, takes_over=takes_over), Bus(id="b", fed_by=("a", "second"))]
    chains = st.sampled_from((("a",), ("b",), ("a", "own"), ("b", "own"), ("own",), ("own", "a"), ("a", "b")))
    loads = [
        Load(
            id=f"load{number}",
            fed_by=draw(chains),
            gives=gives,
            amps=figure(draw(st.floats(0.1, 30))),
            duty=draw(st.sampled_from((1.0, 0.5))),
            landing=not gives or gives == ("gear",),
        )
        for number, gives in enumerate(GIVEN)
    ]
    loads.append(Load(id="pressure", fed_by=(), gives=("airspeed", "altitude")))
    sheds = (
        Shed(loads=("load2",), by="automatic", after_min=draw(st.sampled_from((0.0, 3.0))), source="s"),
        Shed(loads=("load3",), by="pilot", after_min=draw(st.sampled_from((0.0, 4.0))), source="s"),
    )
    return Network(
        sources={source.id: source for source in sources},
        buses={bus.id: bus for bus in buses},
        loads={load.id: load for load in loads},
        sheds=sheds,
    )


def aircraft(network: Network) -> Aircraft:
    return Aircraft(
        id="X",
        name="x",
        cruise_tas_kt=110,
        descent_ft_min=500,
        approved_for_icing=False,
        warning_light=True,
        alternate_static=True,
        engine_electric=False,
        fuel_feed_electric=False,
        network=network,
    )


states = st.builds(
    FlightState,
    on=st.just(TODAY),
    failure=st.sampled_from((frozenset({"alternator"}), frozenset({"all"}))),
    soak_c=st.none() | st.floats(-30, 30),
    icing=st.booleans(),
    shed_min=st.none() | st.floats(0, 30),
    not_shed=st.sampled_from((frozenset(), frozenset({"load2"}), frozenset({"all"}))),
)


def last(found: Endurance) -> float:
    assert found.information_min is not None  # nothing here runs with the engine but what is dead
    return found.information_min


def no_longer(worse: Network, better: Network, state: FlightState) -> None:
    assert last(endurance(aircraft(worse), state)) <= last(endurance(aircraft(better), state)) + TOLERANCE_MIN


@few
@given(networks(), states, st.floats(0.1, 40), st.sampled_from(("a", "b", "own")), st.booleans())
def test_more_load_that_gives_nothing_never_lengthens(
    network: Network, state: FlightState, amps: float, where: str, landing: bool
) -> None:
    heavier = Load(id="heavier", fed_by=(where,), gives=(), amps=figure(amps), landing=landing)
    no_longer(replace(network, loads={**network.loads, "heavier": heavier}), network, state)


@few
@given(networks(), states, st.sampled_from(("main", "second", "own")), st.floats(0, 1))
def test_less_in_a_battery_never_lengthens(network: Network, state: FlightState, name: str, share: float) -> None:
    source = network.sources[name]
    percent = 90.0 if source.charge is None else source.charge.value
    less = replace(source, charge=figure(percent * share))
    same = replace(source, charge=figure(percent))
    worse = replace(network, sources={**network.sources, name: less})
    no_longer(worse, replace(network, sources={**network.sources, name: same}), state)


@few
@given(networks(), states, st.integers(1, 4000))
def test_older_never_lengthens(network: Network, state: FlightState, more_days: int) -> None:
    def older(source: Source) -> Source:
        since = source.in_service
        return replace(source, in_service=None if since is None else since - timedelta(days=more_days))

    no_longer(
        replace(network, sources={name: older(each) for name, each in network.sources.items()}), network, state
    )


@few
@given(networks(), states, st.floats(-30, 30), st.floats(0, 50))
def test_colder_never_lengthens(network: Network, state: FlightState, warm_c: float, colder_c: float) -> None:
    flown = aircraft(network)
    cold = endurance(flown, replace(state, soak_c=max(-90.0, warm_c - colder_c)))
    assert last(cold) <= last(endurance(flown, replace(state, soak_c=warm_c))) + TOLERANCE_MIN


@few
@given(networks(), states, st.floats(0, 40), st.floats(0, 40))
def test_slower_shedding_never_lengthens(network: Network, state: FlightState, first: float, later: float) -> None:
    flown = aircraft(network)
    slow = endurance(flown, replace(state, shed_min=5 + first + later))
    assert last(slow) <= last(endurance(flown, replace(state, shed_min=5 + first))) + TOLERANCE_MIN
    undone = endurance(flown, replace(state, not_shed=frozenset({"all"})))
    assert last(undone) <= last(endurance(flown, replace(state, not_shed=frozenset()))) + TOLERANCE_MIN


@few
@given(networks(), states, stored("new"), st.sampled_from(("isolated", "by hand", "tied")), st.sampled_from("ab"))
def test_adding_a_source_never_shortens(
    network: Network, state: FlightState, source: Source, how: TakeOver, where: str
) -> None:
    bus = network.buses[where]
    before = network.sources.get(bus.fed_by[-1])
    if how == "tied" and (before is None or before.capacity is None):
        how = "isolated"
    longer = replace(bus, fed_by=(*bus.fed_by, "new"), takes_over={**bus.takes_over, "new": how})
    more = replace(network, sources={**network.sources, "new": source}, buses={**network.buses, where: longer})
    no_longer(network, more, state)


@few
@given(networks(), states, stored("new"), st.sampled_from(("load0", "load1", "load2", "load3")), st.booleans())
def test_a_source_before_or_after_never_shortens(
    network: Network, state: FlightState, source: Source, name: str, first: bool
) -> None:
    load = network.loads[name]
    fed_by = ("new", *load.fed_by) if first else (*load.fed_by, "new")
    more = replace(
        network,
        sources={**network.sources, "new": source},
        loads={**network.loads, name: replace(load, fed_by=fed_by)},
    )
    no_longer(network, more, state)


@few
@given(networks(), states)
def test_the_order_of_tables_does_not_matter(network: Network, state: FlightState) -> None:
    turned = Network(
        sources=dict(reversed(list(network.sources.items()))),
        buses=dict(reversed(list(network.buses.items()))),
        loads=dict(reversed(list(network.loads.items()))),
        sheds=network.sheds,
    )
    one, other = endurance(aircraft(turned), state), endurance(aircraft(network), state)
    assert abs(last(one) - last(other)) <= TOLERANCE_MIN
    assert one.limited_by == other.limited_by


@few
@given(networks(in_ah=True), states)
def test_no_battery_gives_more_than_it_had(network: Network, state: FlightState) -> None:
    """Nameplate, derated, bounds amps times minutes: read off what each load draws while it has supply."""
    case = Case(aircraft=aircraft(network), state=state, circuit=Circuit(network))
    factors = {name: each.factor for name, each in derate_all(case.aircraft, state).items()}
    run = case.run(factors)
    drawn = 0.0
    for load in network.loads.values():
        for start, end in run.spans(load.id) if load.fed_by and not load.landing else ():
            until = min(end, case.off_min.get(load.id, end))
            drawn += load.mean_a * max(0.0, until - start) if until < 1e9 else 0.0
    had = sum(
        factors[source.id] * Cell(source.capacity, source.chemistry).full_amp_min
        for source in network.sources.values()
        if source.capacity is not None and source.id not in case.dead
    )
    assert drawn <= had * (1 + 1e-9) + 1e-6
