"""What certainty is made of: the table at the head of refuge.flight.certainty (its figures are proposals)."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from refuge.flight.certainty import certainty_words
from refuge.flight.question import Question
from refuge.flight.shortlist import Shortlist, build
from refuge.flight.situation import Situation
from refuge.flight.state_arrays import is_convective
from refuge.flight.verdict import MEETS
from refuge.weather.reports import Observation
from tests.core.flight import situations as s
from tests.core.flight.worlds import worlds

GOOD = s.conditions(8000, 10.0)
HERE, NEXT = s.at(90.0, 5.0), s.at(90.0, 12.0)


def found(*reports: Observation, earlier: Observation | None = None) -> Shortlist:
    """Return the answer for a field with its own report and forecast, and a neighbour that reports."""
    known = s.situation(
        [s.airfield("F", HERE, station="XA")],
        [s.station("XA", HERE), s.station("XB", NEXT)],
        reports=reports or (s.report("XA", GOOD), s.report("XB", GOOD)),
        forecasts=[s.forecast("XA", GOOD), s.forecast("XB", GOOD)],
    )
    if earlier is not None:
        known = replace(known, earlier={earlier.station: earlier})
    return build(s.question(), known)


def why(answer: Shortlist) -> str:
    return "; ".join(certainty_words(answer.factors, 0))


def test_own_report_own_forecast_and_a_neighbour_that_agrees_are_as_sure_as_it_gets() -> None:
    answer = found()
    assert (answer.certainty[0].word, answer.certainty[0].score) == ("high", 1.0)
    assert why(answer) == ""


def test_a_small_spread_lowers_it_and_one_that_closes_more() -> None:
    near = s.report("XA", GOOD, temperature_c=12.0, dew_point_c=10.0)
    wide = s.report("XA", GOOD, age_min=80.0, temperature_c=15.0, dew_point_c=9.0)
    still = found(near, s.report("XB", GOOD))
    closing = found(near, s.report("XB", GOOD), earlier=wide)
    assert (still.certainty[0].score, closing.certainty[0].score) == (0.8, 0.6)
    assert "within 3 C" in why(still)
    assert "closing" not in why(still)
    assert "closing" in why(closing)


@pytest.mark.parametrize(
    ("then", "now", "falls"),
    [(8000, 4000, True), (4200, 4000, False), (4500, 4000, True), (20000, 8000, False), (3000, 4000, False)],
)
def test_a_falling_ceiling_is_a_sign(then: int, now: int, falls: bool) -> None:
    """Lower by a tenth or more, and under 5,000 ft."""
    reports = s.report("XA", s.conditions(now, 10.0)), s.report("XB", GOOD)
    answer = found(*reports, earlier=s.report("XA", s.conditions(then, 10.0), age_min=80.0))
    assert ("ceiling is falling" in why(answer)) == falls


def test_a_neighbour_that_only_just_meets_is_said() -> None:
    """The floor by day is 1,500 ft: half as much again is 2,250 ft; 2,000 ft meets, and does not agree."""
    answer = found(s.report("XA", GOOD), s.report("XB", s.conditions(2000, 10.0)))
    assert answer.word(0) == "meets"
    assert answer.certainty[0].score == 0.8  # one of two: not fewer than half
    assert "1 of 2 reports around" in why(answer)


def test_sunset_near() -> None:
    """Sunset at 40N 100W on 29 February 2024 is about 00:23Z (18:23 local, an almanac; from memory)."""

    def at(hours: float) -> str:
        when = s.NOW + s.minutes(60 * hours)
        known = s.situation(
            [s.airfield("F", HERE, station="XA")], [s.station("XA", HERE)],
            reports=[s.report("XA", GOOD, now=when)], now=when,
        )  # fmt: skip
        return why(build(s.question(now=when), known))

    assert "sunset" not in at(0.0)
    assert "sunset" in at(6.0)
    assert "sunset" not in at(11.0)


@settings(max_examples=80, suppress_health_check=[HealthCheck.too_slow])
@given(worlds())
def test_every_certainty_is_the_product_and_names_what_lowers_it(world: tuple[Question, Situation]) -> None:
    answer = build(*world)
    score = answer.factors.score
    assert ((score > 0.0) & (score <= 1.0)).all()
    for i in range(answer.verdict.size):
        words = list(certainty_words(answer.factors, i))
        assert bool(words) == bool(score[i] < 1.0)
        expected = round(float(score[i]), 2) if answer.verdict[i] == MEETS else 0.0
        assert answer.certainty[i].score == expected
    assert np.isfinite(score).all()


@pytest.mark.parametrize("word", ["VCTS", "VCFC"])
def test_a_storm_or_a_funnel_cloud_in_the_vicinity_lowers_it(word: str) -> None:
    """method.md 4: VCTS, CB, TCU lower certainty; VC goes with FC too (WMO-No. 306, from memory)."""
    assert is_convective(s.conditions(s.SKC, s.P6SM, (word,)))
    assert not is_convective(s.conditions(s.SKC, s.P6SM, ("VCSH",)))
