"""The table of `refuge find`: what is not proved is marked, columns hold, and it fits 110 columns."""

from dataclasses import replace

import pytest

from refuge.flight.minimums import FLOOR, Limits
from refuge.flight.shortlist import build
from refuge.flight.situation import Situation
from refuge.render.find_text import find_text
from tests.core.flight import situations as s

HIGHER = replace(FLOOR, day=Limits(ceiling_ft=2500, visibility_sm=5))


def world(*names: str, country: str = "US", ceiling_ft: int = 3000) -> Situation:
    """Return fields with one station that reports and forecasts a ceiling."""
    said = s.conditions(ceiling_ft, 10.0)
    return s.situation(
        [s.airfield(name, s.at(90.0, 3.0 + i), station="XA") for i, name in enumerate(names)],
        [s.station("XA", s.at(90.0, 3.0), country=country)],
        reports=[s.report("XA", said)],
        forecasts=[s.forecast("XA", said, to_h=24.0)],
    )


@pytest.mark.parametrize(("country", "verdict", "says"), [("US", "[v] meets", False), ("DE", "<?> unknown", True)])
def test_a_forecast_that_need_not_mention_changes_reads_as_no_proof(country: str, verdict: str, says: bool) -> None:
    """method.md 4: outside North America a forecast proves no more than 1,500 ft; 2,500 are asked."""
    text = find_text(build(s.question(fails_in_min=180.0, minimums=HIGHER), world("F", country=country)))
    row = next(line for line in text.splitlines() if line.startswith(verdict))
    assert "MVFR: 3,000 ft" in row
    assert ("not proved: MVFR" in row) is says


def test_columns_hold_under_long_identifiers_and_within_110() -> None:
    text = find_text(build(s.question(fails_in_min=180.0, minimums=HIGHER), world("US-6918X", "F", country="DE")))
    lines = text.splitlines()
    rows = [line for line in lines if line.startswith("<?> unknown")]
    head = next(line for line in lines if line.startswith("verdict"))
    assert {row.index("not proved") for row in rows} == {head.index("worst to expect")}
    assert {row.index("-21") for row in rows} == {head.index("arrival") + 4}  # such as 2105-2112Z
    assert max(len(line) for line in lines) <= 110


def test_without_any_airfield_one_blank_line_is_enough() -> None:
    assert "\n\n\n" not in find_text(build(s.question(), s.situation([])))
    assert "No airfield lies in question" in find_text(build(s.question(), s.situation([])))


def test_the_head_says_why_the_instruments_last_no_longer() -> None:
    empty = replace(s.endurance(0.0), limited_why="fuel down to the reserve")
    text = find_text(build(s.question(lasts=empty), world("F")))
    assert "Instruments last 0 min (attitude: fuel down to the reserve)" in text
