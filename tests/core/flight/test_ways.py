"""Ways out of a gap: tried together they come to what each flight comes to by itself."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refuge.flight.arrival import Window
from refuge.flight.bars import BarsByLimits
from refuge.flight.basis import basis_of, shared_of
from refuge.flight.decide import CheckName, codes_of
from refuge.flight.question import Question, Wind
from refuge.flight.route import build
from refuge.flight.situation import Situation
from refuge.flight.track import Block, RouteQuestion, Waypoint
from refuge.flight.verdict import MEETS
from refuge.flight.ways import Variant, ways
from tests.core.flight import situations as s
from tests.core.flight.flights import START, east, flight, good_fields
from tests.core.flight.worlds import worlds


def variant(asked: RouteQuestion, **changed: object) -> Variant:
    question = replace(asked.question, **changed)  # type: ignore[arg-type]
    return Variant(kind="departure", label="", cost="", asked=replace(asked, question=question))


def variants_of(asked: RouteQuestion) -> list[Variant]:
    """Return a flight at several hours and levels, with other margins, minimums of height and winds."""
    question = asked.question
    hours = [
        variant(asked, fails_at=question.fails_at + timedelta(minutes=minutes), altitude_ft=level)
        for minutes in (0, 50, 110, 400)
        for level in (question.altitude_ft, question.altitude_ft + 3000.0)
    ]
    return [
        *hours,
        variant(asked, margin_min=question.margin_min + 10.0),
        variant(asked, lowest_safe_ft_amsl=None),
        variant(asked, wind=Wind(dir_deg_true=310.0, speed_kt=25.0)),
        variant(asked),
    ]


def apart(variants: Sequence[Variant], situation: Situation) -> list[tuple[int, int, float]]:
    plans = [build(variant.asked, situation) for variant in variants]
    return [(plan.gap_min, plan.visual_min, plan.track.total_min) for plan in plans]


def together(variants: Sequence[Variant], situation: Situation) -> list[tuple[int, int, float]]:
    return [(way.gap_min, way.visual_min, way.total_min) for way in ways(variants, situation)]


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(worlds(), st.sampled_from((0.0, 90.0, 215.0)), st.sampled_from((0.0, 12.0, 40.0)))
def test_ways_are_what_their_flights_come_to(
    world: tuple[Question, Situation], bearing: float, miles: float
) -> None:
    question, situation = world
    if question.wind is not None and question.wind.speed_kt > 60.0:
        question = replace(question, wind=Wind(dir_deg_true=200.0, speed_kt=40.0))
    there = Waypoint(place="there", at=s.at(bearing, miles, question.at))
    variants = variants_of(
        RouteQuestion(
            question=question,
            waypoints=(Waypoint(place="here", at=question.at), there),
            blocks=(Block(from_min=0, endurance=question.endurance),),
        )
    )
    assert together(variants, situation) == apart(variants, situation)


def test_ways_by_hours_in_which_a_forecast_ends() -> None:
    """Nobody foretells the last hours: later flights have longer gaps, and each its own."""
    situation = good_fields([START, east(60.0), east(150.0)], forecast_to_h=5.0)
    variants = variants_of(flight(START, east(200.0)))
    found = together(variants, situation)
    assert found == apart(variants, situation)
    gaps = [gap for gap, _, _ in found]
    assert min(gaps) < max(gaps)


def test_ways_around_the_hours_of_temporary_fog() -> None:
    """What is temporary bars the windows that it touches, and none before or after: every ten minutes a flight."""
    fog, places = s.conditions(200, 0.5), [START, east(60.0), east(120.0)]
    known = good_fields(places)
    hours = {"X00": (3.0, 4.0), "X01": (3.5, 5.0), "X02": (4.0, 4.5)}
    changed = {
        name: tuple(replace(one, groups=(*one.groups, s.group("TEMPO", *hours[name], fog))) for one in own)
        for name, own in known.forecasts.items()
    }
    situation = replace(known, forecasts=changed)
    asked = flight(START, east(120.0), information_min=60.0)
    variants = [
        variant(asked, fails_at=asked.question.fails_at + timedelta(minutes=minutes), altitude_ft=level)
        for minutes in range(0, 480, 10)
        for level in (2500.0, 6500.0)
    ]
    found = together(variants, situation)
    assert found == apart(variants, situation)
    gaps = [gap for gap, _, _ in found[::2]]
    assert gaps[0] == 0
    assert max(gaps) > 30
    assert gaps[-1] == 0


def test_ways_on_reports_that_expect_no_change() -> None:
    """A report alone with NOSIG carries two hours (method.md 4), and nothing after them."""
    places, names = [START, east(40.0)], ["X00", "X01"]
    situation = s.situation(
        [s.airfield(f"F{name}", at, station=name) for name, at in zip(names, places, strict=True)],
        [s.station(name, at) for name, at in zip(names, places, strict=True)],
        reports=[s.report(name, s.conditions(), nosig=True) for name in names],
        hearing=dict.fromkeys(names, s.REPORTS_ONLY),
    )
    asked = flight(START, east(40.0), information_min=60.0)
    variants = [
        variant(asked, fails_at=asked.question.fails_at + timedelta(minutes=minutes))
        for minutes in range(0, 160, 5)
    ]
    found = together(variants, situation)
    assert found == apart(variants, situation)
    gaps = [gap for gap, _, _ in found]
    assert gaps[12] == 0  # an hour from now
    assert gaps[-1] > 0


@pytest.mark.parametrize("fields", [[], [START]])
def test_ways_where_there_is_little(fields: list[object]) -> None:
    situation = replace(good_fields([START]), airfields=good_fields([START]).airfields[: len(fields)])
    variants = variants_of(flight(START, east(50.0)))
    assert together(variants, situation) == apart(variants, situation)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(worlds())
def test_nothing_that_is_barred_meets_weather_and_light(world: tuple[Question, Situation]) -> None:
    question, situation = world
    basis = basis_of(question, situation)
    codes = codes_of(basis)
    bars = BarsByLimits(situation=situation, shared=shared_of(situation, question.now)).of(question)
    arrival, every = basis.arrival, np.arange(len(situation.airfields))
    window = Window(
        earliest_s=arrival.earliest_s, latest_s=arrival.latest_s, landed_s=arrival.landed_s,
        start_s=arrival.start_s, end_s=arrival.end_s,
    )  # fmt: skip
    asked: list[CheckName] = ["weather", "area"]
    if question.lowest_safe_ft_amsl is not None:
        asked.append("break_out")
    weather = np.logical_and.reduce([codes[name] == MEETS for name in asked])
    assert not (bars.barred(every, window) & weather).any()
    assert not (bars.dark(every, window) & (codes["light"] == MEETS)).any()
