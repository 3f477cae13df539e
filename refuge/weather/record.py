"""Decoded reports as plain values that JSON can hold, and back, losing nothing.

The shapes are interface.md's: what ``refuge decode --json`` prints is what the store keeps. Keys
beyond interface.md (layers, trend, nosig, evidence of the wind) are what the way back needs.
"""

from collections.abc import Sequence
from typing import Any, Literal, TypedDict, TypeVar, cast

from refuge.weather.category import category
from refuge.weather.conditions import Conditions
from refuge.weather.reports import Dispute, Forecast, Group, GroupKind, Observation, Unreadable
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    Layer,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)
from refuge.weather.wind import KnownWind, UnknownWind, Wind
from refuge.weather.worse import at_best_ft_agl, doubted_ceiling, doubted_visibility
from refuge.zulu import iso, parse_instant

_T = TypeVar("_T")
DECODER_VERSION = 1
"""Counts up with each change of what the decoder reads out of the same text; kept with each row."""

LayerRecord = tuple[str, int | None, str | None]
"""Amount, base (ft above ground) and CB or TCU of one layer."""


class CeilingRecord(TypedDict):
    """A ceiling; ``why`` is the reason of an unknown one and the evidence of none."""

    state: Literal["at", "none", "unknown"]
    ft_agl: int | None
    none_below_ft: int | None
    why: str | None
    obscured: bool


class VisibilityRecord(TypedDict):
    """A visibility; ``sm`` of an unknown one is the most it can be."""

    state: Literal["known", "unknown"]
    sm: float | None
    bound: Literal["exactly", "at_least", "less_than"] | None
    why: str | None


class WindRecord(TypedDict):
    """A surface wind."""

    state: Literal["known", "unknown"]
    dir_deg_true: int | None
    variable: bool
    speed_kt: float | None
    gust_kt: float | None
    from_deg_true: int | None
    to_deg_true: int | None
    why: str | None


class ConditionsRecord(TypedDict):
    """Conditions with the category that ceiling and visibility give."""

    ceiling: CeilingRecord
    visibility: VisibilityRecord
    wind: WindRecord
    weather: list[str]
    category: str
    layers: list[LayerRecord]


GroupRecord = TypedDict(
    "GroupRecord",
    {
        "kind": GroupKind,
        "from": str,
        "to": str,
        "probability": int | None,
        "ceiling": CeilingRecord | None,
        "visibility": VisibilityRecord | None,
        "wind": WindRecord | None,
        "weather": list[str] | None,
        "category": str | None,
        "layers": list[LayerRecord],
        "unread": list[str],
    },
)
"""One group; ``None`` is not mentioned. The category needs both ceiling and visibility."""


class Readings(TypedDict):
    """Both readings of a disputed element, in words."""

    ours: str
    theirs: str


class ReportRecord(TypedDict):
    """One report or forecast; each key is always there, ``None`` where it does not apply."""

    raw: str
    kind: Literal["METAR", "SPECI", "TAF"] | None
    station: str | None
    time: str | None
    auto: bool | None
    corrected: bool | None
    nil: bool | None
    ceiling: CeilingRecord | None
    visibility: VisibilityRecord | None
    wind: WindRecord | None
    weather: list[str] | None
    category: str | None
    layers: list[LayerRecord] | None
    temperature_c: float | None
    dew_point_c: float | None
    pressure_hpa: float | None
    adverse: ConditionsRecord | None
    remarks: str | None
    nosig: bool | None
    trend: list[GroupRecord] | None
    unread: list[str]
    disputed: dict[str, Readings] | None
    error: str | None
    issued: str | None
    valid_from: str | None
    valid_to: str | None
    amended: bool | None
    cancelled: bool | None
    not_scheduled: bool | None
    groups: list[GroupRecord] | None


def ceiling_record(ceiling: Ceiling) -> CeilingRecord:
    """Return the ceiling as plain values."""
    unknown = ceiling if isinstance(ceiling, UnknownCeiling) else None
    none = ceiling if isinstance(ceiling, NoCeiling) else None
    return {
        "state": "unknown" if unknown else "none" if none else "at",
        "ft_agl": at_best_ft_agl(ceiling),
        "none_below_ft": none.none_below_ft if none else None,
        "why": unknown.reason if unknown else none.evidence if none else None,
        "obscured": unknown is not None and unknown.obscured,
    }


def ceiling_from_record(record: CeilingRecord) -> Ceiling:
    """Return the ceiling that `ceiling_record` was given; unknown where the record makes no sense."""
    if record["state"] == "at" and record["ft_agl"] is not None:
        return CeilingAt(ft_agl=record["ft_agl"])
    if record["state"] == "none":
        return NoCeiling(none_below_ft=record["none_below_ft"], evidence=record["why"] or "")
    return UnknownCeiling(reason=record["why"] or "", at_best_ft_agl=record["ft_agl"], obscured=record["obscured"])


def visibility_record(visibility: Visibility) -> VisibilityRecord:
    """Return the visibility as plain values."""
    if isinstance(visibility, KnownVisibility):
        return {"state": "known", "sm": visibility.sm, "bound": visibility.bound.value, "why": None}
    return {"state": "unknown", "sm": visibility.at_best_sm, "bound": None, "why": visibility.reason}


def visibility_from_record(record: VisibilityRecord) -> Visibility:
    """Return the visibility that `visibility_record` was given; unknown where it makes no sense."""
    if record["state"] == "known" and record["sm"] is not None and record["bound"] is not None:
        return KnownVisibility(sm=record["sm"], bound=Bound(record["bound"]))
    return UnknownVisibility(reason=record["why"] or "", at_best_sm=record["sm"])


def wind_record(wind: Wind) -> WindRecord:
    """Return the wind as plain values."""
    known = wind if isinstance(wind, KnownWind) else None
    return {
        "state": "known" if known else "unknown",
        "dir_deg_true": known.dir_deg_true if known else None,
        "variable": known is not None and known.variable,
        "speed_kt": known.speed_kt if known else None,
        "gust_kt": known.gust_kt if known else None,
        "from_deg_true": known.from_deg_true if known else None,
        "to_deg_true": known.to_deg_true if known else None,
        "why": wind.reason if isinstance(wind, UnknownWind) else None,
    }


def wind_from_record(record: WindRecord) -> Wind:
    """Return the wind that `wind_record` was given; unknown where the record makes no sense."""
    if record["state"] != "known" or record["speed_kt"] is None:
        return UnknownWind(reason=record["why"] or "")
    return KnownWind(
        dir_deg_true=record["dir_deg_true"],
        speed_kt=record["speed_kt"],
        gust_kt=record["gust_kt"],
        variable=record["variable"],
        from_deg_true=record["from_deg_true"],
        to_deg_true=record["to_deg_true"],
    )


def conditions_record(conditions: Conditions) -> ConditionsRecord:
    """Return the conditions as plain values, with their category."""
    return {
        "ceiling": ceiling_record(conditions.ceiling),
        "visibility": visibility_record(conditions.visibility),
        "wind": wind_record(conditions.wind),
        "weather": list(conditions.weather),
        "category": category(conditions.ceiling, conditions.visibility).value,
        "layers": _layer_records(conditions.layers),
    }


def conditions_from_record(record: ConditionsRecord | ReportRecord) -> Conditions:
    """Return the conditions that a record of conditions, or of a report's body, was made from."""
    return Conditions(
        ceiling=ceiling_from_record(_there(record["ceiling"])),
        visibility=visibility_from_record(_there(record["visibility"])),
        wind=wind_from_record(_there(record["wind"])),
        weather=tuple(record["weather"] or ()),
        layers=_layers(record["layers"] or ()),
    )


def group_record(group: Group) -> GroupRecord:
    """Return one group as plain values."""
    return {
        "kind": group.kind,
        "from": iso(group.start),
        "to": iso(group.end),
        "probability": group.probability,
        "ceiling": None if group.ceiling is None else ceiling_record(group.ceiling),
        "visibility": None if group.visibility is None else visibility_record(group.visibility),
        "wind": None if group.wind is None else wind_record(group.wind),
        "weather": None if group.weather is None else list(group.weather),
        "category": _group_category(group),
        "layers": _layer_records(group.layers),
        "unread": list(group.unread),
    }


def group_from_record(record: GroupRecord) -> Group:
    """Return the group that `group_record` was given."""
    return Group(
        kind=record["kind"],
        start=parse_instant(record["from"]),
        end=parse_instant(record["to"]),
        probability=record["probability"],
        ceiling=None if record["ceiling"] is None else ceiling_from_record(record["ceiling"]),
        visibility=None if record["visibility"] is None else visibility_from_record(record["visibility"]),
        wind=None if record["wind"] is None else wind_from_record(record["wind"]),
        weather=None if record["weather"] is None else tuple(record["weather"]),
        layers=_layers(record["layers"]),
        unread=tuple(record["unread"]),
    )


def observation_record(value: Observation) -> ReportRecord:
    """Return one observation as plain values: the body's conditions at the top, ``adverse`` beside."""
    return {
        **_empty(value.raw),
        "kind": value.kind,
        "station": value.station,
        "time": iso(value.observed_at),
        "auto": value.auto,
        "corrected": value.corrected,
        "nil": value.nil,
        **conditions_record(value.body),
        "temperature_c": value.temperature_c,
        "dew_point_c": value.dew_point_c,
        "pressure_hpa": value.pressure_hpa,
        "adverse": conditions_record(value.adverse),
        "remarks": value.remarks,
        "nosig": value.nosig,
        "trend": [group_record(group) for group in value.trend],
        "unread": list(value.unread),
        "disputed": {d.element: {"ours": d.ours, "theirs": d.theirs} for d in value.disputed} or None,
    }


def observation_from_record(record: ReportRecord) -> Observation:
    """Return the observation that `observation_record` was given."""
    disputed: dict[Any, Readings] = dict(record["disputed"] or {})
    return Observation(
        raw=record["raw"],
        kind="SPECI" if record["kind"] == "SPECI" else "METAR",
        station=_there(record["station"]),
        observed_at=parse_instant(_there(record["time"])),
        auto=bool(record["auto"]),
        corrected=bool(record["corrected"]),
        nil=bool(record["nil"]),
        body=conditions_from_record(record),
        adverse=conditions_from_record(_there(record["adverse"])),
        temperature_c=record["temperature_c"],
        dew_point_c=record["dew_point_c"],
        pressure_hpa=record["pressure_hpa"],
        remarks=record["remarks"],
        nosig=bool(record["nosig"]),
        trend=tuple(group_from_record(group) for group in record["trend"] or ()),
        unread=tuple(record["unread"]),
        disputed=tuple(
            Dispute(element=element, ours=both["ours"], theirs=both["theirs"]) for element, both in disputed.items()
        ),
    )


def forecast_record(value: Forecast) -> ReportRecord:
    """Return one forecast as plain values; its conditions are in its groups."""
    return {
        **_empty(value.raw),
        "kind": "TAF",
        "station": value.station,
        "time": iso(value.issued_at),
        "corrected": value.corrected,
        "nil": value.nil,
        "remarks": value.remarks,
        "unread": list(value.unread),
        "issued": iso(value.issued_at),
        "valid_from": None if value.valid_from is None else iso(value.valid_from),
        "valid_to": None if value.valid_to is None else iso(value.valid_to),
        "amended": value.amended,
        "cancelled": value.cancelled,
        "not_scheduled": value.not_scheduled,
        "groups": [group_record(group) for group in value.groups],
    }


def forecast_from_record(record: ReportRecord) -> Forecast:
    """Return the forecast that `forecast_record` was given."""
    return Forecast(
        raw=record["raw"],
        station=_there(record["station"]),
        issued_at=parse_instant(_there(record["issued"])),
        valid_from=None if record["valid_from"] is None else parse_instant(record["valid_from"]),
        valid_to=None if record["valid_to"] is None else parse_instant(record["valid_to"]),
        amended=bool(record["amended"]),
        corrected=bool(record["corrected"]),
        cancelled=bool(record["cancelled"]),
        nil=bool(record["nil"]),
        not_scheduled=bool(record["not_scheduled"]),
        groups=tuple(group_from_record(group) for group in record["groups"] or ()),
        remarks=record["remarks"],
        unread=tuple(record["unread"]),
    )


def unreadable_record(value: Unreadable) -> ReportRecord:
    """Return a text that could not be read as plain values, with the reason in ``error``."""
    return {
        **_empty(value.raw),
        "kind": value.kind,
        "station": value.station,
        "error": value.error,
    }


def report_record(value: Observation | Forecast | Unreadable) -> ReportRecord:
    """Return whatever was decoded as plain values."""
    if isinstance(value, Observation):
        return observation_record(value)
    return forecast_record(value) if isinstance(value, Forecast) else unreadable_record(value)


def _group_category(group: Group) -> str | None:
    """Return the category of a group that gives both elements; unread tokens make it unknown."""
    if group.ceiling is None or group.visibility is None:
        return None
    if not group.unread:
        return category(group.ceiling, group.visibility).value
    return category(
        doubted_ceiling(group.ceiling, "not read"), doubted_visibility(group.visibility, "not read")
    ).value


def _empty(raw: str) -> ReportRecord:
    """Return a record with every key and nothing in it, in the order of interface.md."""
    nothing: Any = dict.fromkeys(ReportRecord.__annotations__)
    nothing.update(raw=raw, unread=[])
    return cast(ReportRecord, nothing)


def _layer_records(layers: Sequence[Layer]) -> list[LayerRecord]:
    return [(layer.amount, layer.base_ft_agl, layer.convective) for layer in layers]


def _layers(records: Sequence[LayerRecord]) -> tuple[Layer, ...]:
    return tuple(
        Layer(amount=amount, base_ft_agl=base_ft, convective=convective) for amount, base_ft, convective in records
    )


def _there(value: _T | None) -> _T:
    """Return the value; a record without it was not written by this module."""
    if value is None:
        raise ValueError("a record of a report lacks what every report has")
    return value
