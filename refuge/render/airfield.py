"""What is known of one airfield, and from where: as text and as JSON."""

import json
import textwrap
from collections.abc import Iterator
from typing import Any

from refuge.airfield import EVERY_DAY, Airfield, Hours, Runway, Station, ends_of

WIDTH = 110
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_WHO_KNOWS = " (the source does not say; for the United States: refuge import airfields --from nasr)"
_YES = {True: "yes", False: "no", None: "unknown"}


def airfield_json(field: Airfield, codes: tuple[str, ...], station: Station | None) -> dict[str, Any]:
    """Return everything that the store has of an airfield, as JSON values; null is "not known"."""
    return {
        "id": field.id,
        "name": field.name,
        "lat": field.lat_deg,
        "lon": field.lon_deg,
        "elevation_ft": field.elevation_ft,
        "country": field.country,
        "codes": list(codes),
        "station": None if station is None else {"id": station.id, "elevation_ft": station.elevation_ft},
        "private": field.private,
        "class_b": field.class_b,
        "time_zone": field.time_zone,
        "lights": _lights_json(field),
        "tower": _tower_json(field),
        "runways": None if field.runways is None else [_runway_json(runway) for runway in field.runways],
        "source": field.source,
    }


def airfield_lines(field: Airfield, codes: tuple[str, ...], station: Station | None) -> str:
    """Return the same as the lines of JSON that every door gives."""
    return json.dumps(airfield_json(field, codes, station), indent=2, ensure_ascii=False) + "\n"


def _lights_json(field: Airfield) -> dict[str, Any]:
    detail = field.lights_detail
    return {
        "without_radio": field.lights,
        "until_local": None if detail.until_local is None else f"{detail.until_local:%H:%M}",
        "after": detail.after if field.lights == "until" else None,
        "beacon": detail.beacon,
        "text": detail.text,
        "source": detail.source or field.source,
    }


def _tower_json(field: Airfield) -> dict[str, Any] | None:
    if field.tower is None:
        return None
    hours = None if field.tower.hours is None else [hours_words(span) for span in field.tower.hours]
    return {"text": field.tower.text, "hours_local": hours, "source": field.tower.source}


def _runway_json(runway: Runway) -> dict[str, Any]:
    return {
        "idents": runway.idents,
        "length_ft": runway.length_ft,
        "width_ft": runway.width_ft,
        "surface": runway.surface,
        "surface_text": runway.surface_text,
        "lighted": runway.lighted,
        "closed": runway.closed,
        "ends": [
            {
                "ident": end.ident,
                "heading_deg_true": end.heading_deg_true,
                "landing_ft": end.landing_ft,
                "right_traffic": end.right_traffic,
            }
            for end in ends_of(runway)
        ],
        "source": runway.source or None,
    }


def hours_words(span: Hours) -> str:
    """Return a span of hours: ``daily 0600-2200``, ``Mon Tue 0800-1600``."""
    days = "daily" if set(span.days) == set(EVERY_DAY) else " ".join(_DAYS[day] for day in span.days)
    return f"{days} {_clock(span.opens_min)}-{_clock(span.closes_min)}"


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}{minutes % 60:02d}"


def airfield_text(field: Airfield, codes: tuple[str, ...], station: Station | None) -> str:
    """Return the same for a terminal, each part with its source."""
    lines = []
    for line in _lines(field, codes, station):
        lines += textwrap.wrap(line, WIDTH, subsequent_indent="            ") or [""]
    return "\n".join(lines) + "\n"


def _lines(field: Airfield, codes: tuple[str, ...], station: Station | None) -> Iterator[str]:
    yield f"{field.id} {field.name} ({field.country})"
    others = [code for code in codes if code != field.id]
    yield f"  codes     {', '.join(others) or 'no other'}"
    yield f"  position  {field.lat_deg:.4f}, {field.lon_deg:.4f}"
    yield f"  elevation {'unknown' if field.elevation_ft is None else f'{field.elevation_ft:,.0f} ft'}"
    yield f"  weather   {'no station there: borrowed' if station is None else f'station {station.id} at the field'}"
    yield f"  private   {_YES[field.private]}{_WHO_KNOWS if field.private is None else ''}"
    yield f"  class B   {_YES[field.class_b]}"
    yield f"  time zone {field.time_zone or 'unknown'}"
    yield f"  lights    {_lights_words(field)} [{field.lights_detail.source or field.source or 'no source'}]"
    if field.lights_detail.text:
        yield f'            the source says "{field.lights_detail.text}"'
    yield f"  beacon    {_YES[field.lights_detail.beacon]}"
    yield f"  tower     {_tower_words(field)}"
    if field.runways is None:
        yield "  runways   unknown"
    for runway in field.runways or ():
        yield f"  runway    {_runway_words(runway)} [{runway.source or field.source or 'no source'}]"
    yield f"  source    {field.source or 'none named'}"


def _lights_words(field: Airfield) -> str:
    detail = field.lights_detail
    hour = "" if detail.until_local is None else f"{detail.until_local:%H%M}"
    after = {"radio": "a radio turns them on", "none": "nothing", "unknown": "unknown"}[detail.after]
    return {
        "dusk_to_dawn": "burn from dusk to dawn without a radio",
        "until": f"burn from dusk to {hour} local without a radio, then {after}",
        "radio": "a radio turns them on, nothing burns without",
        "none": "none",
        "unknown": "unknown whether they burn without a radio",
    }[field.lights]


def _tower_words(field: Airfield) -> str:
    if field.tower is None:
        return "none known"
    hours = field.tower.hours
    if not field.tower.text:
        return f"hours not given [{field.tower.source}]"
    local = "hours not understood" if hours is None else "; ".join(map(hours_words, hours)) + " local"
    return f'{local} (the source says "{field.tower.text}") [{field.tower.source}]'


def _runway_words(runway: Runway) -> str:
    length = "length unknown" if runway.length_ft is None else f"{runway.length_ft:,} ft"
    ends = []
    for end in ends_of(runway):
        heading = (
            "heading unknown"
            if end.heading_deg_true is None
            else f"{round(end.heading_deg_true) % 360 or 360:03d} true"
        )
        landing = "" if end.landing_ft in {None, runway.length_ft} else f", {end.landing_ft:,} ft to land"
        ends.append(f"{end.ident} {heading}{landing}{', right turns' if end.right_traffic else ''}")
    lit = {True: "lit", False: "no lights", None: "lights unknown"}[runway.lighted]
    closed = ", CLOSED" if runway.closed else ""
    return f"{runway.idents} {length}, {runway.surface} ({runway.surface_text}), {lit}{closed}: {'; '.join(ends)}"
