"""The strictest of floor, school and pilot, and what is said of it."""

import csv
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.errors import InputError
from refuge.flight.minimums import FLOOR, STANDARD, Limits, Minimums, Wanted, beyond_reports, strictest

TABLE = Path(__file__).resolve().parents[3] / "fixtures" / "reference" / "minimums.csv"


def rows() -> list[dict[str, str]]:
    with TABLE.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def number(text: str) -> float | None:
    return float(text) if text else None


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["id"])
def test_worked_cases(row: dict[str, str]) -> None:
    school = Wanted(
        day_ceiling_ft=number(row["school_ceiling_ft"]), day_visibility_sm=number(row["school_visibility_sm"])
    )
    pilot = Wanted(
        day_ceiling_ft=number(row["pilot_ceiling_ft"]),
        day_visibility_sm=number(row["pilot_visibility_sm"]),
        adverse=("fatigue", "unfamiliar field")[: int(row["adverse_factors"])],
    )
    if row["refused"] == "yes":
        with pytest.raises(InputError, match="pilot: day ceiling_ft 1,200 is below the floor of 1,500") as caught:
            strictest(school=school, pilot=pilot)
        assert caught.value.exit_code == 2
        return
    found = strictest(school=school, pilot=pilot).day
    assert (found.ceiling_ft, found.visibility_sm) == (float(row["ceiling_ft"]), float(row["visibility_sm"]))


def test_floor_and_standard() -> None:
    # method.md 5
    assert (FLOOR.day, FLOOR.night) == (
        Limits(ceiling_ft=1500, visibility_sm=3),
        Limits(ceiling_ft=2000, visibility_sm=5),
    )
    assert (STANDARD.day, STANDARD.night) == (
        Limits(ceiling_ft=2500, visibility_sm=5),
        Limits(ceiling_ft=4000, visibility_sm=6),
    )


def test_nobody_asks_for_anything() -> None:
    found = strictest()
    assert (found.day, found.night, found.said) == (FLOOR.day, FLOOR.night, ())
    unset = (found.runway_length_ft, found.hard_surface, found.max_crosswind_kt, found.margin_min)
    assert unset == (None, None, None, None)


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"day_visibility_sm": 2.9}, "day visibility_sm 2.9 is below the floor of 3"),
        ({"night_ceiling_ft": 1999}, "night ceiling_ft 1,999 is below the floor of 2,000"),
        ({"night_visibility_sm": 3}, "night visibility_sm 3 is below the floor of 5"),
        ({"day_ceiling_ft": float("nan")}, "day ceiling_ft nan is below"),
        ({"day_ceiling_ft": float("inf")}, "day ceiling_ft inf is"),
        ({"runway_length_ft": float("nan")}, "runway_length_ft must be 0 or more"),
        ({"max_crosswind_kt": -1}, "max_crosswind_kt must be 0 or more"),
        ({"margin_min": float("inf")}, "margin_min must be 0 or more"),
    ],
)
@pytest.mark.parametrize("who", ["school", "pilot"])
def test_below_the_floor_is_refused(changes: dict[str, Any], fault: str, who: str) -> None:
    asked: dict[str, Any] = {who: Wanted(**changes)}
    with pytest.raises(InputError, match=f"{who}: {fault}"):
        strictest(**asked)


def test_a_pilot_below_the_school_is_raised_and_it_is_said() -> None:
    school = Wanted(day_ceiling_ft=3000, runway_length_ft=2500, max_crosswind_kt=10, margin_min=20)
    pilot = Wanted(day_ceiling_ft=2000, runway_length_ft=2000, max_crosswind_kt=15, margin_min=15)
    found = strictest(school=school, pilot=pilot)
    assert found.day.ceiling_ft == 3000
    assert (found.runway_length_ft, found.max_crosswind_kt, found.margin_min) == (2500, 10, 20)
    assert found.said == (
        "pilot's day ceiling_ft of 2,000 is below the school's: 3,000 counts",
        "pilot's runway_length_ft of 2,000 is below the school's: 2,500 counts",
        "pilot's margin_min of 15 is below the school's: 20 counts",
        "pilot's max_crosswind_kt of 15 is above the school's: 10 counts",
    )


def test_a_pilot_above_the_school_counts_in_silence() -> None:
    school = Wanted(day_ceiling_ft=2500, max_crosswind_kt=15, margin_min=10)
    found = strictest(school=school, pilot=Wanted(day_ceiling_ft=3000, max_crosswind_kt=10, margin_min=20))
    assert (found.day.ceiling_ft, found.max_crosswind_kt, found.margin_min) == (3000, 10, 20)
    assert found.said == ()


def test_without_a_school_a_pilot_may_have_more_margin_and_not_less() -> None:
    assert strictest(pilot=Wanted(margin_min=20)).margin_min == 20
    found = strictest(pilot=Wanted(margin_min=5))
    assert found.margin_min == 15  # the usual margin, 14 CFR 121.633
    assert found.said == ("pilot's margin_min of 5 is below the usual margin: 15 counts",)


def test_night_not_planned_by_either_wins() -> None:
    night = Wanted(night_ceiling_ft=4000, night_visibility_sm=6)
    none = Wanted(night="not planned")
    assert strictest(school=night, pilot=none).night == "not planned"
    found = strictest(school=none, pilot=night)
    assert found.night == "not planned"
    assert found.said == ("pilot's night minimums do not count: the school plans no night flight",)


def test_a_floor_without_night_stays_without() -> None:
    found = strictest(school=Wanted(night_ceiling_ft=4000), floor=replace(FLOOR, night="not planned"))
    assert found.night == "not planned"


def test_adverse_factors_tighten_everything_once() -> None:
    wanted = Wanted(night_ceiling_ft=4000, night_visibility_sm=6, runway_length_ft=2000, max_crosswind_kt=12)
    one = strictest(pilot=replace(wanted, adverse=("fatigue",)))
    two = strictest(pilot=replace(wanted, adverse=("fatigue", "pressure")))
    # reference.md 10.1: +500 ft, +1/2 SM, -5 kt, +500 ft of runway
    assert one.night == Limits(ceiling_ft=4500, visibility_sm=6.5)
    assert (one.runway_length_ft, one.max_crosswind_kt) == (2500, 7)
    assert (two.day, two.night, two.max_crosswind_kt) == (one.day, one.night, one.max_crosswind_kt)
    assert len(one.said) == 1
    assert "think of more" in two.said[1]


def test_hard_surface_is_asked_for_by_either() -> None:
    assert strictest(school=Wanted(hard_surface=True), pilot=Wanted(hard_surface=False)).hard_surface is True
    assert strictest(school=Wanted(hard_surface=False)).hard_surface is None


def optional(low: int, high: int) -> st.SearchStrategy[int | None]:
    return st.none() | st.integers(low, high)


wanted = st.builds(
    Wanted,
    day_ceiling_ft=optional(1500, 6000),
    day_visibility_sm=optional(3, 10),
    night=st.sampled_from((None, "not planned")),
    night_ceiling_ft=optional(2000, 6000),
    night_visibility_sm=optional(5, 10),
    runway_length_ft=optional(0, 9000),
    hard_surface=st.none() | st.booleans(),
    max_crosswind_kt=optional(0, 40),
    margin_min=optional(0, 60),
    adverse=st.sampled_from(((), ("fatigue",), ("fatigue", "stress"))),
)


def no_looser(strict: Minimums, loose: Minimums) -> None:
    assert strict.day.ceiling_ft >= loose.day.ceiling_ft
    assert strict.day.visibility_sm >= loose.day.visibility_sm
    if strict.night != "not planned":
        assert loose.night != "not planned"
        assert strict.night.ceiling_ft >= loose.night.ceiling_ft
        assert strict.night.visibility_sm >= loose.night.visibility_sm
    for name in ("runway_length_ft", "margin_min"):
        if getattr(loose, name) is not None:
            assert getattr(strict, name) >= getattr(loose, name)
    if loose.max_crosswind_kt is not None:
        assert strict.max_crosswind_kt is not None
        assert strict.max_crosswind_kt <= loose.max_crosswind_kt
    assert strict.hard_surface or not loose.hard_surface


@given(wanted, wanted)
def test_law_one_more_party_never_loosens(school: Wanted, pilot: Wanted) -> None:
    both = strictest(school=school, pilot=pilot)
    no_looser(both, strictest(school=replace(school, adverse=())))
    no_looser(both, FLOOR)
    no_looser(both, strictest(school=school, pilot=replace(pilot, adverse=())))


@given(wanted, wanted, st.sampled_from([field.name for field in fields(Wanted)]))
def test_law_asking_for_nothing_never_tightens(school: Wanted, pilot: Wanted, name: str) -> None:
    silent: dict[str, Any] = {name: () if name == "adverse" else None}
    asked = strictest(school=school, pilot=pilot)
    no_looser(asked, strictest(school=school, pilot=replace(pilot, **silent)))


def test_what_reports_cannot_show_is_said() -> None:
    """method.md 4: P6SM, 9999, CAVOK and 10SM count for a minimum above 6 SM too, and the answer says so."""
    assert beyond_reports(STANDARD) == ()
    (eight,) = beyond_reports(replace(FLOOR, day=Limits(ceiling_ft=1500, visibility_sm=8)))
    assert "8 SM: P6SM, 9999 and CAVOK count" in eight
    (eleven,) = beyond_reports(replace(FLOOR, night=Limits(ceiling_ft=2000, visibility_sm=11)))
    assert "11 SM: P6SM, 9999, CAVOK and 10SM count" in eleven
    assert beyond_reports(replace(FLOOR, night="not planned")) == ()
