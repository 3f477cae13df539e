"""Independent ways, lone stations and good weather around, on whole shortlists."""

from datetime import timedelta

from hypothesis import HealthCheck, given, settings

from refuge.flight.around import around, around_words
from refuge.flight.entries import entries, summary
from refuge.flight.good_weather import good_weather
from refuge.flight.question import Question
from refuge.flight.shortlist import build
from refuge.flight.situation import Situation
from refuge.flight.verdict import MEETS
from tests.core.flight import situations as s
from tests.core.flight.worlds import worlds

GOOD, BAD = s.conditions(8000, 10.0), s.conditions(300, 1.0)


def test_refuges_on_one_station_are_one_way() -> None:
    """Two fields borrow from one station (method.md 6: same evidence, one way); a third has its own, far off."""
    fields = [
        s.airfield("F1", s.at(90.0, 20.0)), s.airfield("F2", s.at(90.0, 25.0)),
        s.airfield("F3", s.at(270.0, 30.0), station="XB"),
    ]  # fmt: skip
    stations = [s.station("XA", s.at(90.0, 22.0)), s.station("XB", s.at(270.0, 30.0))]
    found = build(s.question(), s.situation(fields, stations, reports=[s.report(x, GOOD) for x in ("XA", "XB")]))
    shown = {entry.airfield.id: entry for entry in entries(found)}
    assert {entry.verdict for entry in shown.values()} == {"meets"}
    assert shown["F1"].independent_way == shown["F2"].independent_way != shown["F3"].independent_way
    assert found.ways.count == 2
    assert "Independent of each other: 2 ways" in summary(found)
    alone = build(s.question(), s.situation(fields[:2], stations[:1], reports=[s.report("XA", GOOD)]))
    assert "one way, not 2" in summary(alone)


def test_a_lone_good_station_among_bad_ones_is_named() -> None:
    places = {"XA": s.at(90.0, 20.0), "XB": s.at(90.0, 30.0), "XC": s.at(90.0, 8.0), "XD": s.at(80.0, 12.0)}
    stations = [s.station(name, where) for name, where in places.items()]
    reports = [s.report(name, GOOD if name == "XA" else BAD) for name in places]
    found = build(
        s.question(), s.situation([s.airfield("F", places["XA"], station="XA")], stations, reports=reports)
    )
    assert found.word(0) == "misses"
    seen = around(found, 0)
    assert seen.lone == "XA"
    assert set(seen.missing) == {"XB", "XC", "XD"}
    assert "XA alone is good among 3 that miss" in around_words(seen)
    (entry,) = entries(found)
    assert "alone is good" in entry.checks["area"].why


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(worlds())
def test_heads_of_ways_share_no_evidence(world: tuple[Question, Situation]) -> None:
    found = build(*world)
    weighed, heads = found.basis.weighed, found.ways.heads
    assert (found.ways.way > 0).tolist() == (found.verdict == MEETS).tolist()
    assert sorted(set(found.ways.way[found.verdict == MEETS].tolist())) == list(range(1, found.ways.count + 1))

    def rests(i: int) -> set[int]:
        return {
            int(station)
            for inquiry in (weighed.inquiry, weighed.area_inquiry)
            for near in (inquiry.reports, inquiry.forecasts)
            for station in near.station[near.field == i]
        }

    for head in heads:
        assert all(not rests(head) & rests(other) for other in heads if other != head)


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(worlds())
def test_good_weather_is_where_stations_are_good(world: tuple[Question, Situation]) -> None:
    found = build(*world)
    weather = good_weather(found.basis)
    assert 0 <= weather.good <= weather.stations
    assert all(0 <= share <= 1 for i in range(found.verdict.size) for share in (around(found, i).shares.good,))
    for area in weather.areas:
        assert area.stations
        assert weather.good
        assert area.width_nm >= 5.0


def test_good_weather_at_the_end_of_the_budget() -> None:
    """Turn after 5 min, 120 - 5 - 15 = 100 min budget: 105 min from now (method.md 2)."""
    stations = [s.station("XA", s.at(225.0, 60.0)), s.station("XB", s.at(0.0, 60.0))]
    known = s.situation(
        [s.airfield("F", s.at(225.0, 60.0), station="XA")],
        stations,
        reports=[s.report("XA", GOOD), s.report("XB", BAD)],
        forecasts=[s.forecast("XA", GOOD), s.forecast("XB", GOOD)],
    )
    found = build(s.question(), known)
    weather = good_weather(found.basis)
    assert weather.when == s.NOW + timedelta(minutes=105)
    assert [area.direction for area in weather.areas] == ["south-west"]
    soon = good_weather(found.basis, s.NOW + timedelta(minutes=10))
    assert [area.direction for area in soon.areas] == ["south-west"]


def test_neighbours_that_disagree_are_named_and_the_worst_counts() -> None:
    """A field borrows from two stations, one good and one bad (method.md 4: the worst of them counts)."""
    stations = [s.station("XA", s.at(90.0, 20.0)), s.station("XB", s.at(90.0, 35.0))]
    found = build(
        s.question(),
        s.situation(
            [s.airfield("F", s.at(90.0, 28.0))], stations, reports=[s.report("XA", GOOD), s.report("XB", BAD)]
        ),
    )
    (entry,) = entries(found)
    assert entry.checks["weather"].verdict == "misses"
    assert "reports disagree: XA good, XB not; the worst of them counts" in entry.checks["weather"].why
