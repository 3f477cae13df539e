"""The simulation against an independent reckoning in small steps, on a thousand random networks."""

import importlib.util
import random
import sys
from collections import Counter
from datetime import date, timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import Failure, FlightState
from refuge.aircraft.endurance import endurance
from refuge.aircraft.network import Network
from refuge.aircraft.parts import (
    Bus,
    Capacity,
    CapacityCheck,
    Duration,
    Figure,
    Function,
    Load,
    Shed,
    Source,
    TakeOver,
    Warming,
)

TODAY = date(2026, 2, 15)
NETWORKS = 1000
EACH_FEATURE = 100
AGREES_MIN = 0.1


def figure(value: float) -> Figure:
    return Figure(value=value, basis="b", source="s")


class Maker:
    """Random aircraft and states, and which features each has."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)  # noqa: S311 - the same networks each time
        self.has: set[str] = set()

    def chance(self, share: float, feature: str) -> bool:
        yes = self.draw.random() < share
        if yes:
            self.has.add(feature)
        return yes

    def stored(self, name: str, kind: Any, *, in_ah: bool) -> Source:
        draw = self.draw
        given: dict[str, Any] = {}
        if in_ah:
            rate_h = 5 if self.chance(0.3, "5-hour rate") else 1
            peukert = None if self.chance(0.4, "exponent taken") else draw.choice([1.05, 1.15, 1.3])
            given["capacity"] = Capacity(
                ah=draw.uniform(4, 40), rate_h=rate_h, peukert=peukert, basis="b", source="s"
            )
        else:
            from_shed = self.chance(0.5, "minutes from shed")
            ratio = draw.choice([None, 1.5, 3.0])
            given["duration"] = Duration(
                minutes=draw.uniform(5, 60),
                counts_from="shed" if from_shed else "failure",
                shed_by_min=draw.uniform(2, 12) if from_shed or draw.random() < 0.5 else None,
                unshed_ratio=ratio,
                basis="b",
                source="s",
            )
        if self.chance(0.4, "check"):
            day = TODAY - timedelta(days=draw.randint(0, 800))
            given["check"] = CapacityCheck(percent=draw.uniform(60, 105), on=day, source="s")
        if self.chance(0.4, "charge stated"):
            given["charge"] = figure(draw.uniform(50, 100))
        if self.chance(0.3, "warming"):
            given["warming"] = Warming(
                c_per_h=draw.uniform(0, 20), up_to_c=draw.uniform(-5, 25), basis="b", source="s"
            )
        if kind != "battery":
            given["ready"] = not self.chance(0.1, "not ready")
        return Source(
            id=name,
            kind=kind,
            chemistry=draw.choice(["lead-acid", "lithium", "other", None]),
            in_service=None if self.chance(0.1, "age unknown") else TODAY - timedelta(days=draw.randint(0, 3000)),
            **given,
        )

    def network(self) -> Network:
        draw = self.draw
        in_ah = self.chance(0.65, "in Ah")
        count = draw.randint(1, 3)
        sources = [Source(id="alternator", kind="alternator"), Source(id="pump", kind="engine_drive")]
        sources += [self.stored(f"battery{n}", "battery", in_ah=in_ah) for n in range(count)]
        sources += [self.stored("own", "own_battery", in_ah=self.chance(0.3, "own battery in Ah"))]
        sources += [self.stored("carried", "portable", in_ah=False)]
        buses = [
            Bus(id=f"bus{n}", fed_by=("alternator" if n == 0 else f"bus{n - 1}", f"battery{n}"))
            for n in range(count)
        ]
        for number, kind in enumerate(("tied", "by hand", "isolated")):
            if (kind != "tied" or in_ah) and self.chance(0.3, kind):
                added = self.stored(f"more{number}", "battery", in_ah=in_ah)
                place = draw.randrange(count)
                how: TakeOver = "tied" if kind == "tied" else "by hand" if kind == "by hand" else "isolated"
                fed_by = (*buses[place].fed_by, added.id)
                takes_over = {**buses[place].takes_over, added.id: how}
                buses[place] = Bus(id=buses[place].id, fed_by=fed_by, takes_over=takes_over)
                sources.append(added)
        loads, sheds = self.loads([bus.id for bus in buses])
        return Network(
            sources={source.id: source for source in sources},
            buses={bus.id: bus for bus in buses},
            loads={load.id: load for load in loads},
            sheds=sheds,
        )

    def loads(self, buses: list[str]) -> tuple[list[Load], tuple[Shed, ...]]:
        draw = self.draw
        loads: list[Load] = []

        def add(
            name: str, *gives: Function, pool: list[str], low: float = 0.5, high: float = 12, **more: Any
        ) -> None:
            fed_by = tuple(draw.sample(pool, draw.randint(1, min(2, len(pool)))))
            if draw.random() < 0.5:
                fed_by = (*[each for each in fed_by if each != "own"], "own") if "own" in pool else fed_by
            duty = draw.uniform(0.1, 0.9) if self.chance(0.15, "duty") else 1.0
            loads.append(
                Load(id=name, fed_by=fed_by, gives=gives, amps=figure(draw.uniform(low, high)), duty=duty, **more)
            )

        wide = [*buses, "own", "pump"]
        add("display", "attitude", "airspeed", pool=wide, primary_display=True, own_light=draw.random() < 0.5)
        add("standby", "attitude", pool=wide, own_light=draw.random() < 0.5)
        add("heat", "pitot_heat", pool=buses)
        add("light", "panel_light", pool=buses)
        add("radio", "radio", pool=[*buses, "carried"])
        add("heavy", pool=buses, low=5, high=30)
        add("late", "navigation", pool=buses, low=5, high=20)
        if draw.random() < 0.5:
            loads.append(Load(id="pressure", fed_by=(), gives=("airspeed",)))
        loads.append(Load(id="altimeter", fed_by=(), gives=("altitude",)))
        if self.chance(0.4, "landing load"):
            add("lamp", "landing_light", pool=buses, landing=True)
            add("gear", "gear", pool=buses, high=20, landing=True)
        if self.chance(0.15, "electric engine"):
            add("ignition", "engine", pool=buses)
        sheds: list[Shed] = []
        if self.chance(0.5, "shed by the pilot"):
            sheds.append(Shed(loads=("heavy",), by="pilot", after_min=draw.choice([0, 1, 3]), source="s"))
        if self.chance(0.3, "shed automatically"):
            sheds.append(Shed(loads=("late",), by="automatic", after_min=draw.choice([0, 2, 7]), source="s"))
        return loads, tuple(sheds)

    def aircraft(self) -> Aircraft:
        network = self.network()
        return Aircraft(
            id="X",
            name="x",
            cruise_tas_kt=110,
            descent_ft_min=500,
            approved_for_icing=False,
            warning_light=not self.chance(0.3, "no warning light"),
            alternate_static=not self.chance(0.3, "no alternate static"),
            engine_electric=bool(network.givers("engine")),
            fuel_feed_electric=False,
            network=network,
            landing_min=self.draw.choice([5, 10]),
        )

    def state(self, network: Network) -> FlightState:
        draw = self.draw
        kinds: list[Failure] = ["alternator"]
        for failure, share in (("all", 0.15), ("pump", 0.15), ("display", 0.25)):
            if len(kinds) < 2 and self.chance(share, f"failure {failure}"):
                kinds.append(failure)  # type: ignore[arg-type]
        if len(kinds) == 2 and draw.random() < 0.3:
            kinds.pop(0)
        undone = network.shed_loads() and self.chance(0.25, "not shed")
        return FlightState(
            on=TODAY,
            failure=frozenset(kinds),
            oat_c=draw.uniform(-25, 20) if self.chance(0.4, "outside temperature") else None,
            soak_c=draw.uniform(-25, 20) if self.chance(0.5, "soak") else None,
            icing=self.chance(0.2, "icing"),
            night=self.chance(0.3, "night"),
            torch=draw.random() < 0.3,
            fuel_min=draw.uniform(30, 300) if self.chance(0.6, "fuel given") else None,
            shed_min=draw.uniform(0, 25) if self.chance(0.4, "shed early or late") else None,
            not_shed=frozenset({draw.choice(["all", *sorted(network.shed_loads())])}) if undone else frozenset(),
            flown_min=draw.uniform(0, 200),
        )


def stepwise() -> ModuleType:
    path = Path(__file__).with_name("stepwise.py")
    spec = importlib.util.spec_from_file_location("stepwise", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["stepwise"] = module
    spec.loader.exec_module(module)
    return module


def test_small_steps_agree_on_a_thousand_networks() -> None:
    other = stepwise()
    features: Counter[str] = Counter()
    flown = []
    for seed in range(NETWORKS):
        maker = Maker(seed)
        aircraft = maker.aircraft()
        flown.append((aircraft, maker.state(aircraft.network)))
        features.update(maker.has)
    ours = [endurance(aircraft, state).information_min for aircraft, state in flown]
    theirs = other.walk([other.World(aircraft, state) for aircraft, state in flown])
    far = [
        (seed, our, their)
        for seed, (our, their) in enumerate(zip(ours, theirs, strict=True))
        if (our is None) != (their is None) or (our is not None and abs(our - their) > AGREES_MIN)
    ]
    assert far == []
    rare = {name: count for name, count in features.items() if count < EACH_FEATURE}
    assert rare == {}
    assert sum(our is not None and our > 0 for our in ours) > NETWORKS / 2, "most networks must be worth comparing"
