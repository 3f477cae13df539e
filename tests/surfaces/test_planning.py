"""How long the instruments last over a block of a flight: the worse of its two ends, function by function."""

import pytest

from refuge.aircraft.timeline import FunctionEnd
from refuge.planning import worse_of
from tests.core.flight import situations as s

NOT_LIMITED, ABSENT = FunctionEnd(state="not_limited"), FunctionEnd(state="absent")


def until(minutes: float) -> FunctionEnd:
    return FunctionEnd(state="until", end_min=minutes)


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (until(30.0), until(20.0), until(20.0)),
        (NOT_LIMITED, until(20.0), until(20.0)),
        (until(30.0), ABSENT, ABSENT),
        (NOT_LIMITED, NOT_LIMITED, NOT_LIMITED),
    ],
)
def test_navigation_may_be_shortest_where_information_is_not(
    one: FunctionEnd, other: FunctionEnd, expected: FunctionEnd
) -> None:
    """Fuel shortens what an engine drives towards the end of a block, cold a battery at its beginning."""
    ends = [s.endurance(40.0, navigation=one), s.endurance(50.0, navigation=other)]
    for both in (ends, ends[::-1]):
        found = worse_of(both)
        assert found.information_min == 40.0
        assert found.functions["navigation"] == expected


def test_what_is_not_known_or_not_dependable_is_the_worse() -> None:
    unknown, doubtful, short = s.endurance(None), s.endurance(90.0, dependable=False), s.endurance(30.0)
    assert worse_of([short, unknown]).information_min is None
    assert not worse_of([short, doubtful]).dependable
