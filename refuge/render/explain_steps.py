"""The steps of an explanation that lead to the checks: budget, way, minimums, and what to do there."""

import math
from collections.abc import Iterator

from refuge.aircraft.endurance import Endurance
from refuge.flight.entries import Entry
from refuge.flight.landing_words import landing_window
from refuge.flight.phrases import clock, latest
from refuge.flight.shortlist import Shortlist
from refuge.render.compass import three_digits
from refuge.render.endurance import gone_words, minutes_left


def budget_line(shortlist: Shortlist) -> str:
    """Return how the budget comes about."""
    question = shortlist.basis.question
    found, budget = question.endurance, shortlist.basis.arrival.budget_min
    if found.information_min is None or budget is None:
        return f"Instruments: nobody knows how long they last ({found.limited_why})"
    doubt = "" if found.dependable else "; not to be depended on"
    return (
        f"Instruments: {math.floor(found.information_min)} min ({found.limited_by}), less"
        f" {gone_words(found, question.aircraft)} and {question.margin_min:.0f} in hand:"
        f" {minutes_left(budget)} from the turn to be below cloud{doubt}{_dry(found)}"
    )


def _dry(found: Endurance) -> str:
    if found.dry is None:
        return ""
    return f" (airspeed ends with pitot heat; as if dry {math.floor(found.dry.information_min or 0.0)} min)"


def way_lines(shortlist: Shortlist, i: int, found: Entry) -> Iterator[str]:
    """Yield the way and its times, so that they can be added up by hand."""
    arrival, question = shortlist.basis.arrival, shortlist.basis.question
    gs = "unknown" if found.gs_kt is None else f"{found.gs_kt:.0f} kt"
    yield f"Way: track {three_digits(found.track_deg_true)} true, {found.distance_nm:.1f} NM, groundspeed {gs}"
    if found.minutes is None or found.break_out_min is None:
        yield "Times: never reached"
        return
    latest, descent = float(arrival.reach.latest_min[i]), float(arrival.descent_min[i])
    lowest = question.lowest_safe_ft_amsl
    down_to = f"the lowest safe height of {lowest:,.0f} ft" if lowest is not None else "the ground"
    yield (
        f"Times: overhead after {found.minutes:.1f} min, {latest:.1f} with the error of the wind; descent from"
        f" {question.altitude_ft:,.0f} ft to {down_to} at {question.aircraft.descent_ft_min:.0f} ft/min takes"
        f" {descent:.1f}: below cloud after {found.break_out_min:.1f} min at the latest"
    )


def minimums_line(shortlist: Shortlist, i: int) -> str:
    """Return the ceiling and visibility that the field is held to, and the period without the timing error."""
    fields = shortlist.basis.fields
    start, end = landing_window(shortlist, i)
    when = "night" if shortlist.basis.arrival.night[i] else "day"
    lit = f"light and tower from {clock(start)} to {clock(latest(end))}"
    return (
        f"Held to: ceiling {fields.required_ft[i]:,.0f} ft, visibility {fields.required_sm[i]:g} SM"
        f" ({shortlist.basis.question.minimums.id}, by {when}); {lit}"
    )


def advice_lines(found: Entry) -> Iterator[str]:
    """Yield what to do there without a radio."""
    yield "What to do there:"
    for text in found.advice:
        yield f"- {text}"
    if found.density_altitude is not None:
        yield f"- note: {found.density_altitude}"
