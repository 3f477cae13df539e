"""TAF: one forecast's text to its groups (WMO-No. 306 FM 51; NWSI 10-813)."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from refuge.weather.metar import CORRECTION, STATION, TIME, past_instants
from refuge.weather.reports import Forecast, Unreadable
from refuge.weather.taf_groups import read_groups
from refuge.weather.taf_times import Validity, resolve_validity
from refuge.zulu import aware_utc

_MARKS = frozenset({"AMD", "RTD", "COR", "CNL", "NIL", "FCST", "CANCELLED"})
_MONTH_BACK = timedelta(days=20)
_AHEAD = timedelta(hours=48)
"""A forecast that begins later than this after its receipt is one of last month."""
_CANCELLED = frozenset({"CNL", "CANCELLED"})
_CHANGE = re.compile(r"BECMG|TEMPO|INTER|PROB\d\d", re.ASCII)
_PERIOD = re.compile(r"\d{4}/\d{4}", re.ASCII)
_FROM = re.compile(r"FM\d{6}", re.ASCII)
_AMENDMENT = re.compile(r"AA[A-Z]|AMD", re.ASCII)


@dataclass(slots=True, kw_only=True)
class _Header:
    """What stands before the first group. A builder: it lives inside one decode."""

    station: str | None = None
    time: re.Match[str] | None = None
    validity: str | None = None
    amended: bool = False
    corrected: bool = False
    cancelled: bool = False
    nil: bool = False
    length: int = 0


def decode_forecast(raw: str, *, received_at: datetime) -> Forecast | Unreadable:
    """Return what one TAF says, or why it is none.

    Parameters
    ----------
    raw : str
        The text of one forecast, with or without the keyword TAF; continuation lines included.
    received_at : datetime
        When it was received, aware; days and times inside are resolved against it.

    Returns
    -------
    Forecast or Unreadable
        A token that no rule reads is in ``unread`` of its group and of the forecast; one before the
        first group counts to the base. A change group whose period cannot be read holds for the
        whole validity. A text without station or validity (unless NIL or CNL) is unreadable.
    """
    tokens = raw.upper().rstrip("= \n\r\t").split()
    header = _header(tokens)
    if header.station is None:
        return _unreadable(raw, header, "no station at the start")
    received_at = aware_utc(received_at)
    issues = [received_at, received_at - _MONTH_BACK]
    if header.time is not None:
        issues = past_instants(header.time, received_at)
    if not issues:
        return _unreadable(raw, header, f"{header.time[0] if header.time else ''} is no day and time")
    issued_at, validity = _dated(header.validity, issues, received_at)
    if validity is None and not (header.nil or header.cancelled):
        return _unreadable(raw, header, "no validity period")
    if header.time is None and validity is not None:
        issued_at = min(validity.start, received_at)
    return _forecast(raw, header, tokens[header.length :], issued_at, validity)


def _dated(
    validity: str | None, issues: Sequence[datetime], received_at: datetime
) -> tuple[datetime, Validity | None]:
    """Return the likeliest time of issue whose month has the days of the validity, and that validity."""
    if validity is not None:
        for issued_at in issues:
            resolved = resolve_validity(validity, near=issued_at)
            if resolved is not None and resolved.start <= received_at + _AHEAD:
                return issued_at, resolved
    return issues[0], None


def _forecast(
    raw: str, header: _Header, tokens: Sequence[str], issued_at: datetime, validity: Validity | None
) -> Forecast:
    words, remarks = _parted(tokens)
    ended = header.nil or header.cancelled
    body = None if ended or validity is None else read_groups(words, validity)
    return Forecast(
        raw=raw,
        station=header.station or "",
        issued_at=issued_at,
        valid_from=None if validity is None else validity.start,
        valid_to=None if validity is None else validity.end,
        amended=header.amended,
        corrected=header.corrected,
        cancelled=header.cancelled,
        nil=header.nil,
        not_scheduled=body is not None and body.not_scheduled,
        groups=() if body is None else body.groups,
        remarks=remarks,
        unread=tuple(words) if body is None else tuple(t for group in body.groups for t in group.unread),
    )


def _header(tokens: Sequence[str]) -> _Header:
    """Return station, time, validity and marks, which stand before the first group in any order."""
    header = _Header()
    for index, token in enumerate(tokens):
        if token == "TAF" or _mark(header, token):
            pass
        elif header.station is None and STATION.fullmatch(token):
            header.station = token
        elif header.station is not None and header.time is None and TIME.fullmatch(token):
            header.time = TIME.fullmatch(token)
        elif header.station is not None and header.validity is None and Validity.written_as(token):
            header.validity = token
        else:
            return header
        header.length = index + 1
    return header


def _mark(header: _Header, token: str) -> bool:
    if _AMENDMENT.fullmatch(token):
        header.amended = True
    elif CORRECTION.fullmatch(token):
        header.corrected = True
    elif token in _CANCELLED:
        header.cancelled = True
    elif token == "NIL":
        header.nil = True
    else:
        return token in _MARKS
    return True


def _parted(tokens: Sequence[str]) -> tuple[list[str], str | None]:
    """Return the tokens of the groups and the text of the remarks.

    Remarks stand at the end, but real forecasts have change groups after them: those count.
    """
    words: list[str] = []
    remarks: list[str] = []
    in_remarks, remarked = False, False
    for index, token in enumerate(tokens):
        if token in {"RMK", "RMKS"}:
            in_remarks = remarked = True
        elif in_remarks and not _begins_group(token, tokens[index + 1 : index + 3]):
            remarks.append(token)
        else:
            in_remarks = False
            words.append(token)
    return words, " ".join(remarks) if remarked else None


def _begins_group(token: str, following: Sequence[str]) -> bool:
    if token[:2] == "FM":
        return _FROM.fullmatch(token) is not None
    return _CHANGE.fullmatch(token) is not None and any(_PERIOD.fullmatch(word) for word in following)


def _unreadable(raw: str, header: _Header, error: str) -> Unreadable:
    kind: Literal["TAF"] = "TAF"
    return Unreadable(raw=raw, kind=kind, station=header.station, error=error)
