"""Why each check of one airfield came out as it did, in words; made only for what is shown."""

import math

import numpy as np

from refuge.flight.checks import PRESSURE_ALLOWANCE_FT
from refuge.flight.decide import (
    CHECKS,
    CheckName,
    coldest_surface_c,
    cruise_temperature_c,
    temperatures_over,
    too_low_near,
    too_low_there,
)
from refuge.flight.landing_words import airspace_words, light_words, runway_words
from refuge.flight.shortlist import Shortlist
from refuge.flight.verdict import MEETS, MISSES, UNKNOWN, WORDS, Check
from refuge.flight.weather_words import area_words, weather_words

NO_WIND = "no wind is known along the way: give --wind, or collect winds"


def explain(shortlist: Shortlist, index: int) -> dict[CheckName, Check]:
    """Return every check of one airfield with its verdict and why."""
    writers = {
        "reach": _reach, "weather": weather_words, "area": area_words, "break_out": _break_out, "icing": _icing,
        "light": light_words, "runway": runway_words, "airspace": airspace_words, "notices": _notices,
    }  # fmt: skip
    return {
        name: Check(verdict=WORDS[int(shortlist.codes[name][index])], why=writers[name](shortlist, index))
        for name in CHECKS
    }


def reasons(checks: dict[CheckName, Check]) -> tuple[str, ...]:
    """Return why an airfield does not meet: the misses first, then what is unknown; empty if it meets."""
    return tuple(
        f"{name.replace('_', '-')}: {check.why}"
        for word in ("misses", "unknown")
        for name, check in checks.items()
        if check.verdict == word
    )


def _reach(shortlist: Shortlist, i: int) -> str:
    question, arrival = shortlist.basis.question, shortlist.basis.arrival
    if not arrival.reach.wind_known[i]:
        return NO_WIND
    minutes = float(arrival.break_out_min[i])
    if not np.isfinite(minutes):
        return "never reached: the wind, with its error, is stronger than the aircraft"
    if question.endurance.information_min is not None and (
        question.endurance.information_min < question.endurance.recognition_min
    ):
        return (
            f"the instruments end before the turn, {question.endurance.recognition_min:.0f} min after the failure"
        )
    # Rounded against the pilot, never for him.
    late = math.ceil(minutes)
    if arrival.budget_min is None:
        return f"break-out after {late} min, and nobody knows how long the instruments last"
    spare = math.floor(arrival.budget_min - minutes)
    text = f"break-out after {late} min at the latest, budget {math.floor(arrival.budget_min)}"
    if spare < 0:
        return f"{text}: {-spare} min too late"
    if not question.endurance.dependable:
        return f"{text}, but the endurance cannot be depended on"
    return f"{text}: {spare} min to spare"


def _break_out(shortlist: Shortlist, i: int) -> str:
    lowest = shortlist.basis.question.lowest_safe_ft_amsl
    if lowest is None:
        return "no terrain data and no --lowest-safe: nobody knows whether the base clears the ground"
    if too_low_there(shortlist.basis)[i]:
        return (
            f"the lowest safe height, {lowest:,.0f} ft, is under 1,000 ft above the field: it cannot be safe there"
        )
    if too_low_near(shortlist.basis)[i]:
        ground = shortlist.basis.weighed.ground_ft_amsl[i]
        return (
            f"the lowest safe height, {lowest:,.0f} ft, is under 1,000 ft above a station near, {ground:,.0f} ft:"
            " it cannot be safe there"
        )
    need = f"{lowest + PRESSURE_ALLOWANCE_FT:,.0f} ft above sea level (lowest safe {lowest:,.0f} + 180)"
    code = shortlist.codes["break_out"][i]
    if code == MEETS:
        return f"every ceiling around is at or above {need}"
    if code == MISSES:
        return f"a ceiling around is below {need}"
    if not shortlist.basis.fields.height_known[i]:
        return "the height of the field is not known, so nobody knows whether the lowest safe height clears it"
    return f"not proved that every ceiling around is at or above {need}"


def _icing(shortlist: Shortlist, i: int) -> str:
    basis = shortlist.basis
    if basis.weighed.freezing[i]:
        return "freezing rain, freezing drizzle or ice pellets in the window, here or at a station around"
    base, cruise = float(basis.weighed.lowest_base_ft_amsl[i]), basis.question.altitude_ft
    code = shortlist.codes["icing"][i]
    if code == UNKNOWN and (base >= cruise or basis.question.aircraft.approved_for_icing):
        return "what bears on it does not speak of the whole window: there may be freezing rain, or cloud"
    if base >= cruise:
        return "no cloud known between the cruising level and the ground, here or around"
    if basis.question.aircraft.approved_for_icing:
        return "the aircraft is approved for flight in icing"
    cruise_c, source = cruise_temperature_c(basis)
    surface = float(coldest_surface_c(basis)[i])
    ground = f"{surface:+.0f} C on the ground" if np.isfinite(surface) else "no temperature on the ground"
    level = (
        f"{cruise_c:+.0f} C at {cruise:,.0f} ft ({source})" if cruise_c is not None else "none known at the level"
    )
    over, known = _over_field(shortlist, i, cruise_c)
    level += over
    band = f"cloud from {base:,.0f} to {cruise:,.0f} ft, temperature {level}, {ground}"
    if code == UNKNOWN:
        nowhere = cruise_c is None or not known
        missing = "give --oat, or collect winds aloft" if nowhere else "too little is known between them"
        return f"{band}: {missing}"
    return f"{band}: {'between +2 and -20 C' if code == MISSES else 'warmer than +2 or colder than -20 C'}"


def _over_field(shortlist: Shortlist, i: int, cruise_c: float | None) -> tuple[str, bool]:
    """Return what to say of the temperature at the level over a field, if it is another, and if it is known."""
    if shortlist.basis.question.oat_c is not None:
        return "", True
    celsius, known = temperatures_over(shortlist.basis, np.array([i]))
    if not known[0]:
        return ("" if cruise_c is None else " and not known over the field"), False
    over = f"{float(celsius[0]):+.0f}"
    return ("" if cruise_c is not None and over == f"{cruise_c:+.0f}" else f" and {over} C over the field"), True


def _notices(shortlist: Shortlist, i: int) -> str:
    del shortlist, i
    return "notices to airmen: not checked, ask for them before the flight"
