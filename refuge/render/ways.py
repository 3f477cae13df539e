"""Ways out of a gap as JSON and as text."""

from collections.abc import Iterator, Sequence
from typing import Any

from refuge.flight.ways import Way, ranked
from refuge.zulu import iso


def ways_json(found: Sequence[Way], refused: Sequence[tuple[str, str]]) -> dict[str, Any]:
    """Return ways ranked by the gap minutes left, the strip of departures, and what could not be flown."""
    return {
        "ways": [_way_json(way) for way in ranked(found)],
        "departures": [
            {"departs": iso(way.departs), "gap_min": way.gap_min, "visual_min": way.visual_min}
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
        "within_gap_budget": way.within_budget,
    }


def _departures(found: Sequence[Way]) -> list[Way]:
    return sorted(
        (way for way in found if way.variant.kind in {"as planned", "departure"}), key=lambda way: way.departs
    )


def ways_text(found: Sequence[Way], refused: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Yield the strip of departures and the ways, the fewest gap minutes first."""
    strip = _departures(found)
    yield "Gap minutes by departure:"
    for way in strip:
        bar = "#" * min(way.gap_min, 60)
        yield f"  {way.departs:%H:%MZ} {way.gap_min:>4}  {bar}".rstrip()
    yield ""
    yield "Ways, the fewest gap minutes first:"
    for way in ranked(found):
        mark = "+" if way.within_budget else "x"
        yield (
            f"  {mark} {way.gap_min:>4} min  {way.variant.label:<28} {way.total_min:>4.0f} min in the air;"
            f" costs {way.variant.cost}"
        )
    for label, why in refused:
        yield f"  -    not  {label}: {why}"
