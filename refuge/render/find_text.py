"""A shortlist as a table that a pilot reads in ten seconds, with the reasons under it."""

import math
import textwrap
from collections.abc import Iterator, Sequence
from datetime import datetime

from refuge.flight.alerts import flight_warnings
from refuge.flight.caution import CAUTION
from refuge.flight.compass import Compass
from refuge.flight.entries import OVERHEAD_NM, Entry, entries, summary
from refuge.flight.good_weather import good_weather
from refuge.flight.phrases import ceiling_phrase, clock, latest, visibility_phrase, wind_phrase
from refuge.flight.shortlist import Shortlist, as_if_dry
from refuge.flight.verdict import Word
from refuge.render.areas import areas_lines
from refuge.render.compass import heading_kind, three_digits, turn_text
from refuge.render.dry import MARK, dry_text
from refuge.render.endurance import gone_words, minutes_left
from refuge.render.find_json import assumptions
from refuge.weather.category import category
from refuge.zulu import iso

SIGNS: dict[Word, str] = {"meets": "[v]", "unknown": "<?>", "misses": "[x]", "not_checked": " - "}
"""Ticked square, question in a diamond, crossed square (names.md)."""
SHOWN = 12
WIDTH = 110
NAME_WIDTH = 18
_MINUTES_OF_TWO_HOURS, _MINUTES_OF_TWO_DAYS = 120, 2880


def find_text(shortlist: Shortlist, *, limit: int | None = SHOWN, areas: bool = False) -> str:
    """Return the answer for a terminal: endurance, the table, why the first ones miss, the caution."""
    basis, dry = shortlist.basis, as_if_dry(shortlist)
    shown = list(entries(shortlist if dry is None else dry, limit))
    left, mark = len(basis.airfields) - len(shown), "" if dry is None else f"{MARK} "
    lines = [
        *_head(shortlist),
        "",
        *textwrap.wrap(sentence(summary(shortlist)), WIDTH),
        *([] if dry is None else ["", *textwrap.wrap(dry_text(shortlist, dry), WIDTH)]),
        "",
        *(_areas(shortlist) if areas else ()),
        *_table(shown, basis.compass, mark),
        *([f"  and {left} more (all of them: --json --limit 0)"] if left > 0 else []),
        "",
        *_why(shown, mark, dependable=shortlist.basis.question.endurance.dependable),
        *_notes(shortlist),
        "",
        *textwrap.wrap(CAUTION, WIDTH),
    ]
    plain = [line.rstrip() for line in lines]
    # Without any airfield, table and reasons are empty: one blank line is enough.
    return "\n".join(line for i, line in enumerate(plain) if line or plain[i - 1]) + "\n"


def _areas(shortlist: Shortlist) -> Iterator[str]:
    for line in areas_lines(good_weather(shortlist.basis)):
        yield from textwrap.wrap(line, WIDTH, subsequent_indent="  ")
    yield ""


def _head(shortlist: Shortlist) -> Iterator[str]:
    question, basis = shortlist.basis.question, shortlist.basis
    found, budget = question.endurance, basis.arrival.budget_min
    yield (
        f"{question.aircraft.id} at {question.place}, {question.failure} fails {clock(question.fails_at)},"
        f" asked as of {iso(question.now)}"
    )
    if found.information_min is None or budget is None:
        yield f"Instruments: UNKNOWN how long they last - {found.limited_why}"
    else:
        doubt = "" if found.dependable else "  NOT DEPENDABLE"
        left = found.information_min - found.recognition_min - question.margin_min
        seen = f" {math.floor(left)} min, planned to" if budget < left else ""
        yield from textwrap.wrap(
            f"Instruments last {math.floor(found.information_min)} min ({found.limited_by}: {found.limited_why});"
            f" less {gone_words(found, question.aircraft)} and {question.margin_min:.0f} in hand:{seen}"
            f" {minutes_left(budget)} to be below cloud{doubt}",
            WIDTH,
        )
    night = question.minimums.night
    by_night = (
        "not planned" if night == "not planned" else f"{night.ceiling_ft:,.0f} ft / {night.visibility_sm:g} SM"
    )
    day = question.minimums.day
    by_day = f"{day.ceiling_ft:,.0f} ft / {day.visibility_sm:g} SM"
    yield f"Minimums ({question.minimums.id}): day {by_day}, night {by_night}"
    as_of = basis.situation.data_as_of
    if as_of is None:
        yield "No bulletin at all is known as of then"
    else:
        yield f"Newest bulletin received {clock(as_of)}, {age(as_of, question.now)} before"
    for warning in (*basis.compass.variation.warnings, *flight_warnings(basis)):
        yield from textwrap.wrap(warning, WIDTH)


def sentence(text: str) -> str:
    """Return a text with its first letter in upper case."""
    return text[:1].upper() + text[1:]


def age(then: datetime, now: datetime) -> str:
    """Return how old something is: ``7 min``, ``3 h 05``, ``12 d``."""
    minutes = int((now - then).total_seconds() // 60)
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60:02d}" if minutes < 2880 else f"{minutes // 1440} d"


def _table(shown: Sequence[Entry], compass: Compass, mark: str) -> Iterator[str]:
    """Yield the table: verdict first, marked where it is none, then how to get there, and the worst to expect."""
    if not shown:
        return
    kind = heading_kind(compass)
    turning = any(entry.turn is not None for entry in shown)
    numbers = f"{kind:>8}{'turn':>12}" if turning else f"{kind:>8}"
    numbers += f" {'NM':>4} {'min':>5} {'spare':>5}"
    width, ids = 12 + len(mark), max(5, *(len(entry.airfield.id) for entry in shown))
    place_width = ids + 1 + NAME_WIDTH
    yield f"{'verdict':<{width}} {'airfield':<{place_width}} {numbers}  {'arrival':<12}  worst to expect"
    for entry in shown:
        name = textwrap.shorten(entry.airfield.name, NAME_WIDTH, placeholder="..")
        sign = f"{mark}{SIGNS[entry.verdict]} {entry.verdict}"
        place = f"{entry.airfield.id:<{ids}} {name}"
        heading = _heading(entry, compass)
        if turning:
            heading = f"{heading:>8}{'-' if entry.turn is None else turn_text(entry.turn):>12}"
        # Minutes are rounded against the pilot, never for him.
        minutes = "never" if entry.break_out_min is None else f"{math.ceil(entry.break_out_min)}"
        spare = "-" if entry.spare_min is None else f"{math.floor(entry.spare_min)}"
        numbers = f"{heading:>8} {entry.distance_nm:>4.0f} {minutes:>5} {spare:>5}"
        head = f"{sign:<{width}} {place:<{place_width}} {numbers}  {_between(entry):<12}  "
        yield from _in_column(head, _worst(entry))


def _in_column(head: str, worst: str) -> Iterator[str]:
    """Yield a row; what is too long for it goes on in its column after the last comma."""
    first, comma, rest = worst.rpartition(", ")
    if len(head) + len(worst) <= WIDTH or not comma:
        yield head + worst
        return
    yield f"{head}{first},"
    yield " " * len(head) + rest


def _heading(entry: Entry, compass: Compass) -> str:
    """Return the heading to set out with: by compass where the variation is known, else true."""
    if entry.distance_nm < OVERHEAD_NM:
        return "over"
    if compass.variation.deg_e is None:
        return three_digits(entry.heading_deg_true)
    return "-" if entry.heading_deg_compass is None else three_digits(entry.heading_deg_compass)


def _between(entry: Entry) -> str:
    if entry.arrival_earliest is None or entry.arrival_latest is None:
        return "-"
    dark = " n" if entry.night else ""
    return f"{entry.arrival_earliest:%H%M}-{latest(entry.arrival_latest):%H%M}Z{dark}"


def _worst(entry: Entry) -> str:
    """Return the worst to expect; where the evidence leaves something open, the words must not read as proof."""
    adverse = entry.adverse
    ceiling = _short(ceiling_phrase(adverse.ceiling), "ceiling")
    visibility = _short(visibility_phrase(adverse.visibility), "visibility")
    text = f"{category(adverse.ceiling, adverse.visibility)}: {ceiling}, {visibility}"
    open_ended = entry.checks["weather"].verdict == "unknown" and "unknown" not in text
    return f"not proved: {text}" if open_ended else text


def _short(phrase: str, element: str) -> str:
    """Return a phrase without its reason, and without the element's name unless it is unknown."""
    plain = phrase.split(" (", maxsplit=1)[0]
    return plain if f"{element} unknown" in plain else plain.removeprefix(f"{element} ")


def _why(shown: Sequence[Entry], mark: str, *, dependable: bool) -> Iterator[str]:
    """Yield the reasons: for a refuge what it rests on, for the others what misses or is unknown.

    That the endurance cannot be depended on stands above the table once, not under every line.
    """
    for entry in shown:
        if entry.verdict == "meets":
            wind = wind_phrase(entry.adverse.wind).removeprefix("wind ")  # "wind unknown" names it already
            text = "; ".join([*entry.marks, ""]) + f"certainty {_sure(entry)}; wind {wind}; {_rests(entry)}"
        else:
            known = [reason for reason in entry.reasons if dependable or not reason.startswith("reach: ")]
            text = "; ".join((known or list(entry.reasons))[:3])
        yield from textwrap.wrap(
            f"{mark}{SIGNS[entry.verdict]} {entry.airfield.id}: {text}", WIDTH, subsequent_indent="      "
        )


def _sure(entry: Entry) -> str:
    return entry.certainty.word + (f" ({'; '.join(entry.certainty_why)})" if entry.certainty_why else "")


def _rests(entry: Entry) -> str:
    parts = []
    for item in entry.evidence:
        when = "silent" if item.time is None else clock(item.time)
        lent = f", borrowed, {item.distance_nm:.0f} NM away" if item.borrowed else ""
        parts.append(f"{item.kind} {item.station} {when}{lent}")
    return f"rests on {entry.evidence_step}: " + ", ".join(parts[:4])


def _notes(shortlist: Shortlist) -> Iterator[str]:
    yield ""
    yield "Assumed:"
    said_above = shortlist.basis.compass.variation.warnings
    for note in [*assumptions(shortlist), *shortlist.basis.question.endurance.warnings]:
        if note in said_above:
            continue
        yield from textwrap.wrap(f"- {note}", WIDTH, subsequent_indent="  ")
