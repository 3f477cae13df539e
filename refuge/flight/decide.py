"""The checks of n airfields, each as one array of codes, and what they come to."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

import numpy as np

from refuge.flight.basis import Basis
from refuge.flight.checks import LEAST_CLEARANCE_FT, icing_codes, reach_codes
from refuge.flight.light import light_codes
from refuge.flight.runways import runway_codes
from refuge.flight.starts import temperatures_at
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.verdict import MISSES, NOT_CHECKED, UNKNOWN, Codes, at_best_unknown
from refuge.flight.winds import temperature_at

CheckName = Literal["reach", "weather", "area", "break_out", "icing", "light", "runway", "airspace", "notices"]
CHECKS: tuple[CheckName, ...] = (
    "reach",
    "weather",
    "area",
    "break_out",
    "icing",
    "light",
    "runway",
    "airspace",
    "notices",
)


def codes_of(basis: Basis) -> dict[CheckName, Codes]:
    """Return the codes of every check, in the order of `CHECKS`."""
    weighed, n = basis.weighed, basis.fields.lat_deg.size
    nothing = np.full(n, NOT_CHECKED, dtype=np.int8)
    return {
        "reach": _reach(basis),
        "weather": weighed.weather,
        "area": weighed.area,
        "break_out": _break_out(basis),
        "icing": _icing(basis),
        "light": _light(basis),
        "runway": _runway(basis),
        "airspace": basis.airspace.codes,
        "notices": nothing,
    }


def _reach(basis: Basis) -> Codes:
    arrival, endurance = basis.arrival, basis.question.endurance
    codes = reach_codes(
        arrival.break_out_min,
        arrival.budget_min,
        wind_known=arrival.reach.wind_known,
        dependable=endurance.dependable,
    )
    if endurance.information_min is not None and endurance.information_min < endurance.recognition_min:
        # Nothing is left to fly by when the failure is noticed, not even to the field below.
        codes = np.full(codes.shape, MISSES, dtype=np.int8)
    return codes


def _break_out(basis: Basis) -> Codes:
    codes, fields, lowest = basis.weighed.base, basis.fields, basis.question.lowest_safe_ft_amsl
    if codes is None or lowest is None:
        return np.full(fields.lat_deg.shape, UNKNOWN, dtype=np.int8)
    # Over ground of unknown height nobody knows whether the lowest safe height clears it.
    doubt = too_low_there(basis) | too_low_near(basis) | ~fields.height_known
    return np.where(doubt, at_best_unknown(codes), codes).astype(np.int8)


def too_low_there(basis: Basis) -> Bools:
    """Return where the lowest safe height cannot hold its clearance: under 1,000 ft above the field itself."""
    lowest, fields = basis.question.lowest_safe_ft_amsl or 0.0, basis.fields
    return fields.height_known & (lowest < fields.elevation_ft + LEAST_CLEARANCE_FT)


def too_low_near(basis: Basis) -> Bools:
    """Return where it cannot because a station stands that high within the corridor: the ground there is known."""
    return (basis.question.lowest_safe_ft_amsl or 0.0) < basis.weighed.ground_ft_amsl + LEAST_CLEARANCE_FT


def _light(basis: Basis) -> Codes:
    arrival = basis.arrival
    codes = light_codes(
        arrival.night, basis.airfields, arrival.earliest_s, arrival.landed_s, handheld=basis.question.handheld
    )
    if basis.question.minimums.night == "not planned":
        codes = np.where(basis.arrival.night, MISSES, codes).astype(np.int8)
    return codes


def _runway(basis: Basis) -> Codes:
    minimums = basis.question.minimums
    winds = None if minimums.max_crosswind_kt is None else basis.surface_winds
    return runway_codes(basis.airfields, minimums, basis.arrival.night, winds)


def _icing(basis: Basis) -> Codes:
    coldest, warmest = coldest_surface_c(basis), _warmest_surface_c(basis)
    known = np.isfinite(coldest) & np.isfinite(warmest)
    given_c = basis.question.oat_c
    untold = _icing_at(basis, None, coldest, warmest, known)
    # Over the field, where the way down is, it may be colder or warmer than where the aircraft turns.
    levels = (temperatures_at(basis.starts), temperatures_over(basis)) if given_c is None else ((given_c, True),)
    codes = np.minimum.reduce(
        [np.where(told, _icing_at(basis, level_c, coldest, warmest, known), untold) for level_c, told in levels]
    )
    # What says nothing of the window may hide freezing rain.
    return np.where(basis.weighed.unsaid, at_best_unknown(codes), codes).astype(np.int8)


def temperatures_over(basis: Basis, some: Ints | None = None) -> tuple[Floats, Bools]:
    """Return the temperature (C) at the level over each field, or some, at the turn, and where it is known."""
    rows = np.arange(basis.fields.lat_deg.size) if some is None else some
    there = replace(
        basis.starts.taken(rows), lat_deg=basis.fields.lat_deg[rows], lon_deg=basis.fields.lon_deg[rows]
    )
    return temperatures_at(there)


def _icing_at(
    basis: Basis, cruise_c: float | Floats | None, coldest: Floats, warmest: Floats, known: Bools
) -> Codes:
    return icing_codes(
        base_ft_amsl=basis.weighed.lowest_base_ft_amsl,
        ground_ft_amsl=basis.fields.elevation_ft,
        ground_known=basis.fields.height_known,
        cruise_ft=basis.question.altitude_ft,
        cruise_c=cruise_c,
        coldest_surface_c=np.where(known, coldest, 0.0),
        warmest_surface_c=np.where(known, warmest, 0.0),
        surface_known=known,
        freezing=basis.weighed.freezing,
        approved=basis.question.aircraft.approved_for_icing,
    )


def coldest_surface_c(basis: Basis) -> Floats:
    """Return the coldest temperature of the reports that each field rests on.

    -inf where one of them is silent or gives none: it may be the coldest; inf where there is no report.
    """
    return -_warmest(basis, -_surface_c(basis))


def _warmest_surface_c(basis: Basis) -> Floats:
    """Return the warmest likewise: inf where one gives none, -inf where there is no report."""
    return _warmest(basis, _surface_c(basis))


def _surface_c(basis: Basis) -> Floats:
    """Return the temperature at each station, NaN-free: inf where no fresh report gives one."""
    fresh = basis.network.weather.facts.fresh
    return np.array(
        [
            o.temperature_c if o is not None and f and o.temperature_c is not None else np.inf
            for o, f in zip(basis.network.observations, fresh, strict=True)
        ],
        dtype=float,
    )


def _warmest(basis: Basis, at_station: Floats) -> Floats:
    near = basis.weighed.inquiry.reports
    warmest = np.full(basis.fields.lat_deg.shape, -np.inf)
    # Not known is inf in either direction, so that it always wins.
    np.maximum.at(warmest, near.field, np.where(np.isinf(at_station), np.inf, at_station)[near.station])
    return warmest


def cruise_temperature_c(basis: Basis) -> tuple[float | None, str]:
    """Return the temperature at the cruising level and where it comes from; ``None`` if nobody gives it."""
    at = basis.question.at
    if basis.question.oat_c is not None:
        return basis.question.oat_c, "pilot's figure"
    values, known = temperature_at(basis.winds.temperatures, np.array([at.lat_deg]), np.array([at.lon_deg]))
    if known[0]:
        return float(values[0]), "winds aloft"
    return None, "not known"


def lacks(basis: Basis, codes: Mapping[CheckName, Codes]) -> Floats:
    """Return the largest shortfall over its minimum of the checks that miss: 1 where it is no number."""
    arrival, weighed = basis.arrival, basis.weighed
    n = arrival.break_out_min.size
    # The budget is below 0 where recognition and margin alone take longer than information lasts.
    left, budget = arrival.budget_min or 0.0, max(arrival.budget_min or 0.0, 1.0)
    late = np.where(np.isfinite(arrival.break_out_min), arrival.break_out_min, 2.0 * budget) - left
    weather = np.zeros(n)
    for judged, pairs in (
        (weighed.answer.reports, weighed.report_pairs),
        (weighed.answer.forecasts, weighed.forecast_pairs),
    ):
        np.maximum.at(weather, pairs.ask, np.where(judged.code == MISSES, judged.lack, 0.0))
    shortfall = {"reach": late / budget, "weather": weather}
    shortfall["area"] = np.where(codes["weather"] == MISSES, weather, 1.0)
    parts = [np.where(code == MISSES, shortfall.get(name, np.ones(n)), 0.0) for name, code in codes.items()]
    return np.asarray(np.maximum.reduce(parts))
