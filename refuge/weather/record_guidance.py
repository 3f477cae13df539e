"""Guidance as plain values that JSON can hold: as the store keeps it, and as it is shown hour by hour."""

from datetime import timedelta
from typing import Any, TypedDict

from refuge.weather.category import category
from refuge.weather.guidance import Guidance, Product
from refuge.weather.guidance_hours import BELOW_FT, BELOW_SM, GuidanceHour, hours_of
from refuge.weather.record import ceiling_record, unreadable_record, visibility_record, wind_record
from refuge.weather.reports import Unreadable
from refuge.zulu import iso, parse_instant

_MINUTE = timedelta(minutes=1)
NO_GUIDANCE: dict[str, Any] = {"product": None, "version": None, "hours": None}
"""What the object of a block has besides the keys of every report's (`refuge.weather.record.ReportRecord`)."""


class GuidanceRecord(TypedDict):
    """The fields of `Guidance` less its raw text, which the store keeps beside; cells as printed.

    ``after_min`` are its times, in minutes after the run.
    """

    station: str
    product: Product
    version: str | None
    based_on: str
    after_min: list[int]
    rows: dict[str, str]
    unread: list[str]


def guidance_record(value: Guidance) -> GuidanceRecord:
    """Return a block as plain values, to be kept."""
    return {
        "station": value.station,
        "product": value.product,
        "version": value.version,
        "based_on": iso(value.based_on),
        "after_min": [(at - value.based_on) // _MINUTE for at in value.times],
        "rows": dict(value.rows),
        "unread": list(value.unread),
    }


def guidance_from_record(record: GuidanceRecord, *, raw: str) -> Guidance:
    """Return the block that `guidance_record` was given."""
    based_on = parse_instant(record["based_on"])
    return Guidance(
        raw=raw,
        station=record["station"],
        product=record["product"],
        version=record["version"],
        based_on=based_on,
        times=tuple(based_on + after * _MINUTE for after in record["after_min"]),
        rows=record["rows"],
        unread=tuple(record["unread"]),
    )


def hour_record(hour: GuidanceHour) -> dict[str, Any]:
    """Return what a block says of one hour; chances by the name that the block gives them."""
    ceilings, visibilities = dict(hour.ceiling_chances), dict(hour.visibility_chances)
    known = {name: ceilings.get(limit) for name, limit in BELOW_FT.items()}
    known |= {name: visibilities.get(limit) for name, limit in BELOW_SM.items()}
    return {
        "time": iso(hour.at),
        "ceiling": ceiling_record(hour.ceiling),
        "visibility": visibility_record(hour.visibility),
        "wind": wind_record(hour.wind),
        "weather": None if hour.weather is None else list(hour.weather),
        "category": category(hour.ceiling, hour.visibility).value,
        "temperature_c": hour.temperature_c,
        "dew_point_c": hour.dew_point_c,
        "ceiling_if_wet": None if hour.ceiling_if_wet is None else ceiling_record(hour.ceiling_if_wet),
        "visibility_if_wet": None if hour.visibility_if_wet is None else visibility_record(hour.visibility_if_wet),
        "chances_percent": {
            **known,
            "wet": hour.wet_percent,
            "thunder": hour.thunder_percent,
            "freezing": hour.freezing_percent,
        },
    }


def hour_records(value: Guidance) -> list[dict[str, Any]]:
    """Return what a block says of each of its hours."""
    return [hour_record(hour) for hour in hours_of(value)]


def guidance_report(value: Guidance) -> dict[str, Any]:
    """Return a block as an object with the keys of every report's, and those of `NO_GUIDANCE`."""
    nothing = unreadable_record(Unreadable(raw=value.raw, kind=None, station=value.station, error=""))
    return {
        **nothing,
        "kind": "GUIDANCE",
        "time": iso(value.based_on),
        "unread": list(value.unread),
        "error": None,
        "issued": iso(value.based_on),
        "valid_from": iso(value.times[0]),
        "valid_to": iso(value.times[-1]),
        "product": value.product,
        "version": value.version,
        "hours": hour_records(value),
    }
