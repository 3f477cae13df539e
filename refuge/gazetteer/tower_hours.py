"""The FAA's hours of control towers, local time, to spans of hours; ``None`` unless every word is understood.

``24``, ``0600-2200``, ``0800-1600 MON-FRI.``, ``0700-2100 MON-FRI; 0800-1700 SAT & SUN``. Hours in UTC
(``1130-0545Z++``), holidays, ``BY NOTAM`` and all else are not understood.
"""

import re

from refuge.airfield import ALL_HOURS, EVERY_DAY, Hours

_DAYS = ("MON", "TUE", "WED", "THU", "FRI", "SAT", "SUN")
_ONE = "(?:MON|TUE|WED|THU|FRI|SAT|SUN)"
_GROUP = rf"{_ONE}(?:\s*-\s*{_ONE})?"
_GROUPS = rf"{_GROUP}(?:\s*(?:,|&|AND)\s*{_GROUP})*"
_CLAUSE = re.compile(rf"(\d{{4}})\s*-\s*(\d{{4}})(?:\s+(DAILY|DALY|{_GROUPS}))?")


def tower_hours(text: str) -> tuple[Hours, ...] | None:
    """Return the spans of hours that a text names; ``None`` if it is not understood whole."""
    text = text.strip().upper().rstrip(".")
    if text in {"24", "24 HRS"}:
        return (ALL_HOURS,)
    spans = []
    for clause in re.split(r"\s*;\s*|\s*,\s*(?=\d{4})", text):
        match = _CLAUSE.fullmatch(clause.strip())
        if match is None:
            return None
        opens, closes = _minutes(match[1]), _minutes(match[2])
        if opens is None or closes is None or opens == 1440:
            return None
        spans.append(Hours(days=_days(match[3]), opens_min=opens, closes_min=closes))
    return tuple(spans) or None


def _minutes(hhmm: str) -> int | None:
    hours, minutes = int(hhmm[:2]), int(hhmm[2:])
    total = 60 * hours + minutes
    return total if minutes < 60 and total <= 1440 else None


def _days(text: str | None) -> tuple[int, ...]:
    if text is None or text in {"DAILY", "DALY"}:
        return EVERY_DAY
    found: set[int] = set()
    for first, last in re.findall(rf"({_ONE})(?:\s*-\s*({_ONE}))?", text):
        start = _DAYS.index(first)
        count = (_DAYS.index(last or first) - start) % 7
        found |= {(start + step) % 7 for step in range(count + 1)}
    return tuple(sorted(found))
