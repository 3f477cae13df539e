"""Where one report ends and the next begins, and which kind it is."""

import re
from collections.abc import Iterator
from datetime import datetime

from refuge.weather.metar import decode_observation
from refuge.weather.reports import Forecast, Observation, Unreadable
from refuge.weather.taf import decode_forecast
from refuge.weather.tokens import read_token

_MARKS = r"(?:(?:AMD|CORR?|CC[A-Z]|AA[A-Z]|RTD)\s+)*"
_STARTS = re.compile(
    rf"\s*(?:(?:METAR|SPECI|TAF)\s+)*{_MARKS}(?!LAST|NEXT|FCST|AMDS)[A-Z][A-Z0-9]{{3}}\s+{_MARKS}\d{{6}}Z\b",
    re.ASCII | re.IGNORECASE,
)
_KEYWORD = re.compile(r"\s*(?:METAR|SPECI|TAF)\s+\S", re.ASCII | re.IGNORECASE)
_ONLY_KEYWORDS = re.compile(
    r"\s*(?:METAR|SPECI|TAF)(?:\s+(?:METAR|SPECI|TAF|AMD|COR))*\s*", re.ASCII | re.IGNORECASE
)
_HEADING = re.compile(
    r"""\s*(?: [A-Z]{4}\d{1,2}\s+[A-Z]{4}\s+\d{6}(?:\s+[A-Z]{3})?  # abbreviated heading of the WMO
          | \d{1,5} | ZCZC.* | NNNN | NIL
          | \d{4}/\d{2}/\d{2}\s+\d{2}:\d{2}                         # date line of a cycle file
          | [A-Z]{3}[A-Z0-9]{2,3}                                   # product and place, TAFJFK
          )\s*""",
    re.ASCII | re.IGNORECASE | re.VERBOSE,
)
_CONTINUES = re.compile(r"FM\s?\d|(?:BECMG|TEMPO|INTER|PROB\d\d|RMK|NOSIG|AMD)\b", re.ASCII | re.IGNORECASE)
_CONTROLS = dict.fromkeys(map(ord, "\r\x01\x03"), None)
_TIMED = rf"\s*{_MARKS}[A-Z][A-Z0-9]{{3}}\s+{_MARKS}\d{{6}}Z\s+{_MARKS}"
_DATED = re.compile(rf"{_TIMED}\d{{4}}/\d{{4}}\b", re.ASCII | re.IGNORECASE)
"""A forecast even without its keyword."""
_LIKE_FORECAST = re.compile(
    rf"{_TIMED}(?:\d{{4}}/\d{{4}}|\d{{4}}(?:\d\d)?|NIL|CNL)(?!\S)", re.ASCII | re.IGNORECASE
)
"""What a keyword TAF on a line of its own may hold for; validities before 2008 included."""


def split_reports(text: str) -> list[str]:
    """Return the reports of a text in their order, each with its lines as written, without the ``=``.

    A report ends at ``=``, at a blank line, or at a line that starts a new one: optional keyword,
    station, ddhhmmZ. Indented lines, and lines that begin with a change group or any readable
    element, continue it. Any other line is a report of its own, if an unreadable one: a bad line
    never spoils its neighbour. Headings give none; a line of keywords alone (``TAF AMD``) holds
    for every report below it that brings none, until the next heading.
    """
    reports: list[str] = []
    keywords = ""
    lines: list[str] = []
    for line, ends in _pieces(text):
        if not line.strip():
            _close(reports, lines)
        elif _ONLY_KEYWORDS.fullmatch(line):
            _close(reports, lines)
            keywords = line.strip()
        elif lines and _is_continuation(line):
            lines.append(line)
        elif _HEADING.fullmatch(line):
            _close(reports, lines)
            keywords = ""
        else:
            _close(reports, lines)
            lines = [keywords, line.lstrip()] if _holds_for(keywords, line) else [line.lstrip()]
        if ends:
            _close(reports, lines)
    _close(reports, lines)
    return reports


def decode_any(
    raw: str, *, received_at: datetime, second_opinion: bool = True
) -> Observation | Forecast | Unreadable:
    """Return what one report says, METAR, SPECI or TAF; a validity without keyword means TAF."""
    if is_forecast(raw):
        return decode_forecast(raw, received_at=received_at)
    return decode_observation(raw, received_at=received_at, second_opinion=second_opinion)


def begins_report(raw: str) -> bool:
    """Return whether a text begins as a report does: a keyword, a station with a time, or a block of guidance."""
    return bool(_STARTS.match(raw) or _KEYWORD.match(raw) or "GUIDANCE" in raw.partition("\n")[0])


def is_forecast(raw: str) -> bool:
    """Return whether the text of one report is a TAF."""
    first = raw[:40].upper().split()[:1]
    if first and first[0] in {"METAR", "SPECI"}:
        return False
    return first == ["TAF"] or _DATED.match(raw) is not None


def _pieces(text: str) -> Iterator[tuple[str, bool]]:
    """Yield the lines, parted at each ``=``, with whether one ended there."""
    for line in text.translate(_CONTROLS).split("\n"):
        *ended, rest = line.split("=")
        for piece in ended:
            yield piece.rstrip(), True
        if not ended or rest.strip():
            yield rest.rstrip(), False


def _holds_for(keywords: str, line: str) -> bool:
    """Return whether a line of keywords says what the report is that begins here.

    Not where the report says it itself, or plainly is the other kind: a stray TAF makes no forecast
    of the report below it.
    """
    if not keywords or _KEYWORD.match(line):
        return False
    forecast = "TAF" in keywords.upper().split()
    return not _STARTS.match(line) or forecast == (_LIKE_FORECAST.match(line) is not None)


def _is_continuation(line: str) -> bool:
    if _STARTS.match(line):
        return False
    if line[0].isspace() or _CONTINUES.match(line):
        return True
    return read_token(line.split(maxsplit=1)[0].upper()) is not None


def _close(reports: list[str], lines: list[str]) -> None:
    if lines:
        reports.append("\n".join(lines))
        lines.clear()
