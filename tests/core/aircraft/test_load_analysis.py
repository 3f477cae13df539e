"""Load analysis by amps and Ah: the worked cases D1 to D10 and D20 to D26, and what a phase of flight draws."""

import csv
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import FlightState
from refuge.aircraft.charge import Cell, peukert_min
from refuge.aircraft.endurance import Endurance, endurance
from refuge.aircraft.network import Network
from refuge.aircraft.parts import Bus, Capacity, CapacityCheck, Figure, Load, Shed, Source, Warming

REFERENCE = Path(__file__).resolve().parents[3] / "fixtures" / "reference"
TODAY = date(2026, 2, 15)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def figure(value: float) -> Figure:
    return Figure(value=value, basis="b", source="s")


def ah(value: float, rate_h: float = 1, peukert: float | None = 1.0) -> Capacity:
    return Capacity(ah=value, rate_h=rate_h, peukert=peukert, basis="b", source="s")


def battery(name: str, capacity: Capacity, **changes: Any) -> Source:
    usual: dict[str, Any] = {"kind": "battery", "chemistry": "lead-acid", "in_service": date(2025, 2, 1)}
    return Source(id=name, capacity=capacity, **usual | changes)


def load(name: str, amps: float, *gives: Any, fed_by: tuple[str, ...] = ("main",), **changes: Any) -> Load:
    return Load(id=name, fed_by=fed_by, gives=gives, amps=figure(amps), **changes)


def flown(*parts: Source | Bus | Load, sheds: tuple[Shed, ...] = (), **changes: Any) -> Aircraft:
    plain = [Load(id="a", fed_by=(), gives=("airspeed", "altitude"))]
    usual: dict[str, Any] = {
        "id": "X",
        "name": "x",
        "cruise_tas_kt": 110,
        "descent_ft_min": 500,
        "approved_for_icing": False,
        "warning_light": True,
        "alternate_static": True,
        "engine_electric": False,
        "fuel_feed_electric": False,
        "landing_min": 5,
    }
    network = Network(
        sources={part.id: part for part in parts if isinstance(part, Source)},
        buses={part.id: part for part in parts if isinstance(part, Bus)},
        loads={part.id: part for part in [*parts, *plain] if isinstance(part, Load)},
        sheds=sheds,
    )
    return Aircraft(**usual | {"network": network} | changes)


def asked(aircraft: Aircraft, **changes: Any) -> Endurance:
    return endurance(aircraft, FlightState(**{"on": TODAY} | changes))


MAIN = Bus(id="main", fed_by=("battery",))
ESSENTIAL = load("essential", 18, "attitude")


@pytest.mark.parametrize("row", rows("load_analysis.csv"), ids=lambda row: row["id"])
def test_load_analysis(row: dict[str, str]) -> None:
    shed_a, landing_a = float(row["shed_a"]), float(row["landing_a"])
    parts: list[Source | Bus | Load] = [
        battery("battery", ah(float(row["ah"]), float(row["rate_h"])), charge=figure(float(row["charge_percent"]))),
        MAIN,
        load("essential", shed_a, "attitude"),
        load("extra", float(row["unshed_a"]) - shed_a, "radio", shed=True),
    ]
    if landing_a > shed_a:
        parts.append(load("light", landing_a - shed_a, "landing_light", landing=True))
    state: dict[str, Any] = {"soak_c": float(row["soak_c"]) if row["soak_c"] else None}
    if row["shed_min"] == "never":
        state["not_shed"] = frozenset({"all"})
    else:
        state["shed_min"] = float(row["shed_min"])
    found = asked(flown(*parts, landing_min=float(row["landing_min"])), **state)
    assert found.information_min == pytest.approx(float(row["total_min"]), abs=0.05)  # printed to 0.1


def test_d9_the_five_hour_rate() -> None:
    # reference.md 4.2: 30 Ah x 0.85 x 0.72 x 60 = 1101.6 A-min
    assert Cell(ah(30, 5), "lead-acid").full_amp_min * 0.72 == pytest.approx(1101.6)


@pytest.mark.parametrize("row", rows("peukert.csv"), ids=lambda row: row["id"])
def test_peukert(row: dict[str, str]) -> None:
    size, rate_h, exponent, amps = (float(row[key]) for key in ("ah", "rate_h", "exponent", "amps"))
    formula = peukert_min(ah=size, rate_h=rate_h, exponent=exponent, amps=amps)
    assert formula == pytest.approx(float(row["formula_min"]), abs=0.05)  # printed to 0.1
    credited = Cell(ah(size, rate_h, exponent), "lead-acid").full_min(amps)
    assert credited == pytest.approx(float(row["credited_min"]), abs=0.05)


@pytest.mark.parametrize(
    ("chemistry", "exponent"),
    # reference.md 4.3, from memory: the top of the range for lead-acid, of all kinds where it is not known
    [("lead-acid", 1.3), ("other", 1.6), (None, 1.6)],
)
def test_an_exponent_that_is_not_stated_is_the_worst_of_its_kind(chemistry: Any, exponent: float) -> None:
    assert Cell(ah(24, peukert=None), chemistry).exponent == exponent


def full(name: str, size: float, **changes: Any) -> Source:
    """A battery of which nothing is taken off: 60 minutes at `size` amps."""
    check = CapacityCheck(percent=100, on=TODAY, source="s")
    usual: dict[str, Any] = {"capacity": ah(size), "charge": figure(100), "check": check}
    return battery(name, **usual | changes)


def test_a_check_replaces_the_usual_deterioration() -> None:
    tested = full("battery", 18, check=CapacityCheck(percent=90, on=TODAY, source="s"))
    assert asked(flown(tested, MAIN, ESSENTIAL)).information_min == pytest.approx(54)  # 60 x 0.9
    stale = full("battery", 18, check=CapacityCheck(percent=90, on=date(2024, 2, 15), source="s"))
    assert asked(flown(stale, MAIN, ESSENTIAL)).information_min == pytest.approx(48)  # CAP 562: 80 %
    worn = full("battery", 18, check=CapacityCheck(percent=70, on=TODAY, source="s"))
    found = asked(flown(worn, MAIN, ESSENTIAL))
    assert found.information_min == pytest.approx(42)
    assert not found.dependable  # below 80 %: reference.md 4.4


def test_a_load_on_for_part_of_the_time_counts_by_its_share() -> None:
    radio = load("radio", 18, "radio", duty=0.5)
    assert asked(flown(full("battery", 18), MAIN, ESSENTIAL, radio)).information_min == pytest.approx(40)


def test_the_steps_of_shedding_come_when_they_say() -> None:
    # 60 x 18 = 1080 A-min: 2 min at 54 A, 5 min at 36 A, then 792 A-min at 18 A.
    parts = (full("battery", 18), MAIN, ESSENTIAL, load("one", 18, "radio"), load("two", 18, "navigation"))
    sheds = (
        Shed(loads=("one",), by="automatic", after_min=2, source="s"),
        Shed(loads=("two",), by="pilot", after_min=2, source="s"),
    )
    aircraft = flown(*parts, sheds=sheds)
    found = asked(aircraft)
    assert found.information_min == pytest.approx(7 + 44)
    assert (found.functions["radio"].end_min, found.functions["navigation"].end_min) == (2, 7)
    # The automatic step not done: 7 min at 54 A, then 702 A-min at 36 A. It does not count longer for that.
    undone = asked(aircraft, not_shed=frozenset({"one"}))
    assert undone.information_min == pytest.approx(7 + 19.5)
    assert undone.functions["radio"].end_min == 2


def test_a_battery_switched_in_by_hand_waits_for_the_pilot() -> None:
    by_hand = Bus(id="main", fed_by=("battery", "second"), takes_over={"second": "by hand"})
    gone = asked(flown(full("battery", 18, ready=False), full("second", 18), by_hand, ESSENTIAL))
    assert gone.information_min == 0  # nothing feeds the bus until the failure is recognised
    later = asked(flown(full("battery", 18), full("second", 18), by_hand, ESSENTIAL))
    assert later.information_min == pytest.approx(120)


def test_tied_batteries_give_what_they_hold_together_and_no_more() -> None:
    tied = Bus(id="main", fed_by=("battery", "second"), takes_over={"second": "tied"})
    one = full("battery", 24, capacity=ah(24, peukert=1.3))
    two = full("second", 7, capacity=ah(7, peukert=1.3))
    alone = asked(flown(one, MAIN, load("essential", 48, "attitude"))).information_min
    both = asked(flown(one, two, tied, load("essential", 48, "attitude"))).information_min
    assert alone is not None
    assert both is not None
    assert alone < both < alone * 31 / 24
    isolated = Bus(id="main", fed_by=("battery", "second"), takes_over={"second": "isolated"})
    assert both <= (asked(flown(one, two, isolated, load("essential", 48, "attitude"))).information_min or 0) + 1e-9


def test_a_box_warms_from_what_it_stood_in_by_its_rule() -> None:
    # 0.40 at -18 C, 0.75 at 0 C: TM 10-6140-200-14 [F:S69]. 60 min x 0.75 = 45, x 0.40 = 24.
    rule = Warming(c_per_h=18, up_to_c=0, basis="b", source="s")
    aircraft = flown(full("battery", 18, warming=rule), MAIN, ESSENTIAL)
    assert asked(aircraft, soak_c=-18).information_min == pytest.approx(24)
    assert asked(aircraft, soak_c=-18, flown_min=60).information_min == pytest.approx(45)
    assert asked(aircraft, soak_c=-18, flown_min=600).information_min == pytest.approx(
        45
    )  # no further than its rule
    assert asked(aircraft, soak_c=-18, oat_c=6, flown_min=30).information_min == pytest.approx(60 * 0.575)
    heat = load("heat", 0.001, "pitot_heat")
    unknown = asked(flown(full("battery", 18, warming=rule), MAIN, ESSENTIAL, heat), oat_c=-18, flown_min=600)
    assert unknown.information_min == pytest.approx(
        24, abs=0.01
    )  # without the soak nothing is known to have warmed


def test_landing_loads_on_an_idle_battery_last_what_it_holds() -> None:
    light = load("light", 18, "landing_light", fed_by=("second",), landing=True)
    found = asked(flown(full("battery", 18), full("second", 18), MAIN, ESSENTIAL, light))
    assert found.functions["landing_light"].end_min == pytest.approx(60 + 60)  # begun when all else is over
