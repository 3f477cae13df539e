"""Whole flights: worked cases, edges of the earth and of the data, and agreement with one position at a time."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refuge.earth import Position, distances_nm
from refuge.errors import InputError
from refuge.flight import minutes, reach, shortlist
from refuge.flight.question import Question, Wind
from refuge.flight.route import Plan, as_if_dry, build, crossing_minute, entry_at, why_gap
from refuge.flight.situation import Situation
from refuge.flight.track import Block, RouteQuestion, Waypoint, question_at
from refuge.flight.verdict import MEETS
from tests.core.flight import situations as s
from tests.core.flight.flights import START, east, flight, good_fields
from tests.core.flight.worlds import worlds
from tests.core.reference import rows

HEAD_20 = Wind(dir_deg_true=90.0, speed_kt=20.0)


@pytest.fixture
def no_wind_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """The worked cases of reference.md 5.7 and 5.8 know no error of the wind."""
    monkeypatch.setattr(reach, "WIND_ERROR_KT", 0.0)
    monkeypatch.setattr(reach, "WIND_ERROR_SHARE", 0.0)


@pytest.fixture
def no_horizon(monkeypatch: pytest.MonkeyPatch) -> None:
    """Some of them are of flights that go farther than planning looks."""
    monkeypatch.setattr(minutes, "HORIZON_NM", 600.0)


def minutes_with(plan: Plan, field: int) -> list[int]:
    return sorted(int(m) for m, f in zip(plan.meeting.minute, plan.meeting.field, strict=True) if f == field)


@pytest.mark.usefixtures("no_wind_error")
def test_e70_the_gap_between_two_refuges_against_the_wind() -> None:
    """E70 (reference.md 5.8): A within reach to 74.2 NM, B from 122.5 NM; 48.3 NM at 90 kt are 32.2 min."""
    plan = build(flight(START, east(200.0), wind=HEAD_20), good_fields([east(20.0), east(160.0)]))
    assert minutes_with(plan, 0)[-1] == int(74.2 / 1.5)
    assert minutes_with(plan, 1)[0] == int(122.5 / 1.5) + 1
    assert plan.gap_min == 32
    assert [stretch.state for stretch in plan.stretches] == ["refuge", "gap", "refuge"]
    assert not plan.within_budget


@pytest.mark.usefixtures("no_wind_error")
def test_e71_the_gap_in_still_air() -> None:
    """E71 (reference.md 5.8): radii of 45 and 40 NM around 20 and 160 NM leave 65 to 120 NM: 30.0 min at 110 kt."""
    situation = good_fields([east(20.0), east(160.0)])
    far, near = (
        build(flight(START, east(200.0), information_min=15.0 + radius / 110.0 * 60.0), situation)
        for radius in (45.0, 40.0)
    )
    assert minutes_with(near, 1)[0] - minutes_with(far, 0)[-1] - 1 == 30


@pytest.mark.parametrize("row", rows("equal_time"), ids=lambda row: row["id"])
def test_equal_time_as_derived(row: dict[str, str]) -> None:
    distance, out, home = (float(row[key]) for key in ("distance_nm", "out_kt", "home_kt"))
    minutes = np.arange(int(distance / out * 60.0))
    flown = minutes / 60.0 * out
    crossing = crossing_minute(minutes, flown / home * 60.0, (distance - flown) / out * 60.0)
    assert crossing is not None
    assert crossing[0] == pytest.approx(float(row["equal_min"]), abs=0.05)
    assert crossing[0] * out / 60.0 == pytest.approx(float(row["equal_nm"]), abs=0.1)


@pytest.mark.usefixtures("no_wind_error", "no_horizon")
@pytest.mark.parametrize(
    "row", [row for row in rows("equal_time") if row["id"] != "E60"], ids=lambda row: row["id"]
)
def test_equal_time_of_a_flight(row: dict[str, str]) -> None:
    """E60 is farther than planning looks; the others are flown."""
    distance, out, home = (float(row[key]) for key in ("distance_nm", "out_kt", "home_kt"))
    against = (home - out) / 2.0
    wind = Wind(dir_deg_true=90.0 if against >= 0 else 270.0, speed_kt=abs(against))
    asked = flight(START, east(distance), information_min=300.0, tas_kt=(out + home) / 2.0, wind=wind)
    plan = build(asked, good_fields([START, east(distance)]))
    (point,) = plan.equal_times
    assert point.passes_min == pytest.approx(float(row["equal_min"]), abs=0.05)
    assert distances_nm(
        np.array([START.lat_deg]),
        np.array([START.lon_deg]),
        np.array([point.at.lat_deg]),
        np.array([point.at.lon_deg]),
    )[0] == pytest.approx(float(row["equal_nm"]), abs=0.1)


@pytest.mark.usefixtures("no_wind_error", "no_horizon")
@pytest.mark.parametrize(
    "row", [row for row in rows("equal_time") if row["id"] in {"E62", "E64"}], ids=lambda row: row["id"]
)
def test_point_of_safe_return_once_the_supply_has_failed(row: dict[str, str]) -> None:
    """The clock runs from departure on: the last minute to turn for home. E61 and E63 lie beyond the horizon."""
    out, home, hours = (float(row[key]) for key in ("out_kt", "home_kt", "endurance_h"))
    against = (home - out) / 2.0
    asked = flight(
        START, east(300.0), information_min=60.0 * hours, margin_min=0.0, since_failure_min=0.0,
        tas_kt=(out + home) / 2.0, wind=Wind(dir_deg_true=90.0 if against > 0 else 270.0, speed_kt=abs(against)),
    )  # fmt: skip
    plan = build(asked, good_fields([START]))
    assert minutes_with(plan, 0)[-1] == int(60.0 * float(row["safe_return_h"]))


def test_recognition_moves_the_turn_along_the_way_and_not_past_its_end() -> None:
    asked = flight(START, east(110.0), recognition_min=10.0)
    plan = build(asked, good_fields([START]))
    for minute, expected in ((0, 110.0 / 6.0), (30, 110.0 * 4.0 / 6.0), (59, 110.0)):
        at = question_at(asked, plan.track, minute).at
        assert s.apart_nm(0.0, -100.0, at.lat_deg, at.lon_deg) == pytest.approx(expected, abs=0.01)


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(worlds(), st.sampled_from((0.0, 90.0, 215.0)), st.sampled_from((0.0, 20.0, 70.0)))
def test_every_minute_is_what_find_says_there_and_then(
    world: tuple[Question, Situation], bearing: float, miles: float
) -> None:
    question, situation = world
    if question.wind is not None and question.wind.speed_kt > 100.0:
        question = replace(question, wind=Wind(dir_deg_true=200.0, speed_kt=40.0))
    asked = RouteQuestion(
        question=question,
        waypoints=(
            Waypoint(place="here", at=question.at), Waypoint(place="there", at=s.at(bearing, miles, question.at))
        ),
        blocks=(Block(from_min=0, endurance=question.endurance),),
    )  # fmt: skip
    plan = build(asked, situation)
    for minute in range(0, plan.track.minutes.size, 4):
        found = shortlist.build(question_at(asked, plan.track, minute), situation)
        expected = {i: found.basis.arrival.break_out_min[i] for i in np.flatnonzero(found.verdict == MEETS)}
        pairs = plan.ranked[minute]
        assert {int(plan.meeting.field[p]): plan.meeting.break_out_min[p] for p in pairs} == pytest.approx(expected)


def test_over_the_antimeridian() -> None:
    start, end = Position(lat_deg=-17.0, lon_deg=178.5), Position(lat_deg=-17.0, lon_deg=-178.5)
    plan = build(flight(start, end, information_min=90.0), good_fields([start, end]))
    step = distances_nm(plan.lat_deg[:-1], plan.lon_deg[:-1], plan.lat_deg[1:], plan.lon_deg[1:])
    assert step == pytest.approx(110.0 / 60.0, abs=0.001)
    assert plan.gap_min == 0
    assert {stretch.field for stretch in plan.stretches} == {0, 1}


def test_past_the_pole() -> None:
    start, end = Position(lat_deg=89.0, lon_deg=0.0), Position(lat_deg=89.0, lon_deg=180.0)
    plan = build(flight(start, end, information_min=120.0), good_fields([start, end]))
    step = distances_nm(plan.lat_deg[:-1], plan.lon_deg[:-1], plan.lat_deg[1:], plan.lon_deg[1:])
    assert step == pytest.approx(110.0 / 60.0, abs=0.001)
    assert plan.gap_min == 0


def test_a_flight_of_no_length_is_one_minute() -> None:
    plan = build(flight(START, START), good_fields([START]))
    assert plan.track.minutes.tolist() == [0]
    assert [stretch.field for stretch in plan.stretches] == [0]
    assert plan.gap_min == 0


def test_a_wind_that_stops_the_flight_is_said_with_place_and_time() -> None:
    strong = Wind(dir_deg_true=90.0, speed_kt=110.0)
    with pytest.raises(InputError, match=r"the wind stops the aircraft at 0\.00, -9"):
        build(flight(START, east(50.0), wind=strong), good_fields([START]))


def test_data_that_end_before_arrival_leave_a_gap_that_says_why() -> None:
    fields = [east(nm) for nm in range(0, 401, 40)]
    whole = build(flight(START, east(400.0)), good_fields(fields))
    short = build(flight(START, east(400.0)), good_fields(fields, forecast_to_h=3.0))
    assert whole.gap_min == 0
    assert short.stretches[-1].state == "gap"
    reason = why_gap(short, short.stretches[-1])
    assert "weather" in reason.why
    assert reason.closest is not None
    assert reason.closest.verdict == "unknown"
    index = short.situation.airfields.index(reason.closest.airfield)
    assert reason.closest.reasons == entry_at(short, index, reason.minute).reasons


def test_a_minute_in_sight_is_no_gap_and_unknown_is() -> None:
    """One station on the way: a base 500 ft above the aircraft is sight, a lower one or none at all is a gap."""
    high, low = s.conditions(2000, s.P6SM), s.conditions(1900, s.P6SM)  # over 1,000 ft of ground; flown at 2,500
    for said, state in ((high, "visual"), (low, "gap")):
        known = good_fields([east(30.0)], said)
        plan = build(flight(START, east(60.0)), replace(known, airfields=()))
        assert {stretch.state for stretch in plan.stretches if stretch.from_min <= 16 < stretch.to_min} == {state}
        assert plan.stretches[0].state == "gap", "no station within 20 NM: unknown"


def test_sight_by_night_is_no_gap_either_and_is_told_apart() -> None:
    """Sunset at 99.5 W on the equator, 29 February: 00:54Z.

    Noon at 12:00 + 6 h 38 + 12.5 min (equation of time, from memory), and 6 h 03 from there to the rim's setting.
    """
    known = replace(good_fields([east(30.0)], s.conditions(2000, s.P6SM)), airfields=())
    plan = build(flight(START, east(60.0), departs_in_min=400.0), known)  # 00:40Z
    day, night = (stretch for stretch in plan.stretches if stretch.state == "visual")
    assert (day.night, night.night) == (False, True)
    assert day.to_min == night.from_min
    assert 12 <= night.from_min <= 16
    assert plan.visual_night_min == night.to_min - night.from_min
    assert plan.visual_min == plan.visual_night_min + day.to_min - day.from_min
    at_noon = build(flight(START, east(60.0)), known)
    assert at_noon.visual_night_min == 0
    assert not at_noon.night.any()


def test_sight_must_last_until_the_failure_is_noticed() -> None:
    """method.md 3: it flies on until recognition, 5 min. 20 NM around the station at 110 kt: 6 to 27."""
    known = replace(good_fields([east(30.0)], s.conditions(2000, s.P6SM)), airfields=())
    asked = flight(START, east(60.0), recognition_min=5.0)
    assert np.flatnonzero(build(asked, known).visual).tolist() == list(range(6, 23))
    noticed = flight(START, east(60.0), recognition_min=5.0, since_failure_min=10.0)
    assert np.flatnonzero(build(noticed, known).visual).tolist() == list(range(6, 28))


def test_sight_at_the_end_of_the_way_lasts_until_the_landing() -> None:
    known = replace(good_fields([east(60.0)], s.conditions(2000, s.P6SM)), airfields=())
    plan = build(flight(START, east(60.0), recognition_min=5.0), known)
    assert np.flatnonzero(plan.visual).tolist() == list(range(22, 33))  # 40 NM on, to 60 NM


def test_nothing_is_planned_on_what_nobody_knows() -> None:
    fields = good_fields([START, east(50.0)])
    for lasts in (s.endurance(None), s.endurance(dependable=False), s.endurance(3.0, recognition_min=5.0)):
        assert not any(build(flight(START, east(50.0), lasts=lasts), fields).ranked)


def test_refuges_that_share_no_station_come_first() -> None:
    """Three fields of equal certainty: the second best shares the best's stations, the third does not."""
    fields = [east(40.0), s.at(0.0, 8.0, east(40.0)), s.at(180.0, 60.0, east(40.0))]
    plan = build(flight(east(40.0), east(42.0), information_min=75.0), good_fields(fields))
    assert [int(plan.meeting.field[pair]) for pair in plan.ranked[0]] == [0, 2, 1]
    assert plan.ways[0] == 2
    assert plan.second_independent(0) is True
    assert plan.independent(0) == plan.ranked[0][1]


def test_a_second_on_the_same_stations_is_not_independent() -> None:
    """Two fields 8 NM apart share every station within 20 NM; a third of lower certainty would not."""
    fields = [east(40.0), s.at(0.0, 8.0, east(40.0))]
    plan = build(flight(east(40.0), east(42.0), information_min=75.0), good_fields(fields))
    assert len(plan.ranked[0]) == 2
    assert plan.second_independent(0) is False
    assert plan.independent(0) is None
    alone = build(flight(east(40.0), east(42.0), information_min=75.0), good_fields(fields[:1]))
    assert alone.second_independent(0) is None


def test_an_entry_is_the_one_of_find() -> None:
    plan = build(flight(START, east(50.0)), good_fields([START, east(50.0)]))
    found = entry_at(plan, 1, 10)
    assert found.verdict == "meets"
    assert found.airfield.id == "F01"


def test_as_if_dry_a_flight_is_the_one_without_pitot_heat_to_lose() -> None:
    """Blocks that pitot heat does not shorten stay as they are; the flight as it is keeps its gap."""
    situation = good_fields([START, east(50.0)])
    asked = flight(START, east(50.0))
    long, short = asked.blocks[0].endurance, s.endurance(5.0)
    iced = replace(asked, blocks=(Block(from_min=0, endurance=replace(short, dry=long)),))
    plan, whole = build(iced, situation), build(asked, situation)
    dry = as_if_dry(plan)
    assert plan.gap_min > 0
    assert not any(plan.ranked)
    assert plan.shortened.information_min == 5.0
    assert dry is not None
    assert dry.ranked == whole.ranked
    assert all(whole.ranked)
    partly = replace(iced, blocks=(*iced.blocks, Block(from_min=10, endurance=short)))
    half = as_if_dry(build(partly, situation))
    assert half is not None
    assert half.ranked[:10] == whole.ranked[:10]
    assert not any(half.ranked[10:])
    assert as_if_dry(whole) is None
    assert as_if_dry(build(replace(asked, blocks=(Block(from_min=0, endurance=short),)), situation)) is None


def test_a_field_farther_than_planning_looks_is_no_refuge() -> None:
    """150 NM (method.md 2), as `refuge find` has it: 120 min at 110 kt with 30 kt behind would reach 240 NM."""
    asked = flight(START, east(30.0), information_min=200.0, wind=Wind(dir_deg_true=270.0, speed_kt=30.0))
    plan = build(asked, good_fields([east(149.0), east(165.0)]))
    assert minutes_with(plan, 0)[0] == 0
    assert minutes_with(plan, 1)[0] == 7  # 16.4 NM flown at 140 kt after 7 min: 148.7 left; 14.0 after 6


def test_the_heart_of_class_b_airspace_ranks_behind_whatever_else_meets() -> None:
    """Method.md 5: primaries of class B rank last; they still close a gap."""
    situation = good_fields([east(10.0), east(14.0)])
    busy, calm = situation.airfields
    with_busy = replace(situation, airfields=(replace(busy, class_b=True), calm))
    plan = build(flight(START, east(20.0)), with_busy)
    assert [plan.field(int(plan.meeting.field[pair])).id for pair in plan.ranked[0]] == ["F01", "F00"]
    assert build(flight(START, east(20.0)), replace(with_busy, airfields=with_busy.airfields[:1])).gap_min == 0
    unbusy = build(flight(START, east(20.0)), situation)
    assert int(unbusy.meeting.field[unbusy.ranked[0][0]]) == 0
