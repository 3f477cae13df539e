"""The brief of a roster, first form: one line a flight and aircraft, what wants a second look first."""

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import datetime

from refuge.aircraft.airframe import Aircraft
from refuge.errors import RefugeError
from refuge.files.roster import RosterRow
from refuge.flight.briefing import BadRow, Brief, Line
from refuge.flight.minimums import Minimums
from refuge.flight.route import Plan, build, why_gap
from refuge.options import RouteOptions
from refuge.planning import route_question
from refuge.world import World

PartiesOf = Callable[[str, str], tuple[Aircraft, Minimums]]


def brief(rows: Sequence[RosterRow | BadRow], world: World, *, now: datetime, parties: PartiesOf) -> Brief:
    """Return the brief of a roster: a bad row takes nothing from the others."""
    lines: list[Line] = []
    bad = [row for row in rows if isinstance(row, BadRow)]
    for row in rows:
        if isinstance(row, BadRow):
            continue
        for aircraft in row.aircraft:
            try:
                lines.append(_line(row, aircraft, world, now=now, parties=parties))
            except RefugeError as exc:
                reason = f"{aircraft}: {exc}"
                bad.append(BadRow(line=row.line, flight=row.cells["flight"], reason=reason))
    order = sorted(lines, key=lambda line: (line.plan.within_budget, -line.plan.gap_min, line.line))
    return Brief(
        data_as_of=world.weather.data_as_of,
        lines=tuple(order),
        bad=tuple(sorted(bad, key=lambda row: row.line)),
    )


def options_of(row: RosterRow, aircraft: str) -> RouteOptions:
    """Return what a row asks for one aircraft.

    Raises
    ------
    InputError
        If a cell cannot be used.
    """
    return RouteOptions(
        at=row.places[0],
        places=row.places,
        departs=row.cells["departs"],
        aircraft=aircraft,
        minimums=row.cells["minimums"],
        altitude=row.number("altitude_ft"),
        failure=row.cells["failure"] or "alternator",
        wind=row.cells["wind"] or None,
        lowest_safe=row.number("lowest_safe_ft"),
        oat_c=row.number("oat_c"),
        soak_c=row.number("soak_c"),
        fuel_min=row.number("fuel_min"),
        margin_min=row.number("margin_min"),
        torch=row.flag("torch"),
        handheld=row.flag("handheld"),
    )


def _line(row: RosterRow, aircraft: str, world: World, *, now: datetime, parties: PartiesOf) -> Line:
    asked = options_of(row, aircraft)
    plan = build(*route_question(asked, parties(aircraft, asked.minimums), world, now=now))
    worst = max(plan.gaps, key=lambda gap: gap.to_min - gap.from_min, default=None)
    best = max(plan.chances, key=lambda chance: chance.best_for_min, default=None)
    return Line(
        line=row.line,
        flight=row.cells["flight"],
        places=row.places,
        aircraft=aircraft,
        plan=plan,
        worst=worst,
        best=None if best is None else plan.field(best.field).id,
        best_min=0 if best is None else best.best_for_min,
        breaks=_hangs_on(plan) if worst is None else why_gap(plan, worst).why,
    )


def _hangs_on(plan: Plan) -> str:
    """Return what a flight without a gap hangs on: the minutes in which all refuges share their evidence."""
    if not plan.chances:
        return "no refuge at all: visual the whole way, by the same evidence"
    alone = [pairs for pairs, ways in zip(plan.ranked, plan.ways, strict=True) if ways == 1]
    if not alone:
        return "two independent ways in every minute"
    name, _ = Counter(plan.field(int(plan.meeting.field[pairs[0]])).id for pairs in alone).most_common(1)[0]
    return f"{len(alone)} min hang on one way, mostly on {name}"
