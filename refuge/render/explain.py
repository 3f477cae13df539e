"""One airfield, every check from evidence to verdict, line by line, so that it can be followed by hand."""

import textwrap
from collections.abc import Iterator

from refuge.errors import InputError
from refuge.flight.caution import CAUTION
from refuge.flight.entries import Entry, entry
from refuge.flight.phrases import ceiling_phrase, clock, latest, visibility_phrase, wind_phrase
from refuge.flight.shortlist import Shortlist
from refuge.render.compass import compass_lines
from refuge.render.explain_steps import advice_lines, budget_line, minimums_line, way_lines
from refuge.render.find_text import SIGNS, WIDTH, age


def explain_text(shortlist: Shortlist, airfield_id: str) -> str:
    """Return the explanation of one airfield's verdict.

    Raises
    ------
    InputError
        If the airfield is not in question: not in the store, or too far.
    """
    found = [i for i, field in enumerate(shortlist.basis.airfields) if field.id == airfield_id.upper()]
    if not found:
        raise InputError(
            f"{airfield_id} is not among the {len(shortlist.basis.airfields)} airfields in question",
            where="--explain",
            remedy="it is too far, or not in the store; refuge find lists those in question",
        )
    return "\n".join(line.rstrip() for line in _lines(shortlist, found[0])) + "\n"


def _lines(shortlist: Shortlist, i: int) -> Iterator[str]:
    found = entry(shortlist, i)
    field = found.airfield
    height = "elevation unknown" if field.elevation_ft is None else f"elevation {field.elevation_ft:,.0f} ft"
    yield f"{SIGNS[found.verdict]} {found.verdict.upper()}: {field.id} {field.name}, {height} ({field.source})"
    yield ""
    for line in (budget_line(shortlist), *way_lines(shortlist, i, found), *compass_lines(shortlist, found)):
        yield from textwrap.wrap(line, WIDTH, subsequent_indent="  ")
    if found.window is not None and found.arrival_earliest is not None and found.arrival_latest is not None:
        yield (
            f"Arrival: overhead {clock(found.arrival_earliest)} at the earliest, below cloud"
            f" {clock(latest(found.arrival_latest))} at the latest;"
            f" window {clock(found.window[0])} to {clock(latest(found.window[1]))}"
        )
    yield f"Position error at arrival: {found.error_radius_nm:.0f} NM (95 %)"
    yield f"Usual there: {_weather(found, adverse=False)}"
    yield f"At the worst: {_weather(found, adverse=True)}"
    yield from textwrap.wrap(minimums_line(shortlist, i), WIDTH, subsequent_indent="  ")
    yield ""
    for name, check in found.checks.items():
        sign = SIGNS[check.verdict]
        yield from textwrap.wrap(
            f"{sign} {name.replace('_', '-'):<10} {check.verdict.replace('_', ' ')}: {check.why}",
            WIDTH,
            subsequent_indent=" " * 15,
        )
    yield ""
    yield from _evidence(shortlist, found)
    yield ""
    for line in advice_lines(found):
        yield from textwrap.wrap(line, WIDTH, subsequent_indent="  ")
    yield ""
    yield from textwrap.wrap(CAUTION, WIDTH)


def _evidence(shortlist: Shortlist, found: Entry) -> Iterator[str]:
    yield "Evidence:"
    now = shortlist.basis.question.now
    for item in found.evidence:
        when = "silent" if item.time is None else f"{clock(item.time)}, {age(item.time, now)} old"
        lent = f", borrowed over {item.distance_nm:.0f} NM" if item.borrowed else ""
        yield f"  {item.kind} {item.station} {when}{lent}"
        if item.raw is not None:
            yield from textwrap.wrap(item.raw, WIDTH, initial_indent="    ", subsequent_indent="    ")
    if not found.evidence:
        yield "  none"


def _weather(found: Entry, *, adverse: bool) -> str:
    said = found.adverse if adverse else found.prevailing
    parts = [
        ceiling_phrase(said.ceiling),
        visibility_phrase(said.visibility),
        wind_phrase(said.wind),
        *said.weather,
    ]
    return ", ".join(parts)
