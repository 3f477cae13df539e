"""What is shown: values and words of single airfields."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from refuge.flight.entries import entries, summary
from refuge.flight.minimums import FLOOR
from refuge.flight.question import Question
from refuge.flight.shortlist import build
from refuge.flight.situation import Situation
from refuge.flight.verdict import WORDS, worst
from refuge.weather.conditions import Conditions
from refuge.weather.sky import Ceiling, CeilingAt, NoCeiling, UnknownCeiling
from tests.core.flight import situations as s
from tests.core.flight.worlds import worlds

GOOD = s.conditions(s.SKC, 10.0)


def near(field_ft: float | None = 1000.0, station_ft: float | None = 1000.0, said: Conditions = GOOD) -> Situation:
    """Return a field that borrows a report and a forecast from 10 NM away."""
    return s.situation(
        [s.airfield("F", s.HERE, elevation_ft=field_ft)],
        [s.station("XA", s.at(0.0, 10.0), elevation_ft=station_ft)],
        reports=[s.report("XA", said)],
        forecasts=[s.forecast("XA", said)],
    )


@settings(max_examples=60)
@given(worlds())
def test_every_entry_can_be_shown(world: tuple[Question, Situation]) -> None:
    found = build(*world)
    shown = list(entries(found))
    assert [entry.airfield.id for entry in shown] == [world[1].airfields[i].id for i in found.order]
    for entry in shown:
        assert (entry.break_out_min is None) == (entry.window is None) == (entry.arrival_latest is None)
        if entry.window is not None:
            assert world[0].now <= entry.window[0] <= entry.window[1]
        assert (entry.verdict == "meets") == (not entry.reasons)
        assert {e.station for e in entry.evidence} <= set(world[1].stations)
        if entry.verdict == "meets":
            assert not isinstance(entry.adverse.ceiling, UnknownCeiling)
    assert summary(found)


def test_the_first_few_hold_everything_that_meets() -> None:
    places = [s.at(bearing, 25.0) for bearing in (0.0, 90.0, 180.0, 270.0)]
    names = ["XA", "XB", "XC", "XD"]
    stations = [s.station(name, where) for name, where in zip(names, places, strict=True)]
    fields = [s.airfield(f"F{name}", where, station=name) for name, where in zip(names, places, strict=True)]
    reports = [s.report(name, GOOD) for name in names[:3]] + [s.report("XD", s.conditions(300, 1.0))]
    found = build(s.question(), s.situation(fields, stations, reports=reports))
    assert len(list(entries(found, 1))) == found.meeting == 3
    assert len(list(entries(found, 10))) == 4
    counts = "3 of 4 airfields in question meet, 1 misses, 0 are unknown"
    # 35 NM apart: no station stands within 20 NM of two of them, nothing is shared.
    assert summary(found).startswith(f"{counts}. Independent of each other: 3 ways (")


def test_a_borrowed_entry_says_from_whom_how_far_and_until_when() -> None:
    entry = next(entries(build(s.question(), near())))
    assert [(e.kind, e.station, e.borrowed, round(e.distance_nm, 3)) for e in entry.evidence] == [
        ("METAR", "XA", True, 10.0), ("TAF", "XA", True, 10.0),
    ]  # fmt: skip
    report, forecast = entry.evidence
    assert report.time == s.NOW - s.minutes(20)
    assert report.stale_at == s.NOW + s.minutes(55)
    assert forecast.stale_at is not None
    assert entry.certainty.word in {"fair", "low"}
    assert entry.spare_min == pytest.approx(100 - 5)


@pytest.mark.parametrize(
    ("said", "field_ft", "station_ft", "shown"),
    [
        (s.conditions(3000, 10.0), 1000.0, 800.0, CeilingAt(ft_agl=2800)),
        (s.conditions(3000, 10.0), 1000.0, 1800.0, CeilingAt(ft_agl=3000)),
        (s.conditions(100, 10.0), 1000.0, 800.0, CeilingAt(ft_agl=0)),
        (s.conditions(s.CLR, 10.0), 1000.0, 800.0, NoCeiling(none_below_ft=11800, evidence="CLR")),
        (s.conditions(s.SKC, 10.0), 1000.0, 800.0, s.SKC),
        (
            s.conditions(UnknownCeiling(reason="BKN///", at_best_ft_agl=900), 10.0), 1000.0, 800.0,
            UnknownCeiling(reason="BKN///", at_best_ft_agl=700),
        ),
        (s.conditions(s.NO_SKY, 10.0), None, 800.0, s.NO_SKY),
    ],
)  # fmt: skip
def test_a_borrowed_ceiling_is_shown_over_the_field(
    said: Conditions, field_ft: float | None, station_ft: float, shown: Ceiling
) -> None:
    entry = next(entries(build(s.question(), near(field_ft, station_ft, said))))
    assert entry.prevailing.ceiling == entry.adverse.ceiling == shown


def test_a_ceiling_over_an_unknown_height_is_unknown_and_keeps_what_it_is_at_best() -> None:
    entry = next(entries(build(s.question(), near(None, said=s.conditions(900, 10.0)))))
    assert isinstance(entry.adverse.ceiling, UnknownCeiling)
    assert entry.adverse.ceiling.at_best_ft_agl == 900


def test_silence_is_named() -> None:
    silent = replace(near(), observations={}, hearing={"XA": s.HEARD})
    entry = next(entries(build(s.question(), silent)))
    assert entry.evidence[0].time is None
    assert any("XA is silent" in reason for reason in entry.reasons)


@pytest.mark.parametrize(
    ("question", "says"),
    [
        (s.question(lasts=s.endurance(None)), "nobody knows how long the instruments last"),
        (s.question(lasts=s.endurance(dependable=False)), "the endurance cannot be depended on"),
        (
            s.question(lasts=replace(s.endurance(dependable=False), doubts=("battery is old",))),
            "the endurance cannot be depended on (battery is old)",
        ),
        (s.question(lasts=s.endurance(10.0)), "the time that the instruments last, in this wind"),
        (s.question(wind=None, lasts=s.endurance(10.0)), "no wind is known along the way: give --wind"),
        (s.question(lasts=replace(s.endurance(10.0), with_torch="61 min")), "a torch would make it 61 min"),
        (s.question(lowest_safe_ft_amsl=None), "give --lowest-safe"),
        (s.question(minimums=replace(FLOOR, runway_length_ft=2000.0)), "runways"),
    ],
)
def test_when_nothing_meets_the_summary_says_what_stands_in_the_way(question: Question, says: str) -> None:
    assert says in summary(build(question, near()))


@pytest.mark.parametrize(
    ("lights", "handheld", "says"),
    [
        (("unknown", "unknown", "none"), False, "darkness: lights that burn without a radio are not known"),
        (("unknown", "radio", "none"), False, "darkness: no lights that burn without a radio through the landing"),
        (("unknown", "none", "none"), True, "darkness: no lights that burn through the landing"),
    ],
)
def test_darkness_in_the_way_says_whether_lights_are_known_not_to_burn(
    lights: tuple[s.Lights, ...], handheld: bool, says: str
) -> None:
    """Ten hours after noon at 100 W it is dark (local midnight is near 07:00Z)."""
    fields = [s.airfield(f"F{i}", s.HERE, station="XA", lights=each) for i, each in enumerate(lights)]
    known = s.situation(
        fields, [s.station("XA", s.HERE)], reports=[s.report("XA", GOOD)],
        forecasts=[s.forecast("XA", GOOD, to_h=24.0)],
    )  # fmt: skip
    question = s.question(fails_in_min=720.0, handheld=handheld)
    assert says in summary(build(question, known))
    never = replace(FLOOR, night="not planned")
    assert "the minimums do not plan for night" in summary(build(replace(question, minimums=never), known))


def test_weather_or_darkness_in_the_way() -> None:
    low = summary(build(s.question(), near(said=s.conditions(300, 1.0))))
    assert "0 of 1" in low
    dark = s.situation(
        [s.airfield("F", s.HERE, station="XA", lights="unknown")], [s.station("XA", s.HERE)],
        reports=[s.report("XA", GOOD, now=s.NOW - s.minutes(720))], now=s.NOW - s.minutes(720),
    )  # fmt: skip
    assert "darkness" in summary(build(s.question(now=s.NOW - s.minutes(720)), dark))


def test_a_check_that_was_not_made_never_counts() -> None:

    codes = [np.array([3, 3, 3, 2], dtype=np.int8), np.array([3, 0, 2, 1], dtype=np.int8)]
    assert [WORDS[int(code)] for code in worst(*codes)] == ["unknown", "misses", "meets", "unknown"]
