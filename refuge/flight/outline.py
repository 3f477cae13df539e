"""How far one gets in every direction while the instruments last: an outline to draw, never an answer."""

import numpy as np

from refuge.earth import along
from refuge.flight.arrival import descents_min, plan_budget_min
from refuge.flight.basis import Basis
from refuge.flight.reach import reach
from refuge.flight.state_arrays import Floats

BEARINGS = 120
HALVINGS = 12
NO_WIND_IS_STRONGER_KT = 300.0
LEAST_NM = 1.0


def reach_outline(basis: Basis) -> tuple[Floats, Floats] | None:
    """Return latitudes and longitudes around what is in reach: overhead and down to the lowest safe height in time.

    The descent without such a height is to the sea: a field above it may be reached from a little farther. ``None``
    where nobody knows the budget, where it does not even do for the descent, or where the wind is not known.
    """
    question = basis.question
    budget = plan_budget_min(question.endurance, question.margin_min)
    if budget is None or not question.endurance.dependable:
        return None
    left_min = budget - float(descents_min(question, np.zeros(1))[0])
    if left_min <= 0.0:
        return None
    bearings = np.linspace(0.0, 360.0, BEARINGS + 1)
    tas_kt = question.aircraft.cruise_tas_kt
    low = np.zeros(bearings.shape)
    high = np.full(bearings.shape, (tas_kt + NO_WIND_IS_STRONGER_KT) * left_min / 60.0)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        way = reach(question.at, *along(question.at, bearings, middle), tas_kt=tas_kt, winds=basis.winds.fields)
        inside = (way.latest_min <= left_min) & way.wind_known
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    if low.max() < LEAST_NM:
        return None
    return along(question.at, bearings, low)
