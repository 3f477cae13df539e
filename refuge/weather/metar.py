"""METAR and SPECI: one report's text to one observation."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

from refuge.weather.conditions import Conditions
from refuge.weather.elements import Elements, gather
from refuge.weather.remarks import after_remarks
from refuge.weather.reports import Dispute, Observation, Unreadable
from refuge.weather.second_opinion import with_second_opinion
from refuge.weather.sky import UnknownCeiling, UnknownVisibility
from refuge.weather.trend import BEGINS_TREND, read_trend
from refuge.weather.wind import UnknownWind
from refuge.weather.worse import doubted_ceiling, doubted_visibility
from refuge.zulu import aware_utc, resolve_ddhhmm

STATION = re.compile(r"[A-Z][A-Z0-9]{3}", re.ASCII)
TIME = re.compile(r"(\d{2})(\d{2})(\d{2})Z", re.ASCII)
CORRECTION = re.compile(r"CORR?|CC[A-Z]", re.ASCII)
_VALIDITY = re.compile(r"[0-3]\d[0-2]\d/[0-3]\d[0-2]\d", re.ASCII)
_KEYWORDS = frozenset({"METAR", "SPECI"})
_MARKS = frozenset({"AUTO", "NIL"})
_NO_CEILING_GROUP = UnknownCeiling(reason="no sky group")
_NO_VISIBILITY_GROUP = UnknownVisibility(reason="no visibility group")
_NO_WIND_GROUP = UnknownWind(reason="no wind group")
_AHEAD = timedelta(hours=24)
"""A report from further in the future than clocks are wrong is one of last month."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Header:
    kind: Literal["METAR", "SPECI"]
    station: str | None
    time: re.Match[str] | None
    named: bool
    corrected: bool
    rest: Sequence[str]


def decode_observation(raw: str, *, received_at: datetime, second_opinion: bool = True) -> Observation | Unreadable:
    """Return what one METAR or SPECI says, or why it is none.

    Parameters
    ----------
    raw : str
        The text of one report.
    received_at : datetime
        When it was received, aware; the day and time inside are resolved against it.
    second_opinion : bool
        Whether the library reads it too; without it ``adverse`` rests on our reading alone.

    Returns
    -------
    Observation or Unreadable
        Unreadable for text without station and time, and for a forecast. Every body token that
        no rule reads is in ``unread``, and makes ceiling and visibility of ``adverse`` unknown.
    """
    tokens = raw.upper().rstrip("= \n\r\t").split()
    header = _header(tokens)
    if header.station is None or header.time is None:
        return _unreadable(raw, header, "no station and time (ddhhmmZ) at the start")
    if "TAF" in tokens[:2] or (header.rest and _VALIDITY.fullmatch(header.rest[0])):
        return _unreadable(raw, header, "a forecast, not a report")
    instants = past_instants(header.time, received_at)
    if not instants:
        return _unreadable(raw, header, f"{header.time[0]} is no day and time")
    return _decode_parts(raw, header, instants[0], second_opinion=second_opinion)


def past_instants(time: re.Match[str], received_at: datetime) -> list[datetime]:
    """Return the instants at which a ddhhmmZ group may have been written, the likeliest first.

    The nearest such day, and those of the two months before it; one more than a day ahead of the
    receipt is no error of a clock and is left out, so that an old report never looks like a new one.
    """
    near = aware_utc(received_at)
    day, hour, minute = int(time[1]), int(time[2]), int(time[3])
    nearest = resolve_ddhhmm(day, hour, minute, near=near)
    if nearest is None:
        return []
    found = [nearest] if nearest - near <= _AHEAD else []
    for days in (30, 61):
        earlier = resolve_ddhhmm(day, hour, minute, near=nearest - timedelta(days=days))
        if earlier is not None and earlier < nearest and earlier not in found:
            found.append(earlier)
    return found


def _header(tokens: Sequence[str]) -> _Header:
    index, corrected = 0, False
    kind: Literal["METAR", "SPECI"] = "METAR"
    while index < len(tokens) and (tokens[index] in _KEYWORDS or _is_correction(tokens[index])):
        corrected = corrected or tokens[index] not in _KEYWORDS
        kind = "SPECI" if tokens[index] == "SPECI" else kind
        index += 1
    station = tokens[index] if index < len(tokens) and STATION.fullmatch(tokens[index]) else None
    index += station is not None
    while station is not None and index < len(tokens) and _is_correction(tokens[index]):
        corrected = True
        index += 1
    time = TIME.fullmatch(tokens[index]) if index < len(tokens) else None
    return _Header(
        kind=kind,
        named="METAR" in tokens[:1] or kind == "SPECI",
        station=station,
        time=time,
        corrected=corrected,
        rest=tokens[index + (time is not None) :],
    )


def _parted(tokens: Sequence[str]) -> tuple[list[str], list[str], str | None]:
    """Return body tokens, trend tokens and the text of the remarks."""
    remarks: str | None = None
    for index, token in enumerate(tokens):
        if token in {"RMK", "RMKS"}:
            remarks = " ".join(tokens[index + 1 :])
            tokens = tokens[:index]
            break
    for index, token in enumerate(tokens):
        if token[0] in "BTIPF" and BEGINS_TREND.fullmatch(token):
            return list(tokens[:index]), list(tokens[index:]), remarks
    return list(tokens), [], remarks


def _decode_parts(raw: str, header: _Header, observed_at: datetime, *, second_opinion: bool) -> Observation:
    body_tokens, trend_tokens, remarks = _parted(header.rest)
    words = [token for token in body_tokens if not (token in _MARKS or _is_correction(token))]
    nil, auto = "NIL" in body_tokens, "AUTO" in body_tokens
    elements = Elements(unread=words) if nil else gather(words)
    if elements.weather_not_observed and not auto:
        elements.unread.append("//")  # only automation leaves weather unobserved (WMO-No. 306, 15.8)
    trend = read_trend(trend_tokens, observed_at=observed_at) if trend_tokens and not nil else ()
    body = _body(elements, auto=auto)
    adverse = after_remarks(body, elements.lowest_visibility() or body.visibility, remarks)
    disputed: tuple[Dispute, ...] = ()
    if second_opinion and not nil:
        adverse, disputed = with_second_opinion(raw, body, adverse, observed_at=observed_at)
    temperatures, pressure = elements.temperatures, elements.pressure
    return Observation(
        raw=raw,
        kind=header.kind,
        station=header.station or "",
        observed_at=observed_at,
        auto=auto,
        corrected=header.corrected or len(words) + auto + nil < len(body_tokens),
        nil=nil,
        body=body,
        adverse=_doubted(adverse, elements.unread) if elements.unread else adverse,
        temperature_c=temperatures.temperature_c if temperatures else None,
        dew_point_c=temperatures.dew_point_c if temperatures else None,
        pressure_hpa=pressure.hpa if pressure else None,
        remarks=remarks,
        nosig="NOSIG" in words and not trend,
        trend=trend,
        unread=tuple(elements.unread),
        disputed=disputed,
    )


def _is_correction(token: str) -> bool:
    return token[0] == "C" and CORRECTION.fullmatch(token) is not None


def _body(elements: Elements, *, auto: bool) -> Conditions:
    return Conditions(
        ceiling=elements.ceiling(auto=auto) or _NO_CEILING_GROUP,
        visibility=elements.visibility() or _NO_VISIBILITY_GROUP,
        wind=elements.wind() or _NO_WIND_GROUP,
        weather=elements.weather_groups() or (),
        layers=tuple(elements.layers),
    )


def _doubted(adverse: Conditions, unread: Sequence[str]) -> Conditions:
    """Return the conditions with ceiling and visibility unknown, for what was not read may be they."""
    reason = "not read: " + " ".join(unread[:5])
    return replace(
        adverse,
        ceiling=doubted_ceiling(adverse.ceiling, reason),
        visibility=doubted_visibility(adverse.visibility, reason),
    )


def _unreadable(raw: str, header: _Header, error: str) -> Unreadable:
    kind = header.kind if header.named or header.time is not None else None
    return Unreadable(raw=raw, kind=kind, station=header.station, error=error)
