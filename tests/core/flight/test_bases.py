"""The base over a way: hand-made cases, and agreement with what sight goes by."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refuge.flight.bases import BOTTOM_FT, Bases, bases_along
from refuge.flight.basis import shared_of
from refuge.flight.question import Question
from refuge.flight.situation import Situation
from refuge.flight.track import Block, RouteQuestion, Waypoint, fly
from refuge.flight.verdict import MEETS, MISSES
from refuge.flight.visual import BELOW_BASE_FT, overhead, visual_codes
from refuge.weather.sky import Ceiling, CeilingAt, UnknownCeiling
from tests.core.flight import situations as s
from tests.core.flight.flights import START, east, flight
from tests.core.flight.worlds import worlds

INF = np.inf


def along(asked: RouteQuestion, known: Situation) -> Bases:
    return bases_along(asked, fly(asked, known), shared_of(known, asked.question.now))


def over_one(
    *ceilings: Ceiling | int, elevation_ft: float | None = 1000.0, heard: bool = True
) -> tuple[float, float]:
    """Return what is known in the first minute over stations with these ceilings, 2 NM from each other."""
    stations = [s.station(f"S{i}", east(2.0 * i), elevation_ft=elevation_ft) for i in range(len(ceilings))]
    reports = [s.report(station.id, s.conditions(c, s.P6SM)) for station, c in zip(stations, ceilings, strict=True)]
    known = s.situation(
        [], stations, reports=reports if heard else [], hearing={station.id: s.REPORTS_ONLY for station in stations}
    )
    found = along(flight(START, east(10.0)), known)
    return float(found.clear_ft_amsl[0]), float(found.ceiling_ft_amsl[0])


@pytest.mark.parametrize(
    ("ceiling", "clear", "known"),
    [
        # Heights of clouds are above the station (WMO-No. 306, FM 15, 15.9): elevation and ceiling add up.
        (CeilingAt(ft_agl=1200), 2200.0, 2200.0),
        (CeilingAt(ft_agl=1250), 2200.0, 2200.0),  # down to the step below, never up
        (CeilingAt(ft_agl=0), 1000.0, 1000.0),
        (s.HIDDEN, 1000.0, 1000.0),  # VV///: a ceiling on the ground (decoding.md)
        (s.SKC, INF, INF),
        (s.CLR, 13000.0, INF),  # CLR: none below 12,000 ft (method.md 4)
        (s.CAVOK, 6000.0, INF),  # none below 5,000 ft (method.md 4)
        (s.NO_SKY, -INF, INF),
        (UnknownCeiling(reason="BKN///", at_best_ft_agl=800), -INF, 1800.0),  # unknown, and no higher than that
    ],
)
def test_one_station(ceiling: Ceiling, clear: float, known: float) -> None:
    assert over_one(ceiling) == (clear, known)


def test_the_lowest_of_several_stations_counts() -> None:
    assert over_one(3000, 900, 5000) == (1900.0, 1900.0)
    assert over_one(s.CAVOK, 9000) == (6000.0, 10000.0), "none below 5,000 here, a base at 9,000 there"
    assert over_one(s.NO_SKY, 900) == (-INF, 1900.0), "what nobody knows may lie lower still"


def test_what_nobody_tells_proves_nothing() -> None:
    assert over_one(900, heard=False) == (-INF, INF), "a silent station"
    assert over_one() == (-INF, INF), "no station within 20 NM"
    assert over_one(900, elevation_ft=None) == (-INF, INF), "nobody knows how high the station stands"


def test_it_changes_along_the_way_and_in_time() -> None:
    """110 kt: 20 NM from a station are 10.9 min. A forecast to fog counts from the timing error before it."""
    stations = [s.station("XW", START), s.station("XE", east(80.0))]
    reports = [s.report("XW", s.conditions(2000, s.P6SM)), s.report("XE", s.conditions(4000, s.P6SM))]
    hearing = {"XW": s.REPORTS_ONLY, "XE": s.REPORTS_ONLY}
    found = along(flight(START, east(80.0)), s.situation([], stations, reports=reports, hearing=hearing))
    assert [found.clear_ft_amsl[m] for m in (0, 10, 11, 32, 33, 40)] == [3000.0, 3000.0, -INF, -INF, 5000.0, 5000.0]
    assert found.clear_ft_amsl[41] == -INF, "a report of 20 min ago carries 60 min (method.md 4)"
    assert np.isinf(found.ceiling_ft_amsl[11:33]).all()
    fog = s.forecast("XW", s.conditions(6000, s.P6SM), s.group("FM", 3.0, 12.0, s.conditions(200, s.P6SM)))
    known = s.situation([], [stations[0]], reports=[reports[0]], forecasts=[fog], hearing={"XW": s.HEARD})
    later = flight(START, east(10.0))
    later = replace(later, question=replace(later.question, fails_at=later.question.now + s.minutes(150.0)))
    assert along(later, known).ceiling_ft_amsl[0] == 1200.0, (
        "150 min ahead, timing error 45 (method.md 4): 3 h is in"
    )


@settings(max_examples=80, suppress_health_check=[HealthCheck.too_slow])
@given(worlds(), st.floats(-1400.0, 20000.0))
def test_it_says_what_sight_goes_by(world: tuple[Question, Situation], height_ft: float) -> None:
    """Any height below the proved one meets, any above a known ceiling misses; sight never goes above the proof."""
    question, known = world
    if question.wind is not None:
        question = replace(question, wind=s.STILL)
    asked = RouteQuestion(
        question=question,
        waypoints=(
            Waypoint(place="here", at=question.at), Waypoint(place="there", at=s.at(90.0, 60.0, question.at))
        ),
        blocks=(Block(from_min=0, endurance=question.endurance),),
    )  # fmt: skip
    track, shared = fly(asked, known), shared_of(known, question.now)
    found = bases_along(asked, track, shared)
    minutes = track.minutes.astype(float)
    lat, lon = track.at(minutes)
    at_s = asked.departs.timestamp() + 60.0 * minutes
    heights = np.full(minutes.shape, height_ft)
    over = overhead(shared, lat, lon, at_s=at_s, slip_min=question.slip_min, now=question.now)
    codes = over.said(shared, heights, seeing=False)
    assert (codes[heights <= found.clear_ft_amsl] == MEETS).all()
    assert (codes[heights >= found.clear_ft_amsl + 100.0] < MEETS).all()
    assert (codes[heights <= found.ceiling_ft_amsl] > MISSES).all()
    assert (codes[heights >= np.maximum(found.ceiling_ft_amsl, BOTTOM_FT) + 100.0] == MISSES).all()
    sight = visual_codes(
        shared, lat, lon, altitude_ft=heights, at_s=at_s, slip_min=question.slip_min, now=question.now
    )
    assert (found.clear_ft_amsl[sight == MEETS] >= height_ft + BELOW_BASE_FT - 100.0).all()
