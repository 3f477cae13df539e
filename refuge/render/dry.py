"""What an answer would be if airspeed did not end with pitot heat, marked so: to look at, not to plan on."""

import math
from typing import Any

from refuge.aircraft.case import PITOT_HEAT_C
from refuge.aircraft.endurance import Endurance
from refuge.flight.entries import summary
from refuge.flight.shortlist import Shortlist
from refuge.render.endurance import endurance_json

MARK = "if dry:"
"""Stands before every verdict that is one as if dry."""
NOT_A_PLAN = "as if dry: to look at, not to plan on"


def pitot_heat_text(wet: Endurance, dry: Endurance, *, alone: bool) -> str:
    """Return what pitot heat costs; `alone` where without it the answer would be another."""
    ends = "nobody knows when" if wet.information_min is None else f"after {math.floor(wet.information_min)} min"
    lasts = f"as if dry, information would last {math.floor(dry.information_min or 0.0)} min"
    head = "Pitot heat alone closes the plan: airspeed" if alone else "Airspeed"
    return f"{head} ends with pitot heat in cloud at {PITOT_HEAT_C:+g} C or colder, {ends}; {lasts}"


def dry_text(wet: Shortlist, dry: Shortlist) -> str:
    """Return the line above a table that is as if dry."""
    cost = pitot_heat_text(wet.basis.question.endurance, dry.basis.question.endurance, alone=dry.meeting > 0)
    return f"{cost}. Below is {NOT_A_PLAN}. {summary(dry)}" if len(dry.basis.airfields) else f"{cost}."


def shown_budget(shortlist: Shortlist) -> float | None:
    """Return the budget as a number to show, never below 0; ``None`` if nobody knows it."""
    budget = shortlist.basis.arrival.budget_min
    return None if budget is None else max(0.0, round(budget, 2))


def dry_json(wet: Shortlist, dry: Shortlist, shown: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the answer as if dry, under a key of its own: no entry of it is a refuge."""
    question = dry.basis.question
    return {
        "note": dry_text(wet, dry),
        "endurance": endurance_json(question.endurance, margin_min=question.margin_min),
        "budget_min": shown_budget(dry),
        "entries": shown,
    }
