"""How sure a "meets" is: a number from 0 to 1, and a word for it. It ranks refuges; it never changes a verdict.

All figures are proposals. The parts multiply:

    kind        own report and own forecast 1.0; own report and a borrowed forecast 0.9; a report alone 0.7;
                a forecast alone 0.6; each of these times 0.8 where a report is borrowed
    guidance    among the forecasts 0.9
    age         the latest arrival within 60 min of the oldest report 1.0, within 120 min 0.9, later 0.75
    agreement   the reports around: all of them half as good again as required 1.0, more than half of them 0.9,
                fewer 0.8; nobody around but the station itself 0.9
    storms      a thunderstorm or funnel cloud in the vicinity, CB or TCU in the window 0.8
    spread      temperature and dew point within 3 C, or not known, 0.8; and nearer to each other than in the
                report before 0.6
    ceiling     lower than in the report before by a tenth or more, and under 5,000 ft: 0.8
    sunset      the sun sets between an hour before the earliest arrival and an hour after the latest landing 0.9

A number of 0.8 or more is high, 0.5 or more fair, less is low. Onshore wind, the fourth sign of fog in
method.md 4, is not looked at: there is no coastline here.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from refuge.flight.basis import Basis
from refuge.flight.bearing import FOG_SPREAD_C
from refuge.flight.state_arrays import Bools, Floats, Ints, judge_ceiling, judge_visibility
from refuge.flight.verdict import MEETS, Codes
from refuge.sun import is_day
from refuge.weather.reports import Observation
from refuge.weather.sky import Ceiling, CeilingAt, NoCeiling


@dataclass(frozen=True, slots=True, kw_only=True)
class Certainty:
    """A word and a score from 0 to 1; ``none`` and 0 for whatever does not meet."""

    word: Literal["high", "fair", "low", "none"]
    score: float


HIGH, FAIR = 0.8, 0.5
OWN_WITHIN_NM = 3.0
"""A station is joined to a field only within this (data rule of the gazetteer)."""
NO_CERTAINTY = Certainty(word="none", score=0.0)
HALF_AS_MUCH_AGAIN = 1.5
FALLEN_BY, FALLING_BELOW_FT = 0.1, 5000.0
SUNSET_NEAR_S = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """What certainty is made of at n airfields: arrays of shape (n,); the masks are signs that lower it."""

    kind: Floats
    borrowed: Bools
    guidance: Bools
    age: Floats
    neighbours: Ints
    short: Ints
    small_spread: Bools
    closing: Bools
    falling: Bools
    sunset: Bools
    convective: Bools

    @property
    def score(self) -> Floats:
        """Return the product of all parts."""
        agreement = np.select(
            [self.neighbours <= 1, self.short == 0, 2 * self.short < self.neighbours], [0.9, 1.0, 0.9], 0.8
        )
        spread = np.select([self.small_spread & self.closing, self.small_spread], [0.6, 0.8], 1.0)
        score = self.kind * np.where(self.borrowed, 0.8, 1.0) * self.age * agreement * spread
        score = score * np.where(self.guidance, 0.9, 1.0)
        score = score * np.where(self.falling, 0.8, 1.0) * np.where(self.sunset, 0.9, 1.0)
        return np.asarray(score * np.where(self.convective, 0.8, 1.0))


def factors(basis: Basis) -> Factors:
    """Return what certainty is made of at every airfield, whatever its verdict."""
    weighed, n = basis.weighed, basis.fields.lat_deg.size
    inquiry, answer = weighed.inquiry, weighed.answer
    reports, forecasts = inquiry.reports, inquiry.forecasts
    lent = _any(n, forecasts.field, ~_own(forecasts.distance_nm))
    both = answer.has_report & answer.has_forecast
    minutes = answer.minutes_from_report
    neighbours, short = _agreement(basis)
    closing, falling = _trends(basis)
    return Factors(
        kind=np.select([both & ~lent, both, answer.has_report], [1.0, 0.9, 0.7], 0.6),
        borrowed=_any(n, reports.field, ~_own(reports.distance_nm)),
        guidance=_any(n, forecasts.field, basis.network.arrays.guidance[forecasts.station]),
        age=np.select([minutes <= 60.0, minutes <= 120.0], [1.0, 0.9], 0.75),
        neighbours=neighbours,
        short=short,
        small_spread=_any(n, reports.field, basis.network.arrays.small_spread[reports.station]),
        closing=_any(n, reports.field, closing[reports.station]),
        falling=_any(n, reports.field, falling[reports.station]),
        sunset=_sunset_near(basis),
        convective=weighed.convective,
    )


def certainties(found: Factors, verdict: Codes) -> tuple[Certainty, ...]:
    """Return the certainty of every airfield."""
    if not verdict.size:
        return ()
    return tuple(
        _named(float(value)) if code == MEETS else NO_CERTAINTY
        for value, code in zip(found.score, verdict, strict=True)
    )


def certainty_words(found: Factors, i: int) -> Iterator[str]:
    """Yield what lowers the certainty of one airfield, in words."""
    kinds = {1.0: None, 0.9: "the forecast is borrowed", 0.7: "a report without a forecast"}
    kind = kinds.get(float(found.kind[i]), "a forecast without a report")
    if kind is not None:
        yield kind
    if found.borrowed[i]:
        yield "the report is borrowed"
    if found.guidance[i]:
        yield "guidance among the forecasts"
    if found.age[i] < 1.0:
        yield f"the arrival is more than {60 if found.age[i] > 0.8 else 120} min after a report"
    if found.neighbours[i] <= 1:
        yield "no other station around agrees or disagrees"
    elif found.short[i]:
        count = f"{found.short[i]} of {found.neighbours[i]} reports around"
        yield f"{count} are not half as good again as required"
    if found.small_spread[i]:
        closing = ", and closing" if found.closing[i] else ""
        yield f"sign of fog: temperature and dew point within {FOG_SPREAD_C:.0f} C, or not known{closing}"
    if found.falling[i]:
        yield "sign of fog: the ceiling is falling"
    if found.sunset[i]:
        yield "sign of fog: sunset is near"
    if found.convective[i]:
        yield "thunderstorms or funnel clouds in the vicinity, CB or TCU"


def _own(distance_nm: Floats) -> Bools:
    """Return which stations stand at the field itself."""
    return distance_nm <= OWN_WITHIN_NM


def _any(n: int, field: Ints, marked: Bools) -> Bools:
    found = np.zeros(n, dtype=bool)
    found[field[marked]] = True
    return found


def _agreement(basis: Basis) -> tuple[Ints, Ints]:
    """Return how many stations around each field report, and how many of them are not half as good again."""
    near, fields, weather = basis.weighed.area_inquiry.reports, basis.fields, basis.network.weather
    states, n = weather.reports, fields.lat_deg.size
    has = weather.facts.fresh[near.station] & (states.count[near.station] > 0)
    # The report itself is the first row of its station; a trend follows it.
    row = states.first[near.station][has]
    field = near.field[has]
    ceiling = judge_ceiling(
        states.ceiling_code[row], states.ceiling_ft[row], HALF_AS_MUCH_AGAIN * fields.required_ft[field]
    )
    visibility = judge_visibility(
        states.visibility_code[row], states.visibility_sm[row], HALF_AS_MUCH_AGAIN * fields.required_sm[field]
    )
    good = np.zeros(near.field.shape, dtype=bool)
    good[has] = (ceiling == MEETS) & (visibility == MEETS)
    return np.bincount(near.field, minlength=n), np.bincount(near.field[~good], minlength=n)


def _trends(basis: Basis) -> tuple[Bools, Bools]:
    """Return at which stations spread, and ceiling, shrink from the report before to the latest."""
    earlier, network = basis.situation.earlier, basis.network
    pairs = [(earlier.get(s.id), now) for s, now in zip(network.stations, network.observations, strict=True)]
    return (
        np.array([_closing(before, now) for before, now in pairs], dtype=bool),
        np.array([_falling(before, now) for before, now in pairs], dtype=bool),
    )


def _spread_c(observation: Observation) -> float | None:
    if observation.temperature_c is None or observation.dew_point_c is None:
        return None
    return observation.temperature_c - observation.dew_point_c


def _closing(before: Observation | None, now: Observation | None) -> bool:
    if before is None or now is None:
        return False
    then_c, now_c = _spread_c(before), _spread_c(now)
    return then_c is not None and now_c is not None and now_c < then_c


def _falling(before: Observation | None, now: Observation | None) -> bool:
    if before is None or now is None or not isinstance(now.adverse.ceiling, CeilingAt):
        return False
    now_ft, then_ft = now.adverse.ceiling.ft_agl, _at_least_ft(before.adverse.ceiling)
    return then_ft is not None and now_ft < FALLING_BELOW_FT and now_ft <= (1.0 - FALLEN_BY) * then_ft


def _at_least_ft(ceiling: Ceiling) -> float | None:
    match ceiling:
        case CeilingAt(ft_agl=ft):
            return ft
        case NoCeiling(none_below_ft=below):
            return np.inf if below is None else below
        case _:
            return None


def _sunset_near(basis: Basis) -> Bools:
    fields, arrival = basis.fields, basis.arrival
    before, after = arrival.earliest_s - SUNSET_NEAR_S, arrival.landed_s + SUNSET_NEAR_S
    up = is_day(fields.lat_deg, fields.lon_deg, before, before)
    return up & ~is_day(fields.lat_deg, fields.lon_deg, after, after)


def _named(score: float) -> Certainty:
    word: Literal["high", "fair", "low"] = "high" if score >= HIGH else "fair" if score >= FAIR else "low"
    return Certainty(word=word, score=round(score, 2))
