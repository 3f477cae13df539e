"""Light at arrival: the named cases of reference.md 7.8, hours of lights and towers, and what to do there."""

from dataclasses import replace
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from refuge.airfield import EVERY_DAY, Airfield, Hours, LightDetail, Runway, Tower
from refuge.flight.entries import entry
from refuge.flight.minimums import FLOOR, STANDARD
from refuge.flight.shortlist import Shortlist, build
from tests.core.flight import situations as s
from tests.core.reference import rows

CHICAGO = ZoneInfo("America/Chicago")
CASES = rows("arrival_light")


def at_local(text: str) -> datetime:
    """Return the instant of this local time on 29 February 2024; the sun sets there at about 1832."""
    return datetime.combine(
        datetime(2024, 2, 29, tzinfo=CHICAGO).date(), time.fromisoformat(text), CHICAGO
    ).astimezone(UTC)


def answer(
    field: Airfield, now: datetime, *, ceiling_ft: int = 5000, visibility_sm: float = 10.0, **asked: object
) -> Shortlist:
    here = s.at(90.0, 10.0)
    said = s.conditions(ceiling_ft, visibility_sm)
    known = s.situation(
        [field], [s.station("XA", here)], reports=[s.report("XA", said, now=now, age_min=5)], now=now
    )
    return build(s.question(now=now, **asked), known)  # type: ignore[arg-type]


def lit_field(**changes: object) -> Airfield:
    field = s.airfield("F", s.at(90.0, 10.0), station="XA")
    return replace(field, time_zone="America/Chicago", **changes)  # type: ignore[arg-type]


def tower(opens: str, closes: str) -> Tower:
    minutes = [60 * t.hour + t.minute for t in map(time.fromisoformat, (opens, closes))]
    return Tower(text="as given", hours=(Hours(days=EVERY_DAY, opens_min=minutes[0], closes_min=minutes[1]),))


@pytest.mark.parametrize("case", CASES, ids=[case["id"] for case in CASES])
def test_named_cases(case: dict[str, str]) -> None:
    field = lit_field(
        lights=case["lights"],
        tower=tower(case["tower_opens"], case["tower_closes"]) if case["tower_opens"] else None,
    )
    found = answer(
        field,
        at_local(case["local_time"]),
        ceiling_ft=int(case["ceiling_ft"]),
        visibility_sm=float(case["visibility_sm"]),
        handheld=case["handheld"] == "yes",
        minimums=FLOOR if case["minimums"] == "floor" else STANDARD,
    )
    shown = entry(found, 0)
    assert (shown.checks["light"].verdict, shown.verdict) == (case["light"], case["verdict"])
    assert case["mark"] == "" or case["mark"] in shown.marks


@pytest.mark.parametrize(
    ("now", "after", "handheld", "zone", "expected"),
    [
        ("21:00", "radio", False, "America/Chicago", "meets"),  # landed by about 2131: lit until 2300
        ("22:35", "radio", False, "America/Chicago", "misses"),  # the latest landing is after 2300
        ("23:30", "radio", False, "America/Chicago", "misses"),
        ("23:30", "radio", True, "America/Chicago", "meets"),
        ("23:30", "none", True, "America/Chicago", "misses"),
        ("23:30", "unknown", True, "America/Chicago", "unknown"),
        ("21:00", "radio", False, None, "unknown"),  # nobody knows the local time there
        ("21:00", "radio", True, None, "meets"),
        ("21:00", "none", False, "No/Zone", "unknown"),
    ],
)
def test_lit_until_an_hour_and_dark_after(
    now: str, after: str, handheld: bool, zone: str | None, expected: str
) -> None:
    detail = LightDetail(until_local=time(23), after=after)  # type: ignore[arg-type]
    field = replace(lit_field(lights="until", lights_detail=detail), time_zone=zone)
    shown = entry(answer(field, at_local(now), handheld=handheld), 0)
    assert shown.checks["light"].verdict == expected


def test_hours_of_a_tower_that_are_not_understood_or_not_local_are_unknown() -> None:
    vague = lit_field(lights="radio", tower=Tower(text="BY NOTAM", hours=None))
    elsewhere = replace(lit_field(lights="radio", tower=tower("06:00", "22:00")), time_zone=None)
    for field in (vague, elsewhere):
        shown = entry(answer(field, at_local("20:00")), 0)
        assert shown.checks["light"].verdict == "unknown"
        assert "nobody knows whether the tower is open" in shown.checks["light"].why


def test_an_open_tower_lights_a_field_that_is_known_to_have_lights() -> None:
    strip = Runway(idents="09/27", length_ft=5000, surface="hard", lighted=True)
    dark = replace(strip, lighted=None)
    for runway, expected in ((strip, "meets"), (dark, "unknown")):
        field = lit_field(lights="unknown", tower=tower("06:00", "22:00"), runways=(runway,))
        assert entry(answer(field, at_local("20:00")), 0).checks["light"].verdict == expected


def test_what_to_do_there() -> None:
    towered = entry(answer(lit_field(tower=tower("06:00", "22:00")), at_local("12:00")), 0)
    assert any("steady green: cleared to land" in text for text in towered.advice)  # 14 CFR 91.125
    assert any("rocking the wings" in text for text in towered.advice)
    assert not any("windsock" in text for text in towered.advice)
    closed = entry(answer(lit_field(tower=tower("06:00", "22:00")), at_local("23:00")), 0)
    assert any("windsock" in text for text in closed.advice)  # AIM 4-1-9
    assert not any("steady green" in text for text in closed.advice)
    assert any("lowest safe height until the field's lights are identified" in text for text in closed.advice)
    vague = entry(answer(lit_field(tower=Tower(text="?", hours=None)), at_local("12:00")), 0)
    assert any("if the tower is open" in text for text in vague.advice)
    assert any("if the tower is closed" in text for text in vague.advice)
