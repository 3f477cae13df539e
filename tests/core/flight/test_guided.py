"""Guidance as evidence: each step of the hierarchy by hand, the chances, thunder, the first hour, holes."""

from dataclasses import replace
from datetime import timedelta

import pytest

from refuge.flight.entries import entries
from refuge.flight.guided import guided_rows
from refuge.flight.shortlist import Shortlist, build
from refuge.flight.situation import Guided, Hearing
from tests.core.flight import situations as s

GOOD, BAD = s.conditions(8000, 10.0), s.conditions(300, 1.0)
FIELD, NEXT = s.at(90.0, 5.0), s.at(90.0, 22.0)
ONLY_GUIDED = Hearing(reports=False, forecasts=False, ever_ceiling=False, ever_visibility=False, guidance=True)
FINE = s.lamp("XA", "8", "7")


def asked(
    guidance: dict[str, Guided],
    *,
    fails_in_min: float = 150.0,
    own: Hearing = s.GUIDED,
    other: Hearing | None = None,
    taf: bool | None = None,
) -> Shortlist:
    """Return the answer for a field with station XA; XB, 17 NM farther, lends a TAF (good, bad) or guidance."""
    stations = [s.station("XA", FIELD)] + ([] if other is None else [s.station("XB", NEXT)])
    hearing = {"XA": own} | ({} if other is None else {"XB": other})
    reports = [s.report(name, GOOD) for name, heard in hearing.items() if heard.reports]
    forecasts = [] if taf is None else [s.forecast("XB", GOOD if taf else BAD)]
    known = s.situation(
        [s.airfield("F", FIELD, station="XA")], stations, reports=reports, forecasts=forecasts, guidance=guidance,
        hearing=hearing,
    )  # fmt: skip
    return build(s.question(fails_in_min=fails_in_min), known)


def weather(found: Shortlist) -> tuple[str, str]:
    (entry,) = entries(found)
    return entry.checks["weather"].verdict, entry.evidence_step


def test_own_report_and_own_guidance() -> None:
    assert weather(asked({"XA": FINE})) == ("meets", "own report and own guidance")
    (entry,) = entries(asked({"XA": FINE}))
    assert [e.kind for e in entry.evidence] == ["METAR", "LAV"]


def test_without_guidance_a_report_alone_does_not_carry_so_far() -> None:
    bare = replace(s.GUIDED, guidance=False)
    assert weather(asked({}, own=bare)) == ("unknown", "own report alone")


def test_guidance_that_was_heard_and_is_missing_is_unknown() -> None:
    assert weather(asked({}))[0] == "unknown"


def test_bad_guidance_misses() -> None:
    assert weather(asked({"XA": s.lamp("XA", "3", "7")}))[0] == "misses"


def test_own_guidance_alone_carries_only_beyond_two_hours() -> None:
    """A forecast without any report of its station is unknown within 2 h (method.md 4)."""
    assert weather(asked({"XA": FINE}, own=ONLY_GUIDED)) == ("meets", "own guidance alone")
    assert weather(asked({"XA": FINE}, own=ONLY_GUIDED, fails_in_min=60.0))[0] == "unknown"


@pytest.mark.parametrize(("taf", "verdict"), [(True, "meets"), (False, "misses")])
def test_guidance_overrides_no_worse_taf(taf: bool, verdict: str) -> None:
    """Own guidance is good; the TAF that the field may borrow decides."""
    found = asked({"XA": FINE}, other=s.HEARD, taf=taf)
    assert weather(found) == (verdict, "own report, borrowed TAF and own guidance")


def test_beside_a_taf_of_its_own_guidance_is_not_asked() -> None:
    known = s.situation(
        [s.airfield("F", FIELD, station="XA")], [s.station("XA", FIELD)], reports=[s.report("XA", GOOD)],
        forecasts=[s.forecast("XA", BAD)], guidance={"XA": FINE},
    )  # fmt: skip
    assert weather(build(s.question(fails_in_min=150.0), known)) == ("misses", "own report and own TAF")


def test_borrowed_guidance() -> None:
    known = s.situation(
        [s.airfield("F", s.at(90.0, 15.0))], [s.station("XA", FIELD)], reports=[s.report("XA", GOOD)],
        guidance={"XA": FINE}, hearing={"XA": s.GUIDED},
    )  # fmt: skip
    assert weather(build(s.question(fails_in_min=150.0), known)) == (
        "meets",
        "borrowed report and borrowed guidance",
    )


@pytest.mark.parametrize(
    ("chances", "verdict"), [((9, 9), "meets"), ((10, 0), "unknown"), ((0, 10), "unknown"), ((60, 60), "unknown")]
)
def test_a_value_counts_only_while_its_chance_of_less_is_under_ten_percent(
    chances: tuple[int, int], verdict: str
) -> None:
    """Floor by day 1,500 ft and 3 SM: MVC (under 3,000 ft) and MVV or IFV speak of it (issue 6)."""
    assert weather(asked({"XA": s.blend("XA", -88, 100, chances)}))[0] == verdict


def test_a_value_below_the_minimum_misses_whatever_its_chance() -> None:
    assert weather(asked({"XA": s.blend("XA", 9, 100, (0, 0))}))[0] == "misses"


@pytest.mark.parametrize(("thunder", "verdict"), [(9, "meets"), (10, "unknown"), (29, "unknown"), (30, "misses")])
def test_thunder(thunder: int, verdict: str) -> None:
    """30 % as a TAF's PROB30, which counts as if it came true; 10 % is the limit of issue 6."""
    assert weather(asked({"XA": s.lamp("XA", "8", "7", thunder=thunder)}))[0] == verdict


def test_between_two_hours_the_worse_of_both() -> None:
    """Good hours before and after one bad hour in the window: it misses."""
    assert weather(asked({"XA": s.lamp("XA", "88388", "7")}))[0] == "misses"


def test_the_first_hour_counts_from_the_run_on_and_not_before() -> None:
    run = s.NOW - s.minutes(30)  # 17:30Z, first hour 18:00Z
    rows = guided_rows(0, FINE, s.NOW - timedelta(hours=2), s.NOW + timedelta(hours=10))
    assert rows.from_s == run.timestamp()
    assert rows.to_s >= (s.NOW + timedelta(hours=10)).timestamp()


def test_what_cannot_be_read_covers_nothing() -> None:
    broken = replace(FINE, unreadable=("made unreadable",))
    rows = guided_rows(0, broken, s.NOW, s.NOW + timedelta(hours=10))
    assert rows.from_s > rows.to_s
    assert weather(asked({"XA": broken}))[0] == "unknown"
