"""Real forecasts and winds aloft moved in time, so that they speak of the day of the one whole cycle of reports.

No forecast of that day is at hand. What is moved stays a real text of a real station, TEMPO, PROB, BECMG and FM as
they were written: only the days of the month change, all of one text by the same number.
"""

import re
from collections.abc import Iterator

_HEADER = re.compile(r"^(?:TAF\s+)*(?:(?:AMD|COR)\s+)?(?P<station>[A-Z][A-Z0-9]{3})\s")
_PERIOD = re.compile(r"(?<!\S)(\d\d)(\d\d)/(\d\d)(\d\d)(?!\S)")
_DAYS = re.compile(
    r"(?<!\S)(?P<stamp>\d\d)(?=\d{4}Z(?!\S))|(?<!\S)FM(?P<fm>\d\d)(?=\d{4}(?!\S))"
    r"|(?<!\S)T[XN]M?\d\d/(?P<extreme>\d\d)(?=\d\dZ)|(?<!\S)(?P<start>\d\d)(?=\d\d/\d{4}(?!\S))"
    r"|(?<=\d/)(?P<end>\d\d)(?=\d\d(?!\S))"
)


def moved_forecasts(texts: str, day: int, hour: int) -> Iterator[str]:
    """Yield the forecasts of a text, one a line, each on the last day on which it has begun by `hour` of `day`."""
    for line in texts.splitlines():
        period = _PERIOD.search(line)
        if _HEADER.match(line) is None or period is None or int(period[1]) > 31:
            continue
        first = day if int(period[2]) <= hour else day - 1
        yield _moved(line, int(period[1]), first)


def _moved(line: str, begins: int, first: int) -> str:
    """Return a text whose day `begins` has become day `first`, the days after and before it likewise."""
    last = max(int(day) for day in _days(line) if begins <= int(day) <= 31)

    def shifted(match: re.Match[str]) -> str:
        group = match.lastgroup or ""
        at, end = match.start(group) - match.start(), match.end(group) - match.start()
        found = int(match[group])
        after = found - begins
        if after < -15:  # the month ended in between
            after = last - begins + found
        elif after > 15:
            after = -1
        return f"{match[0][:at]}{first + after:02d}{match[0][end:]}" if found <= 31 else match[0]

    return _DAYS.sub(shifted, line)


def _days(line: str) -> Iterator[str]:
    for match in _DAYS.finditer(line):
        yield match[match.lastgroup or 0]


def moved_winds(text: str, by_days: int) -> str:
    """Return a winds aloft bulletin whose data and valid times lie so many days later."""
    return re.sub(
        r"(?m)^((?:DATA BASED ON|VALID) )(\d\d)(?=\d{4}Z)", lambda m: f"{m[1]}{int(m[2]) + by_days:02d}", text
    )
