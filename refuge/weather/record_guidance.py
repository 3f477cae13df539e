"""Guidance as plain values that JSON can hold: as the store keeps it, and as it is shown hour by hour."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any, TypedDict

from refuge.weather.category import category
from refuge.weather.guidance import Guidance
from refuge.weather.guidance_hours import BELOW_FT, BELOW_SM, GuidanceHour, hours_of
from refuge.weather.record import ceiling_record, unreadable_record, visibility_record, wind_record
from refuge.weather.reports import Unreadable
from refuge.zulu import iso

_MINUTE = timedelta(minutes=1)
NO_GUIDANCE: dict[str, Any] = {"product": None, "version": None, "hours": None}
"""What the object of a block has besides the keys of every report's (`refuge.weather.record.ReportRecord`)."""


class HeadRecord(TypedDict):
    """What the store keeps of `refuge.weather.guidance_head.GuidanceHead` besides what it is searched by.

    ``after_min`` are its times, in minutes after the run.
    """

    version: str | None
    after_min: list[int]


def head_record(version: str | None, based_on: datetime, times: Sequence[datetime]) -> HeadRecord:
    """Return these of a head as plain values, to be kept; elements are read from the raw text when asked for."""
    return {"version": version, "after_min": [(at - based_on) // _MINUTE for at in times]}


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
