"""How sure a "meets" is: a number from the kind and age of the evidence, and a word for it.

A proposal, first form: the parts multiply. It ranks refuges; it never changes a verdict.

    own report and own forecast 1.0; own report and a borrowed forecast 0.9; a report alone 0.7;
    a forecast alone 0.6; each borrowed report times 0.8
    arrival within 60 min of the report 1.0, within 120 min 0.9, later 0.75
    a storm in the vicinity, CB or TCU 0.8; temperature and dew point within 3 C 0.8
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from refuge.flight.state_arrays import Bools, Floats
from refuge.flight.station_weather import Network
from refuge.flight.verdict import MEETS, Codes
from refuge.flight.weigh import Weighed


@dataclass(frozen=True, slots=True, kw_only=True)
class Certainty:
    """A word and a score from 0 to 1; ``none`` and 0 for whatever does not meet."""

    word: Literal["high", "fair", "low", "none"]
    score: float


HIGH, FAIR = 0.8, 0.5
OWN_WITHIN_NM = 3.0
"""A station is joined to a field only within this (data rule of the gazetteer)."""
NO_CERTAINTY = Certainty(word="none", score=0.0)


def certainties(network: Network, weighed: Weighed, verdict: Codes) -> tuple[Certainty, ...]:
    """Return the certainty of every airfield."""
    if not verdict.size:
        return ()
    inquiry, answer = weighed.inquiry, weighed.answer
    n = verdict.size
    borrowed = np.zeros(n, dtype=bool)
    borrowed[inquiry.reports.field[~_own(weighed.inquiry.reports.distance_nm)]] = True
    lent = np.zeros(n, dtype=bool)
    lent[inquiry.forecasts.field[~_own(inquiry.forecasts.distance_nm)]] = True
    foggy = np.zeros(n, dtype=bool)
    foggy[inquiry.reports.field[network.arrays.small_spread[inquiry.reports.station]]] = True
    both = answer.has_report & answer.has_forecast
    kind = np.select([both & ~lent, both, answer.has_report], [1.0, 0.9, 0.7], 0.6)
    minutes = answer.minutes_from_report
    age = np.select([minutes <= 60.0, minutes <= 120.0], [1.0, 0.9], 0.75)
    score = kind * age * np.where(borrowed, 0.8, 1.0)
    score = score * np.where(weighed.convective, 0.8, 1.0) * np.where(foggy, 0.8, 1.0)
    return tuple(
        _named(float(value)) if code == MEETS else NO_CERTAINTY for value, code in zip(score, verdict, strict=True)
    )


def _own(distance_nm: Floats) -> Bools:
    """Return which stations stand at the field itself."""
    return distance_nm <= OWN_WITHIN_NM


def _named(score: float) -> Certainty:
    word: Literal["high", "fair", "low"] = "high" if score >= HIGH else "fair" if score >= FAIR else "low"
    return Certainty(word=word, score=round(score, 2))
