"""The outline of what is in reach: closed form in a steady wind, and nothing where nothing is known."""

import numpy as np
import pytest

from refuge.earth import distances_nm
from refuge.flight.basis import basis_of
from refuge.flight.outline import reach_outline
from refuge.flight.question import Question, Wind
from tests.core.flight import situations as s

NOWHERE = s.situation([], [])


def radii_nm(question: Question) -> np.ndarray:
    outline = reach_outline(basis_of(question, NOWHERE))
    assert outline is not None
    here = question.at
    return distances_nm(np.array(here.lat_deg), np.array(here.lon_deg), *outline)


def test_a_circle_in_still_air() -> None:
    """60 min less 15 of margin, 5 of recognition, 5 of descent (2,500 ft at 500 ft/min): 35 min at 120 - 10 kt."""
    found = radii_nm(s.question(lasts=s.endurance(60.0)))
    assert found == pytest.approx(35.0 / 60.0 * 110.0, abs=0.2)


def test_drift_moves_it_downwind() -> None:
    """Against 40 kt 120 - 40 - 10, with it 120 + 40 - 10 kt (method.md 3: at least 10 kt of error)."""
    found = radii_nm(s.question(lasts=s.endurance(60.0), wind=Wind(dir_deg_true=270.0, speed_kt=40.0)))
    west, east = found[90], found[30]  # 120 bearings, 3 degrees each
    assert west == pytest.approx(35.0 / 60.0 * 70.0, abs=0.2)
    assert east == pytest.approx(35.0 / 60.0 * 150.0, abs=0.2)


@pytest.mark.parametrize(
    "question",
    [
        s.question(lasts=s.endurance(None)),
        s.question(lasts=s.endurance(dependable=False)),
        s.question(lasts=s.endurance(24.0)),  # the descent takes longer than what is left
        s.question(wind=None),  # no wind is known
    ],
)
def test_nothing_where_nothing_is_known(question: Question) -> None:
    assert reach_outline(basis_of(question, NOWHERE)) is None
