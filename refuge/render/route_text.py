"""A plan of a flight as a page of text."""

import math
import textwrap
from collections.abc import Iterable, Iterator

from refuge.aircraft.account import HORIZON_MIN
from refuge.flight.alerts import OLD_SAID, template_warnings
from refuge.flight.caution import CAUTION
from refuge.flight.phrases import clock
from refuge.flight.route import Plan, Stretch, as_if_dry, why_gap
from refuge.flight.situation import is_old
from refuge.render.dry import MARK, NOT_A_PLAN, pitot_heat_text
from refuge.render.find_text import SIGNS, age, sentence
from refuge.render.route_json import route_assumptions, route_summary

WIDTH = 100
SIGN = {"refuge": "+", "visual": "~", "gap": "x"}


def route_text(plan: Plan, ways: Iterable[str] = ()) -> str:
    """Return the plan as text: the summary, the stretches of the way, gaps, equal times and last chances."""
    return "\n".join(_lines(plan, ways)) + "\n"


def _lines(plan: Plan, ways: Iterable[str]) -> Iterator[str]:
    asked, question = plan.asked, plan.asked.question
    way = " - ".join(point.place for point in asked.waypoints)
    yield (
        f"{way}, {asked.departs:%d %b %H:%MZ}, {plan.track.total_min:.0f} min, {plan.track.distance_nm:.0f} NM at"
        f" {question.altitude_ft:,.0f} ft in {question.aircraft.id}; failure: {question.failure}"
    )
    for said in basis_lines(plan):
        yield from textwrap.wrap(said, WIDTH)
    yield from textwrap.wrap(sentence(route_summary(plan)), WIDTH)
    yield ""
    then = "if it fails then" if asked.since_failure_min is None else "if it turns then"
    yield f"  from    to      min  best refuge {then}          least spare  second"
    yield "  (+ a refuge, ~ in visual conditions: no gap, x none)"
    for stretch in plan.stretches:
        yield _stretch(plan, stretch)
    yield from _dry(plan)
    yield from _gaps(plan)
    yield from _turning_points(plan)
    for number, line in enumerate(ways):
        yield from () if number else [""]
        yield line
    yield ""
    yield "Assumed:"
    for note in route_assumptions(plan):
        yield from textwrap.wrap(f"- {note}", WIDTH, subsequent_indent="  ")
    yield ""
    yield from textwrap.wrap(CAUTION, WIDTH)


def basis_lines(plan: Plan) -> Iterator[str]:
    """Yield how long the instruments last, counted from when and with what taken off, and how old the data are."""
    asked, question, found = plan.asked, plan.asked.question, plan.endurance
    if found.information_min is None:
        yield f"Instruments: UNKNOWN how long they last - {found.limited_why}"
    else:
        shortest = " where it is shortest" if len(asked.blocks) > 1 else ""
        since = asked.since_failure_min
        gone = max(found.recognition_min, since or 0.0)
        left = found.information_min - gone - question.margin_min
        planned = f", planned to {HORIZON_MIN:.0f} min" if left > HORIZON_MIN else ""
        ago = "" if since is None else f", {since:.0f} min before"
        until = "to notice" if since is None else "until the first turn"
        doubt = "" if found.dependable else "; NOT DEPENDABLE"
        yield (
            f"Instruments last {math.floor(found.information_min)} min from the failure{ago} ({found.limited_by})"
            f"{shortest}; less {gone:.0f} {until} and {question.margin_min:.0f} in hand"
            f"{planned}{doubt}"
        )
    yield from template_warnings(question.aircraft)
    as_of = plan.situation.data_as_of
    if as_of is None:
        yield "No bulletin at all is known as of then"
        return
    yield f"Newest bulletin received {clock(as_of)}, {age(as_of, question.now)} before"
    if is_old(as_of, question.now):
        yield OLD_SAID


def _dry(plan: Plan) -> Iterator[str]:
    """Yield what the flight would come to if airspeed did not end with pitot heat, every line marked."""
    dry = as_if_dry(plan)
    if dry is None:
        return
    yield ""
    cost = pitot_heat_text(plan.shortened, dry.endurance, alone=not dry.gaps)
    yield from textwrap.wrap(f"{cost}. {NOT_A_PLAN.capitalize()}: {route_summary(dry)}", WIDTH)
    for stretch in dry.stretches:
        yield f"{MARK} {_stretch(dry, stretch)}"


def _stretch(plan: Plan, stretch: Stretch) -> str:
    start, end = plan.instant(stretch.from_min), plan.instant(stretch.to_min)
    minutes = stretch.to_min - stretch.from_min
    head = f"{SIGN[stretch.state]} {start:%H:%MZ}  {end:%H:%MZ}  {minutes:>4}"
    if stretch.field is None:
        return f"{head}  {_nowhere(stretch)}"
    field = plan.field(stretch.field)
    name = textwrap.shorten(f"{field.id} {field.name}", 36, placeholder="..")
    spare = "-" if stretch.least_spare_min is None else f"{math.floor(stretch.least_spare_min)} min"
    return f"{head}  {name:<36}  {spare:>11}  {_seconds(plan, stretch)}".rstrip()


def _nowhere(stretch: Stretch) -> str:
    """Return what a stretch without a refuge is flown in."""
    if stretch.state == "gap":
        return "no refuge"
    return f"in visual conditions, {'by night, ' if stretch.night else ''}no refuge"


def _seconds(plan: Plan, stretch: Stretch) -> str:
    """Return the refuges that are second in a stretch; a minute without one, or on the same evidence, is named."""
    names = dict.fromkeys(
        name for minute in range(stretch.from_min, stretch.to_min) for name in _second(plan, minute)
    )
    return ", ".join(names)


def _second(plan: Plan, minute: int) -> Iterator[str]:
    """Yield the second refuge of a minute, and the first that rests on other evidence where the second does not."""
    pairs = plan.ranked[minute]
    if len(pairs) < 2:
        yield "none"
        return
    apart = plan.independent(minute)
    if apart != pairs[1]:
        yield f"{_name(plan, pairs[1])} (same evidence)"
    if apart is not None:
        yield _name(plan, apart)


def _name(plan: Plan, pair: int) -> str:
    return plan.field(int(plan.meeting.field[pair])).id


def _gaps(plan: Plan) -> Iterator[str]:
    if not plan.gaps:
        return
    yield ""
    yield "Gaps:"
    for gap in plan.gaps:
        lat, lon = plan.lat_deg[gap.from_min], plan.lon_deg[gap.from_min]
        head = (
            f"x {plan.instant(gap.from_min):%H:%MZ} to {plan.instant(gap.to_min):%H:%MZ}, from {lat:.2f}, {lon:.2f}"
        )
        reason = why_gap(plan, gap)
        yield from textwrap.wrap(f"{head}: {reason.why}", WIDTH, subsequent_indent="    ")
        if reason.closest is not None:
            found = reason.closest
            text = (
                f"Closest to one at {plan.instant(reason.minute):%H:%MZ}: {SIGNS[found.verdict]} {found.verdict}"
                f" {found.airfield.id} {found.airfield.name}: {'; '.join(found.reasons[:2])}"
            )
            yield from textwrap.wrap(text, WIDTH, initial_indent="    ", subsequent_indent="      ")


def _turning_points(plan: Plan) -> Iterator[str]:
    if plan.equal_times:
        yield ""
        yield "Equally far in minutes:"
    for point in plan.equal_times:
        one, two = (plan.field(field).id for field in point.fields)
        yield (
            f"  {one} and {two} at {plan.instant(point.passes_min):%H:%MZ}, {point.at.lat_deg:.2f},"
            f" {point.at.lon_deg:.2f}: {point.minutes:.0f} min to either"
        )
    if plan.chances:
        yield ""
        failed = plan.asked.since_failure_min is not None
        yield f"Last minute {'to turn' if failed else 'of a failure'} at which it is still a refuge:"
    for chance in plan.chances:
        lat, lon = plan.lat_deg[chance.last_min], plan.lon_deg[chance.last_min]
        until = (
            "to the end" if chance.last_min == plan.track.minutes[-1] else f"{plan.instant(chance.last_min):%H:%MZ}"
        )
        spare = f"{math.floor(chance.spare_at_last_min)} min to spare"
        yield f"  {plan.field(chance.field).id}: {until}, {lat:.2f}, {lon:.2f}, {spare}"
