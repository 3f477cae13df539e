"""Airfields and runways to rows and back: what has parts is kept as JSON text."""

import json
from datetime import time
from typing import Any

from sqlalchemy.engine import RowMapping

from refuge.airfield import Airfield, Hours, LightDetail, Runway, RunwayEnd, Tower

_PLAIN = (
    "id", "name", "lat_deg", "lon_deg", "elevation_ft", "country", "station_id", "lights", "time_zone", "class_b",
    "private", "source",
)  # fmt: skip
_STRIP = (
    "idents", "length_ft", "width_ft", "surface", "surface_text", "lighted", "closed", "heading_deg_true",
)  # fmt: skip
NO_DETAIL = LightDetail()


def airfield_row(field: Airfield) -> dict[str, Any]:
    """Return the row of an airfield; its runways have rows of their own."""
    return {name: getattr(field, name) for name in _PLAIN} | {
        "runways_known": field.runways is not None,
        "lights_detail": None if field.lights_detail == NO_DETAIL else _detail_text(field.lights_detail),
        "tower": None if field.tower is None else _tower_text(field.tower),
    }


def airfield_of(row: RowMapping, strips: tuple[Runway, ...]) -> Airfield:
    """Return the airfield of a row and of the rows of its runways."""
    return Airfield(
        **{name: row[name] for name in _PLAIN},
        runways=strips if row["runways_known"] else None,
        lights_detail=NO_DETAIL if row["lights_detail"] is None else _detail(json.loads(row["lights_detail"])),
        tower=None if row["tower"] is None else _tower(json.loads(row["tower"])),
    )


def runway_row(airfield_id: str, ordinal: int, runway: Runway) -> dict[str, Any]:
    """Return the row of one runway of an airfield."""
    values = {name: getattr(runway, name) for name in _STRIP}
    ends = [{name: getattr(end, name) for name in RunwayEnd.__slots__} for end in runway.ends]
    return (
        {"airfield_id": airfield_id, "ordinal": ordinal, "source": runway.source or None}
        | values
        | {"ends": json.dumps(ends) if ends else None}
    )


def runway_of(row: Any) -> Runway:  # noqa: ANN401 - a row of a SELECT * has no narrower type
    """Return the runway of a row."""
    ends = () if row.ends is None else tuple(RunwayEnd(**end) for end in json.loads(row.ends))
    return Runway(**{name: getattr(row, name) for name in _STRIP}, ends=ends, source=row.source or "")


def _detail_text(detail: LightDetail) -> str:
    until = None if detail.until_local is None else f"{detail.until_local:%H:%M}"
    values = {"after": detail.after, "beacon": detail.beacon, "text": detail.text, "source": detail.source}
    return json.dumps({"until_local": until} | values, ensure_ascii=False)


def _detail(values: dict[str, Any]) -> LightDetail:
    until = values.pop("until_local")
    return LightDetail(until_local=None if until is None else time.fromisoformat(until), **values)


def _tower_text(tower: Tower) -> str:
    hours = None if tower.hours is None else [[list(h.days), h.opens_min, h.closes_min] for h in tower.hours]
    return json.dumps({"text": tower.text, "hours": hours, "source": tower.source}, ensure_ascii=False)


def _tower(values: dict[str, Any]) -> Tower:
    hours = values.pop("hours")
    spans = None if hours is None else tuple(Hours(days=tuple(d), opens_min=o, closes_min=c) for d, o, c in hours)
    return Tower(hours=spans, **values)
