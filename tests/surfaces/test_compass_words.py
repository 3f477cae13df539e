"""What is said of the compass where it differs from place to place: hemispheres, poles, the magnetic equator."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from refuge.flight.compass import Compass, Heading, Turn, Variation
from refuge.render.compass import compass_lines, compass_notes, heading_kind, three_digits, turn_text

KNOWN = Compass(variation=Variation(deg_e=10.0, said="given"), deviation_said="deviation not applied")
UNKNOWN = replace(KNOWN, variation=Variation(deg_e=None, said="no compass holds here"))
RIGHT = Turn(side="right", degrees=90.0, seconds=30.0)
STRAIGHT = Turn(side="none", degrees=0.0, seconds=0.0)


def lines(
    lat_deg: float,
    compass: Compass = KNOWN,
    heading: float | None = 350.0,
    turn: Turn | None = None,
    tas: float = 90.0,
) -> str:
    question = SimpleNamespace(
        at=SimpleNamespace(lat_deg=lat_deg),
        heading=Heading(deg=260.0, reference="compass") if turn else None,
        aircraft=SimpleNamespace(cruise_tas_kt=tas),
    )
    shortlist: Any = SimpleNamespace(basis=SimpleNamespace(compass=compass, question=question))
    found: Any = SimpleNamespace(heading_deg_true=360.0, heading_deg_compass=heading, turn=turn)
    return "\n".join(compass_lines(shortlist, found))


def test_directions_have_three_digits_and_no_000() -> None:
    assert [three_digits(d) for d in (0.0, 0.4, 359.6, 7.0, 360.0)] == ["360", "360", "360", "007", "360"]


def test_the_senses_of_both_hemispheres() -> None:
    assert "undershoot north, overshoot south, by 35 degrees" in lines(40.0)
    assert "swings north while speeding up" in lines(40.0)
    assert "overshoot north, undershoot south, by 35 degrees" in lines(-40.0)
    assert "swings south while speeding up" in lines(-40.0)


def test_near_the_magnetic_equator_the_clock_is_what_is_left() -> None:
    assert "no rule holds this near the magnetic equator; time the turn" in lines(5.0)


def test_turns_in_words() -> None:
    assert turn_text(RIGHT) == "right 30 s"
    assert turn_text(STRAIGHT) == "straight"
    slow = lines(40.0, turn=RIGHT)
    assert (
        "Turn: right 30 s by the clock at 3 degrees a second, 14 degrees of bank at 90 kt (from 260 compass" in slow
    )
    assert "turning left" not in slow
    assert "erratic" not in slow
    straight = lines(40.0, turn=STRAIGHT)
    assert "Turn: none, hold the heading" in straight
    assert "roll out" not in straight


@pytest.mark.parametrize("lat_deg", [40.0, 5.0])
def test_without_a_compass_only_the_true_heading_is_named(lat_deg: float) -> None:
    text = lines(lat_deg, UNKNOWN, heading=None)
    assert text == "Heading: 360 true; none by compass: no compass holds here"
    assert list(compass_notes(UNKNOWN)) == ["headings are true: no compass holds here"]
    assert heading_kind(UNKNOWN) == "true hdg"


def test_overhead_there_is_no_heading() -> None:
    assert lines(40.0, heading=None) == "Heading: none, it is overhead or never reached"
