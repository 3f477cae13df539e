"""How long information lasts: worked cases on small networks, and what is refused or doubted."""

import csv
import dataclasses
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import FlightState, failure_text, parse_failure
from refuge.aircraft.derating import LEAD_ACID, derate, share_at
from refuge.aircraft.endurance import Endurance, budget_min, endurance
from refuge.aircraft.network import Bus, CapacityCheck, Duration, Load, Network, Source
from refuge.aircraft.parts import Capacity, Figure, Shed, Warming
from refuge.errors import InputError

REFERENCE = Path(__file__).resolve().parents[3] / "fixtures" / "reference"
TODAY = date(2026, 2, 15)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def minutes(value: float, **changes: Any) -> Duration:
    usual: dict[str, Any] = {"minutes": value, "counts_from": "failure", "basis": "b", "source": "s"}
    return Duration(**usual | changes)


def battery(name: str, duration: Duration | None, **changes: Any) -> Source:
    usual: dict[str, Any] = {"kind": "battery", "chemistry": "lead-acid", "in_service": date(2025, 2, 1)}
    return Source(id=name, duration=duration, **usual | changes)


def figure(value: float) -> Figure:
    return Figure(value=value, basis="b", source="s")


def warming(c_per_h: float) -> Warming:
    return Warming(c_per_h=c_per_h, up_to_c=10, basis="b", source="s")


def in_ah(name: str, **changes: Any) -> Source:
    usual: dict[str, Any] = {"ah": 24.0, "rate_h": 1.0, "basis": "b", "source": "s"}
    return battery(name, None, capacity=Capacity(**usual | changes))


def own(name: str, value: float, **changes: Any) -> Source:
    return battery(name, minutes(value), **{"kind": "own_battery", "ready": True} | changes)


ALTERNATOR = Source(id="alternator", kind="alternator")
PUMP = Source(id="pump", kind="engine_drive")
MAIN = Bus(id="main", fed_by=("alternator", "battery"))
STANDBY = Bus(id="standby", fed_by=("main", "second"))
AIRSPEED = Load(id="airspeed", fed_by=(), gives=("airspeed",))
ALTIMETER = Load(id="altimeter", fed_by=(), gives=("altitude",))


def load(name: str, fed_by: Iterable[str], *gives: Any, **changes: Any) -> Load:
    return Load(id=name, fed_by=tuple(fed_by), gives=gives, **changes)


def network(*parts: Source | Bus | Load, plain: bool = True) -> Network:
    loads = [part for part in parts if isinstance(part, Load)] + ([AIRSPEED, ALTIMETER] if plain else [])
    return Network(
        sources={part.id: part for part in parts if isinstance(part, Source)},
        buses={part.id: part for part in parts if isinstance(part, Bus)},
        loads={part.id: part for part in loads},
    )


def aircraft(*parts: Source | Bus | Load, **changes: Any) -> Aircraft:
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
    }
    return Aircraft(**usual | {"network": network(*parts)} | changes)


def asked(flown: Aircraft, **changes: Any) -> Endurance:
    return endurance(flown, FlightState(**{"on": TODAY} | changes))


ATTITUDE = load("attitude", ["main"], "attitude")
SIMPLE = (ALTERNATOR, battery("battery", minutes(30)), MAIN, ATTITUDE)


@pytest.mark.parametrize("row", rows("derating.csv"), ids=lambda row: row["id"])
def test_derating(row: dict[str, str]) -> None:
    born = TODAY.replace(year=TODAY.year - int(row["age_years"]))
    check = CapacityCheck(percent=90, on=date(2026, 1, 1), source="s") if row["tested"] == "yes" else None
    source = battery("b", minutes(60), chemistry=row["chemistry"], in_service=born, check=check)
    found = derate(source, on=TODAY, temperature_c=float(row["temperature_c"]))
    assert float(row["nominal_min"]) * found.factor == pytest.approx(float(row["result_min"]))
    assert found.doubts == ()


@pytest.mark.parametrize("row", rows("budgets.csv"), ids=lambda row: row["id"])
def test_budget(row: dict[str, str]) -> None:
    last = float(row["information_min"])
    found = asked(aircraft(ALTERNATOR, battery("battery", minutes(last)), MAIN, ATTITUDE))
    assert found.information_min == last
    assert found.recognition_min == float(row["recognition_min"])
    assert budget_min(found, float(row["margin_min"])) == float(row["budget_min"])


def test_no_warning_light_takes_five_minutes_more_of_the_budget() -> None:
    found = asked(aircraft(*SIMPLE, warning_light=False))
    assert (found.recognition_min, budget_min(found)) == (10, 5)  # reference.md 4.2, from memory


def test_recognition_may_be_longer_and_never_shorter() -> None:
    assert aircraft(*SIMPLE, recognition_given_min=8).recognition_min == 8
    with pytest.raises(InputError, match="recognition_min: may be longer than 5 min, never shorter"):
        aircraft(*SIMPLE, recognition_given_min=4.9)
    with pytest.raises(InputError, match="longer than 10 min"):
        aircraft(*SIMPLE, warning_light=False, recognition_given_min=9)


SHED = minutes(30, counts_from="shed", shed_by_min=5)


@pytest.mark.parametrize(
    ("duration", "shed_min", "expected_min"),
    [
        # method.md 2: the charge is 5 min at twice the load and 30 min shed: 40 min at the shed load.
        (SHED, 5, 35),
        (SHED, 2, 35),  # sooner earns nothing
        (SHED, 10, 30),  # 10 x 2 used, 20 left
        (SHED, 15, 25),
        (SHED, 60, 20),  # never shed: 40 / 2
        (dataclasses.replace(SHED, unshed_ratio=3), 10, 25),  # 5 x 3 + 30 = 45, less 30
        (minutes(30), 5, 30),  # a certified 30 min includes shedding
        (minutes(30), 10, 25),  # five minutes late cost ten, five of which have passed
        (minutes(30), 60, 17.5),  # 5 min foreseen unshed, then 25 at twice the load
    ],
)
def test_what_shedding_late_costs(duration: Duration, shed_min: float, expected_min: float) -> None:
    found = asked(aircraft(ALTERNATOR, battery("battery", duration), MAIN, ATTITUDE), shed_min=shed_min)
    assert found.information_min == pytest.approx(expected_min)


def test_a_battery_counted_from_shed_is_derated_as_a_charge() -> None:
    found = asked(aircraft(ALTERNATOR, battery("battery", SHED), MAIN, ATTITUDE), soak_c=0)
    assert found.information_min == pytest.approx(0.75 * 40 - 5)
    assert found.nominal_min == 35


def test_a_battery_that_takes_over_later_begins_then_with_the_load_shed() -> None:
    parts = (*SIMPLE[:3], battery("second", SHED), STANDBY, load("attitude", ["standby"], "attitude"))
    assert asked(aircraft(*parts)).information_min == 60


def test_the_colder_of_soak_and_outside_counts() -> None:
    flown = aircraft(*SIMPLE)
    assert asked(flown, soak_c=0, oat_c=15).information_min == 22.5
    assert asked(flown, soak_c=15, oat_c=6).information_min == asked(flown, soak_c=6).information_min


@pytest.mark.parametrize(
    "changes",
    [
        {"in_service": None},
        {"in_service": date(2026, 2, 16)},  # not yet there on the day asked for
        {"check": CapacityCheck(percent=79.9, on=date(2026, 1, 1), source="s")},
        {"check": CapacityCheck(percent=79.9, on=date(2020, 1, 1), source="s")},
    ],
)
def test_d47_a_worn_battery_or_one_of_unknown_age_is_not_dependable(changes: dict[str, Any]) -> None:
    found = asked(aircraft(ALTERNATOR, battery("battery", minutes(30), **changes), MAIN, ATTITUDE))
    assert not found.dependable
    assert found.warnings[0].startswith("NOT DEPENDABLE")
    assert found.doubts
    assert set(found.doubts) <= set(found.warnings)
    assert found.information_min is not None
    assert found.information_min <= 24  # the published 30 min by the age factor of 0.8, reference.md 4.4
    assert found.nominal_min == 30


def test_an_unknown_battery_that_information_does_not_rest_on_leaves_it_dependable() -> None:
    radio = (battery("other", minutes(30), in_service=None), load("radio", ["other"], "radio"))
    found = asked(aircraft(*SIMPLE, *radio))
    assert found.dependable
    assert any("other cannot be relied upon" in warning for warning in found.warnings)
    assert found.doubts == ()


@pytest.mark.parametrize("chemistry", [None, "other"])
def test_cold_with_a_chemistry_that_has_no_table_is_not_dependable(chemistry: Any) -> None:
    flown = aircraft(ALTERNATOR, battery("battery", minutes(30), chemistry=chemistry), MAIN, ATTITUDE)
    assert asked(flown, soak_c=20).dependable
    found = asked(flown, soak_c=-1)
    assert not found.dependable
    assert found.information_min is not None
    assert found.information_min < 22.5


def test_an_old_capacity_check_is_no_test() -> None:
    old = {"in_service": date(2019, 1, 1)}
    check = CapacityCheck(percent=95, on=date(2025, 2, 13), source="s")  # 367 days ago
    fresh = CapacityCheck(percent=95, on=date(2025, 3, 1), source="s")
    stale = asked(aircraft(ALTERNATOR, battery("battery", minutes(30), check=check, **old), MAIN, ATTITUDE))
    tested = asked(aircraft(ALTERNATOR, battery("battery", minutes(30), check=fresh, **old), MAIN, ATTITUDE))
    assert (stale.information_min, tested.information_min) == (24, 30)


GYRO = (ALTERNATOR, battery("battery", minutes(30)), PUMP, MAIN, load("gyro", ["pump"], "attitude"))


def test_engine_driven_without_fuel_is_unknown_never_endless() -> None:
    found = asked(aircraft(*GYRO))
    assert found.information_min is None
    assert budget_min(found) is None
    assert not found.dependable
    assert (found.functions["attitude"].state, found.functions["attitude"].end_min) == ("unknown", None)
    assert all("attitude" in phase.unknown and "attitude" not in phase.works for phase in found.phases)
    assert any("--fuel-min" in warning for warning in found.warnings)


def test_engine_driven_lasts_as_long_as_the_fuel_above_the_reserve() -> None:
    found = asked(aircraft(*GYRO), fuel_min=200)
    assert found.information_min == 155  # 200 less 45, 14 CFR 91.167
    assert "planning looks no further than 120 min" in found.assumptions
    assert any("single source: pump" in warning for warning in found.warnings)
    assert asked(aircraft(*GYRO), fuel_min=30).information_min == 0
    assert asked(aircraft(*GYRO, fuel_reserve_min=60), fuel_min=200).information_min == 140


def test_a_battery_behind_engine_driven_gives_what_is_sure() -> None:
    found = asked(aircraft(*GYRO, load("electric", ["main"], "attitude")))
    assert found.information_min == 30
    assert any("the endurance is the least without it" in warning for warning in found.warnings)


def test_fuel_ends_everything() -> None:
    found = asked(aircraft(*SIMPLE), fuel_min=60)
    assert (found.information_min, found.limited_why) == (15, "fuel down to the reserve")
    assert {end.state for end in found.functions.values()} == {"until", "absent"}


def test_an_electric_engine_ends_everything_with_its_supply() -> None:
    parts = (*SIMPLE, own("inside", 60), load("standby", ["main", "inside"], "attitude"))
    engine = load("ignition", ["main"], "engine")
    assert asked(aircraft(*parts)).information_min == 90
    found = asked(aircraft(*parts, engine, engine_electric=True))
    assert (found.information_min, found.limited_by) == (30, "engine")
    assert found.limited_why == "battery at its end"
    assert found.functions["altitude"].end_min == 30


def test_the_file_must_say_whether_the_engine_needs_electricity() -> None:
    with pytest.raises(InputError, match="engine_electric: it says true, and 0 loads give it"):
        aircraft(*SIMPLE, engine_electric=True)
    with pytest.raises(InputError, match="fuel_feed_electric: it says false, and 1 loads give it"):
        aircraft(*SIMPLE, load("boost", ["main"], "fuel_feed"))


def test_absent_is_not_zero() -> None:
    found = asked(aircraft(*SIMPLE))
    assert (found.functions["navigation"].state, found.functions["navigation"].end_min) == ("absent", None)
    assert all("navigation" not in (*phase.works, *phase.lost) for phase in found.phases)


def test_in_icing_airspeed_ends_with_pitot_heat_and_at_once_without_any() -> None:
    heated = aircraft(
        *SIMPLE,
        own("inside", 60),
        load("standby", ["main", "inside"], "attitude"),
        load("heat", ["main"], "pitot_heat"),
    )
    assert asked(heated).information_min == 90
    found = asked(heated, icing=True)
    assert (found.information_min, found.limited_by) == (30, "airspeed")
    assert any("as if dry, information would end after 90 min" in warning for warning in found.warnings)
    assert found.functions["altitude"].state == "not_limited"
    assert asked(aircraft(*SIMPLE), icing=True).information_min == 0


def test_five_degrees_are_cold_enough_for_pitot_heat() -> None:
    flown = aircraft(*SIMPLE)
    assert asked(flown, oat_c=5).information_min == 0  # method.md 2: +5 C or colder
    assert asked(flown, oat_c=5.1).information_min is not None
    assert asked(flown, oat_c=5.1).limited_by == "attitude"


def test_without_alternate_static_altitude_goes_with_pitot_heat() -> None:
    flown = aircraft(*SIMPLE, load("heat", ["main"], "pitot_heat"), alternate_static=False)
    assert asked(flown, icing=True).functions["altitude"].end_min == 30


@pytest.mark.parametrize(
    ("parts", "state", "why"),
    [
        ((), {"soak_c": -40}, "battery counts for nothing"),
        ((), {"failure": frozenset({"all"})}, "the failure takes it at once"),
        ((), {"night": True}, "panel light lost at night without a torch"),
        ((), {"fuel_min": 50}, "fuel down to the reserve"),
        ((), {"icing": True}, "pitot heat lost in cloud at freezing or nearly so"),
        ((load("x", ["main"], "attitude", shed=True),), {}, "switched off when the load is shed"),
    ],
)
def test_what_ends_information_is_said(parts: tuple[Load, ...], state: dict[str, Any], why: str) -> None:
    flown = aircraft(*SIMPLE[:3], *(parts or SIMPLE[3:]))
    assert asked(flown, **state).limited_why == why


def test_at_night_without_panel_light_only_what_shines_by_itself_can_be_read() -> None:
    found = asked(aircraft(*SIMPLE), night=True)
    assert found.information_min == 0
    assert any("only instruments with their own light" in warning for warning in found.warnings)


def test_as_if_dry_is_what_the_same_state_gives_without_cloud_to_freeze_in() -> None:
    """method.md 2: where pitot heat alone closes the plan the rest is shown as if dry; nothing else is let off."""
    flown = aircraft(*SIMPLE)
    for state in ({"icing": True}, {"oat_c": 5}, {"icing": True, "fuel_min": 50}):
        found, rest = asked(flown, **state), {key: value for key, value in state.items() if key == "fuel_min"}
        warm = asked(flown, **rest, **({"soak_c": 5} if "oat_c" in state else {}))
        assert found.information_min == 0  # there is no pitot heat at all
        assert found.dry is not None
        assert (found.dry.information_min, found.dry.limited_by) == (warm.information_min, warm.limited_by)
        assert any("as if dry" in note for note in found.dry.assumptions)
        assert found.dry.dry is None
    assert asked(flown, oat_c=5.1).dry is None
    heated = aircraft(*SIMPLE, load("heat", ["main"], "pitot_heat"))
    assert asked(heated, icing=True).dry is None  # heat lasts as long as attitude: dry would be no longer


def test_a_torch_is_named_where_pitot_heat_would_hide_it() -> None:
    both = asked(aircraft(*SIMPLE), night=True, icing=True)
    dry_by_torch = asked(aircraft(*SIMPLE), night=True, torch=True).information_min
    assert both.information_min == 0
    assert asked(aircraft(*SIMPLE), night=True, torch=True, icing=True).information_min == 0
    assert both.with_torch == ""  # it would make it no longer, and no promise is made of one
    assert any(f"as if dry makes it {dry_by_torch:.0f} min" in warning for warning in both.warnings)


def test_what_a_torch_would_give_is_said_by_night_without_one_only() -> None:
    lit = asked(aircraft(*SIMPLE), night=True, torch=True)
    without = asked(aircraft(*SIMPLE), night=True)
    assert lit.information_min == asked(aircraft(*SIMPLE)).information_min  # a torch by night is as good as day
    assert without.with_torch == f"{lit.information_min:.0f} min"
    assert any("--torch" in warning for warning in without.warnings)
    assert [lit.with_torch, asked(aircraft(*SIMPLE)).with_torch] == ["", ""]
    gone = asked(aircraft(*SIMPLE), night=True, failure=frozenset({"all"}))
    assert (gone.information_min, gone.with_torch) == (0, "")  # no light brings a dead instrument back


def test_the_table_ends_at_room_temperature() -> None:
    assert share_at(LEAD_ACID, 35) == 1  # never more than was published


def test_what_is_shed_is_not_counted_after_it() -> None:
    flown = aircraft(*SIMPLE, load("heat", ["main"], "pitot_heat", shed=True))
    assert asked(flown).functions["pitot_heat"].end_min == 5
    assert asked(flown, icing=True).information_min == 5
    assert asked(flown, icing=True, shed_min=9).information_min == 5


def test_failures() -> None:
    parts = (
        *SIMPLE[:3],
        own("inside", 60),
        PUMP,
        load("display", ["main"], "attitude", "heading", primary_display=True),
        load("standby", ["main", "inside"], "attitude"),
        load("gyro", ["pump"], "heading"),
    )
    flown = aircraft(*parts)

    def information(failure: str, fuel_min: float | None = None) -> float | None:
        return asked(flown, failure=parse_failure(failure), fuel_min=fuel_min).information_min

    assert information("alternator") == 90
    assert information("all") == 60  # batteries isolated: the instrument's own is what is left
    assert information("display", 200) == 155  # the alternator runs with the engine
    assert information("display") == 90  # the least that is sure
    assert information("pump", 200) == 155
    heading = asked(flown, failure=parse_failure("alternator+pump"), fuel_min=200).functions["heading"]
    assert heading.end_min == 30


@pytest.mark.parametrize("text", ["", "battery", "all+all", "all+pump+display", "alternator+", "Alternator"])
def test_no_failure(text: str) -> None:
    with pytest.raises(InputError, match="is no failure"):
        parse_failure(text)


def test_failures_print_as_they_are_written() -> None:
    assert failure_text(parse_failure("pump+alternator")) == "alternator+pump"


@pytest.mark.parametrize("failure", ["pump", "display"])
def test_a_failure_that_means_nothing_here_is_refused(failure: str) -> None:
    with pytest.raises(InputError, match=f"--failure: {failure}: "):
        asked(aircraft(*SIMPLE), failure=parse_failure(failure))


@pytest.mark.parametrize(
    "changes",
    [
        {"fuel_min": -1},
        {"fuel_min": float("nan")},
        {"fuel_min": float("inf")},
        {"shed_min": -1},
        {"oat_c": float("nan")},
        {"soak_c": 300},
    ],
)
def test_impossible_figures_are_refused(changes: dict[str, float]) -> None:
    with pytest.raises(InputError):
        asked(aircraft(*SIMPLE), **changes)


@pytest.mark.parametrize(
    ("parts", "fault"),
    [
        ((battery("second", minutes(7)), Bus(id="b", fed_by=("battery", "second"))), "say how second takes over"),
        ((Bus(id="b", fed_by=("c",)), Bus(id="c", fed_by=("b",))), "it feeds itself"),
        ((Bus(id="b", fed_by=()),), "nothing feeds it"),
        ((Bus(id="battery", fed_by=("alternator",)),), "a bus has the same name"),
        ((load("x", ["nowhere"], "radio"),), "no source and no bus"),
        ((load("x", ["main", "main"], "radio"),), "named twice"),
        ((load("x", [], "radio"),), "cannot work without a supply"),
        ((load("x", ["main"]),), "gives nothing"),
        ((own("p", 60, kind="portable"), load("x", ["p"], "attitude")), "never counted"),
        ((own("p", 60, ready=None),), "say `ready = true`"),
        ((Source(id="p", kind="battery"),), "needs `minutes`"),
        ((Source(id="p", kind="alternator", duration=minutes(5)),), "takes no `minutes`"),
        ((battery("p", minutes(30, counts_from="shed")),), "need `shed_by_min`"),
        ((battery("p", minutes(-1)),), "minutes must be 0 or more"),
        ((battery("p", minutes(float("nan"))),), "minutes must be 0 or more"),
        ((battery("p", minutes(30, shed_by_min=-1)),), "shed_by_min must be 0 or more"),
        ((battery("p", minutes(30, unshed_ratio=0.9)),), "unshed_ratio must be 1 or more"),
        ((battery("p", minutes(30), charge=figure(101)),), "`charge` is per cent, 0 to 100, not 101"),
        ((battery("p", minutes(30), rated_a=figure(9)),), "`rated_a` is for an alternator"),
        (
            (Source(id="p", kind="alternator", rated_a=figure(0)),),
            "`rated_a` is for an alternator, and more than 0",
        ),
        ((battery("p", minutes(30), warming=warming(-1)),), "warming.c_per_h must be 0 or more"),
        ((in_ah("p", ah=0),), "capacity must be more than 0 Ah"),
        ((in_ah("p", rate_h=0),), "rate_h must be more than 0 hours"),
        ((in_ah("p", peukert=0.9),), "peukert must be 1 to 2"),
        ((in_ah("p"), load("x", ["p"], "radio")), "load.x: it needs `amps`, as p is counted in Ah"),
        ((Bus(id="b", fed_by=("battery",), takes_over={"x": "tied"}),), "which does not feed it"),
        ((load("x", ["main"], "radio", amps=figure(0)),), "amps must be more than 0"),
        ((load("x", ["main"], "radio", duty=0),), "duty must be more than 0 and at most 1"),
        ((load("x", ["main"], "fuel_feed", amps=figure(1), landing=True),), "fuel_feed is needed all the time"),
    ],
)
def test_networks_that_cannot_be_worked_out_are_refused(parts: tuple[Any, ...], fault: str) -> None:
    with pytest.raises(InputError, match=fault):
        network(*SIMPLE, *parts)


def test_an_aircraft_must_have_what_cloud_needs() -> None:
    with pytest.raises(InputError, match="nothing gives attitude; load: nothing gives airspeed; load: nothing"):
        network(*SIMPLE[:3], plain=False)


@pytest.mark.parametrize(
    ("sheds", "fault"),
    [
        ((("x", "pilot", 0.0),), "'x' is no load of this file"),
        ((("attitude", "pilot", 0.0), ("attitude", "automatic", 1.0)), "attitude is shed twice"),
        ((("attitude", "pilot", -1.0),), "shed 1: after_min must be 0 or more"),
        ((("attitude", "pilot", 3.0), ("airspeed", "pilot", 2.0)), "before the step above it: put them in order"),
    ],
)
def test_shed_lists_that_cannot_be_are_refused(sheds: tuple[tuple[str, Any, float], ...], fault: str) -> None:
    steps = tuple(Shed(loads=(name,), by=by, after_min=after, source="s") for name, by, after in sheds)
    with pytest.raises(InputError, match=fault):
        dataclasses.replace(network(*SIMPLE), sheds=steps)


@pytest.mark.parametrize("key", ["landing_min", "cruise_tas_kt", "descent_ft_min", "fuel_reserve_min"])
def test_impossible_aircraft_are_refused(key: str) -> None:
    with pytest.raises(InputError, match=key):
        aircraft(*SIMPLE, **{key: float("nan")})


def test_own_batteries_in_opposite_orders_each_carry_their_own() -> None:
    parts = (
        own("p", 30),
        own("q", 30),
        load("x", ["main", "p", "q"], "radio"),
        load("y", ["main", "q", "p"], "navigation"),
    )
    found = asked(aircraft(*SIMPLE, *parts))
    assert {found.functions[name].end_min for name in ("radio", "navigation")} == {60}  # 30 of main, then 30


def test_common_practice_comes_out() -> None:
    """Main 30 minutes, standby 30 more, an electronic standby with 60 of its own, fed by the main bus."""
    parts = (
        *SIMPLE[:3],
        battery("second", minutes(30)),
        STANDBY,
        own("inside", 60),
        load("display", ["main"], "attitude", "heading"),
        load("electronic", ["main", "inside"], "attitude"),
        load("radio", ["standby"], "radio"),
    )
    found = asked(aircraft(*parts))
    assert found.information_min == 90  # common practice, no source (reference.md 4.5)
    budget = budget_min(found, 30)
    assert budget is not None
    assert budget + found.recognition_min == 60  # a margin of 30, recognition counted apart
    assert found.functions["radio"].end_min == 60


def test_what_only_fuel_could_lengthen_says_at_least() -> None:
    flown = aircraft(*SIMPLE, load("display", ["main"], "heading", primary_display=True))
    display = parse_failure("display")
    assert asked(flown, failure=display).more_with_fuel  # the alternator runs on, nobody said how long
    assert not asked(flown, failure=display, fuel_min=200).more_with_fuel
    assert not asked(flown).more_with_fuel
    only = aircraft(*SIMPLE[:3], load("display", ["main"], "attitude", primary_display=True))
    lost = asked(only, failure=display)
    assert (lost.information_min, lost.more_with_fuel) == (0, False)  # no fuel brings a dead display back
