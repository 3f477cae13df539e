"""One airfield, every check from evidence to verdict, line by line, so that it can be followed by hand."""

import textwrap
from collections.abc import Iterator

from refuge.errors import InputError
from refuge.flight.caution import CAUTION
from refuge.flight.entries import Entry, entry
from refuge.flight.phrases import ceiling_phrase, clock, visibility_phrase, wind_phrase
from refuge.flight.shortlist import Shortlist
from refuge.render.compass import compass_lines, three_digits
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
    return "\n".join(line.rstrip() for line in _lines(shortlist, entry(shortlist, found[0]))) + "\n"


def _lines(shortlist: Shortlist, found: Entry) -> Iterator[str]:
    field = found.airfield
    height = "elevation unknown" if field.elevation_ft is None else f"elevation {field.elevation_ft:,.0f} ft"
    yield f"{SIGNS[found.verdict]} {found.verdict.upper()}: {field.id} {field.name}, {height} ({field.source})"
    yield ""
    gs = "unknown" if found.gs_kt is None else f"{found.gs_kt:.0f} kt"
    yield f"Way: track {three_digits(found.track_deg_true)} true, {found.distance_nm:.1f} NM, groundspeed {gs}"
    for line in compass_lines(shortlist, found):
        yield from textwrap.wrap(line, WIDTH, subsequent_indent="  ")
    if found.window is not None and found.arrival_earliest is not None and found.arrival_latest is not None:
        yield (
            f"Arrival: overhead {clock(found.arrival_earliest)} at the earliest, below cloud"
            f" {clock(found.arrival_latest)} at the latest;"
            f" window {clock(found.window[0])} to {clock(found.window[1])}"
        )
    yield f"Position error at arrival: {found.error_radius_nm:.0f} NM (95 %)"
    yield f"Usual there: {_weather(found, adverse=False)}"
    yield f"At the worst: {_weather(found, adverse=True)}"
    yield ""
    for name, check in found.checks.items():
        sign = SIGNS[check.verdict]
        yield from textwrap.wrap(
            f"{sign} {name.replace('_', '-'):<10} {check.verdict.replace('_', ' ')}: {check.why}",
            WIDTH,
            subsequent_indent=" " * 15,
        )
    yield ""
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
    yield ""
    yield from textwrap.wrap(CAUTION, WIDTH)


def _weather(found: Entry, *, adverse: bool) -> str:
    said = found.adverse if adverse else found.prevailing
    parts = [
        ceiling_phrase(said.ceiling),
        visibility_phrase(said.visibility),
        wind_phrase(said.wind),
        *said.weather,
    ]
    return ", ".join(parts)
