"""Areas of good weather around a place: as JSON values, and as lines of text."""

from collections.abc import Iterator
from typing import Any

from shapely.geometry import mapping

from refuge.flight.area import GoodArea
from refuge.flight.good_weather import LOOK_AROUND_NM, GoodWeather
from refuge.flight.phrases import clock
from refuge.zulu import iso

MOST_SHOWN = 5
DEGREES_DIGITS = 4


def areas_json(found: GoodWeather) -> dict[str, Any]:
    """Return areas of good weather as JSON values; geometries as in GeoJSON (RFC 7946)."""
    return {
        "at": iso(found.when),
        "radius_nm": LOOK_AROUND_NM,
        "stations": found.stations,
        "good_stations": found.good,
        "list": [_area_json(found, area) for area in found.areas],
    }


def _area_json(found: GoodWeather, area: GoodArea) -> dict[str, Any]:
    return {
        "said": area.said,
        "direction": area.direction,
        "from_nm": round(area.from_nm, 2),
        "width_nm": round(area.width_nm, 2),
        "centre": {"lat": round(area.centre.lat_deg, 4), "lon": round(area.centre.lon_deg, 4)},
        "stations": [found.names[i] for i in area.stations],
        "geometry": None if area.shape is None else _rounded(mapping(area.shape)),
    }


def _rounded(value: Any) -> Any:  # noqa: ANN401 - GeoJSON nests
    """Return a geometry with its degrees as lists of plain numbers, to about 10 m."""
    if isinstance(value, dict):
        return {key: _rounded(each) for key, each in value.items()}
    if isinstance(value, (tuple, list)):
        return [_rounded(each) for each in value]
    return round(value, DEGREES_DIGITS) if isinstance(value, float) else value


def areas_lines(found: GoodWeather) -> Iterator[str]:
    """Yield where the weather is good at an instant, by the minimums asked."""
    yield (
        f"Good weather at {clock(found.when)} within {LOOK_AROUND_NM:.0f} NM"
        f" ({found.good} of {found.stations} stations heard are good):"
    )
    if not found.areas:
        yield "- nowhere, as far as stations tell: no place with a good one within 20 NM and no other"
    for area in found.areas[:MOST_SHOWN]:
        names = ", ".join(found.names[i] for i in area.stations[:MOST_SHOWN])
        more = f" and {len(area.stations) - MOST_SHOWN} more" if len(area.stations) > MOST_SHOWN else ""
        yield f"- {area.said} ({names}{more})"
    if len(found.areas) > MOST_SHOWN:
        yield f"- and {len(found.areas) - MOST_SHOWN} smaller ones (--json)"
