"""Words for headings by compass: what the answer rests on, and how to turn with a compass and a clock."""

from collections.abc import Iterator

from refuge.flight.compass import (
    COMPASS_BANK_DEG,
    Compass,
    Turn,
    roll_out_reading_deg,
    standard_rate_bank_deg,
    turning_error_deg,
    variation_text,
)
from refuge.flight.entries import Entry
from refuge.flight.shortlist import Shortlist


def three_digits(degrees: float) -> str:
    """Return a direction as the trade writes it: three digits, 360 and never 000."""
    return f"{round(degrees) % 360 or 360:03d}"


def heading_kind(compass: Compass) -> str:
    """Return the name of the headings that a table shows: by compass, or what is nearest to it that is known."""
    if compass.variation.deg_e is None:
        return "true hdg"
    return "comp hdg" if compass.has_card else "mag hdg"


def turn_text(turn: Turn) -> str:
    """Return a timed turn in words: ``right 40 s``."""
    return "straight" if turn.side == "none" else f"{turn.side} {turn.seconds:.0f} s"


def compass_notes(compass: Compass) -> Iterator[str]:
    """Yield what headings by compass rest on, and every warning, in words."""
    yield from compass.variation.warnings
    if compass.variation.deg_e is None:
        yield f"headings are true: {compass.variation.said}"
    else:
        kind = "by compass" if compass.has_card else "magnetic"
        yield f"headings are {kind}: {compass.variation.said}; {compass.deviation_said}"


def compass_lines(shortlist: Shortlist, found: Entry) -> Iterator[str]:
    """Yield how to steer and turn towards one airfield, so that it can be followed by hand."""
    compass, question = shortlist.basis.compass, shortlist.basis.question
    yield from compass.variation.warnings
    magnetic, variation = compass.magnetic(found.heading_deg_true), compass.variation.deg_e
    if magnetic is None or variation is None:
        yield f"Heading: {three_digits(found.heading_deg_true)} true; none by compass: {compass.variation.said}"
    elif found.heading_deg_compass is None:
        yield "Heading: none, it is overhead or never reached"
    else:
        added = f", card {float(compass.correction(magnetic)):+.0f}" if compass.has_card else ""
        yield (
            f"Heading: {three_digits(found.heading_deg_compass)} by compass: true"
            f" {three_digits(found.heading_deg_true)}, variation {variation_text(variation)}, so magnetic"
            f" {three_digits(float(magnetic))}{added}; {compass.deviation_said}"
        )
    if found.turn is not None and question.heading is not None:
        words = _turn(found.turn, question.aircraft.cruise_tas_kt)
        now = f"{three_digits(question.heading.deg)} {question.heading.reference}"
        yield f"Turn: {words} (from {now}, {found.turn.degrees:.0f} degrees)"
    if found.heading_deg_compass is not None:
        side = None if found.turn is None else found.turn.side
        yield from _by_compass(question.at.lat_deg, found.heading_deg_compass, side)


def _turn(turn: Turn, tas_kt: float) -> str:
    if turn.side == "none":
        return "none, hold the heading"
    bank = standard_rate_bank_deg(tas_kt)
    erratic = f"; the compass is erratic beyond {COMPASS_BANK_DEG:.0f}" if bank > COMPASS_BANK_DEG else ""
    by_clock = f"{turn_text(turn)} by the clock at 3 degrees a second"
    return f"{by_clock}, {bank:.0f} degrees of bank at {tas_kt:.0f} kt{erratic}"


def _by_compass(lat_deg: float, heading_deg: float, side: str | None) -> Iterator[str]:
    """Yield the turning-error advice for turns to a heading at a latitude, and the acceleration error."""
    error = turning_error_deg(lat_deg, heading_deg)
    if error is None:
        yield (
            "Turning by compass: no rule holds this near the magnetic equator; time the turn, read the compass"
            " after it, level and at a steady speed"
        )
        return
    if side != "none":
        shown = [
            f"{three_digits(reading)} turning {way}"
            for way in ("right", "left")
            if side in {None, way} and (reading := roll_out_reading_deg(lat_deg, heading_deg, way)) is not None
        ]
        rule = "undershoot north, overshoot south" if lat_deg > 0.0 else "overshoot north, undershoot south"
        most = abs(turning_error_deg(lat_deg, 0.0) or 0.0)
        yield (
            f"Turning by compass without a clock: roll out as it reads {' or '.join(shown)}"
            f" ({rule}, by {most:.0f} degrees at this latitude, less towards east and west)"
        )
    faster, slower = ("north", "south") if lat_deg > 0.0 else ("south", "north")
    yield (
        f"Reading it: level, no bank, steady speed. On east and west it swings {faster} while speeding up, {slower}"
        " while slowing down"
    )
