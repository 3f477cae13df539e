"""Ways out of a gap as JSON and as text."""

import math
import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

from refuge.flight.route import GAP_BUDGET_MIN
from refuge.flight.ways import Way, ranked
from refuge.zulu import iso

BAR_WIDTH = 72
"""Signs of the longest bar of the strip."""
_DOING = {
    "as planned": "flying as planned",
    "altitude": "flying {}",
    "aircraft": "flying {}",
    "detour": "flying {}",
    "fuel": "{}",
    "margin": "{}",
}


def ways_json(found: Sequence[Way], refused: Sequence[tuple[str, str]]) -> dict[str, Any]:
    """Return ways ranked by the gap minutes left, the strip of departures, and what could not be flown."""
    return {
        "ways_summary": ways_summary(found),
        "ways": [_way_json(way) for way in ranked(found)],
        "departures": [
            {
                "departs": iso(way.departs),
                "gap_min": way.gap_min,
                "visual_min": way.visual_min,
                "beyond_forecasts_min": way.beyond_min,
                "within_gap_budget": way.within_budget,
                "as_planned": way.variant.kind == "as planned",
            }
            for way in _departures(found)
        ],
        "not_flown": [{"what": label, "why": why} for label, why in refused],
    }


def _way_json(way: Way) -> dict[str, Any]:
    return {
        "kind": way.variant.kind,
        "what": way.variant.label,
        "cost": way.variant.cost,
        "departs": iso(way.departs),
        "total_min": round(way.total_min, 2),
        "gap_min": way.gap_min,
        "visual_min": way.visual_min,
        "beyond_forecasts_min": way.beyond_min,
        "within_gap_budget": way.within_budget,
        "note": way.note,
    }


def _departures(found: Sequence[Way]) -> list[Way]:
    return sorted(
        (way for way in found if way.variant.kind in {"as planned", "departure"}), key=lambda way: way.departs
    )


def ways_summary(found: Sequence[Way]) -> str:
    """Return the answer in one line: what closes the gap, or the least that is left."""
    if not found:
        return "no flight could be tried"
    planned = next((way for way in found if way.variant.kind == "as planned"), None)
    best = ranked(found)[0]
    if planned is not None and planned.gap_min == 0:
        return "as planned there is no gap"
    if best.gap_min == 0:
        return f"{_doing(best)} closes the gap"
    if planned is not None and best.gap_min == planned.gap_min:
        return f"nothing tried closes the gap, or is better than as planned: {planned.gap_min} min"
    budget = ", within the gap budget" if best.within_budget else ""
    return f"nothing tried closes the gap; the least is {best.gap_min} min{budget}: {_doing(best)}"


def _doing(way: Way) -> str:
    label = way.variant.label
    return _DOING.get(way.variant.kind, "{}").format(label.replace("leave ", "leaving ", 1))


def ways_text(found: Sequence[Way], refused: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Yield the answer in a line, the strip of departures, and the ways, the best first."""
    said = ways_summary(found)
    yield f"Ways out: {said}."
    yield ""
    yield from _strip(_departures(found))
    yield ""
    yield "Ways, the fewest gap minutes first:"
    planned = next((way.note for way in found if way.variant.kind == "as planned"), None)
    for way in ranked(found):
        yield _way_line(way)
        if way.note not in {None, planned}:  # what holds as planned too stands above
            yield from textwrap.wrap(str(way.note), 85, initial_indent=" " * 15, subsequent_indent=" " * 15)
    for label, why in refused:
        yield f"  -    not  {label}: {why}"


def _way_line(way: Way) -> str:
    mark = "+" if way.within_budget else "x"
    return (
        f"  {mark} {way.gap_min:>4} min  {way.variant.label:<28} {way.total_min:>4.0f} min in the air;"
        f" costs: {way.variant.cost}"
    )


def _strip(departures: Sequence[Way]) -> Iterator[str]:
    """Yield a bar of gap minutes for each departure, to the scale of the longest, the budget marked in all."""
    longest = max((way.gap_min for way in departures), default=0)
    each_min = max(1, math.ceil(longest / BAR_WIDTH))
    scale = "" if each_min == 1 else f", a sign for {each_min} min"
    beyond = ", ? beyond the forecasts" if any(way.beyond_min for way in departures) else ""
    yield f"Gap minutes by departure (# no refuge{beyond}, | the gap budget of {GAP_BUDGET_MIN:.0f} min{scale}):"
    mark = math.floor(GAP_BUDGET_MIN / each_min)
    for way in departures:
        signs, unsaid = (math.ceil(minutes / each_min) for minutes in (way.gap_min, way.beyond_min))
        bar = ("#" * max(signs - unsaid, 0) + "?" * unsaid).ljust(mark)
        planned = "  as planned" if way.variant.kind == "as planned" else ""
        sign = "+" if way.within_budget else "x"
        yield f"  {sign} {way.departs:%H:%MZ} {way.gap_min:>4}  {bar[:mark]}|{bar[mark:]}{planned}"
