"""The landing forecast at the end of a METAR: BECMG, TEMPO and the Australian FM and INTER.

A trend is valid for two hours from the observation (Annex 3, appendix 5; from memory), unless its
own times say otherwise.
"""

import re
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from refuge.weather.groups import group_of
from refuge.weather.reports import Group, GroupKind

BEGINS_TREND = re.compile(r"BECMG|TEMPO|INTER|PROB\d\d|FM\d{4}", re.ASCII)
_TIME = re.compile(r"(FM|TL|AT)(\d{2})(\d{2})Z?", re.ASCII)
_PERIOD = re.compile(r"(\d{2})(\d{2})/(\d{2})(\d{2})", re.ASCII)
_VALID_FOR = timedelta(hours=2)


def read_trend(tokens: Sequence[str], *, observed_at: datetime) -> tuple[Group, ...]:
    """Return the groups of the trend, in the order written."""
    return tuple(_group(words, observed_at) for words in _split(tokens))


def _split(tokens: Sequence[str]) -> Iterator[list[str]]:
    """Yield the tokens of each group; FM begins one only where it does not give a group its time."""
    words: list[str] = []
    for token in tokens:
        begins = BEGINS_TREND.fullmatch(token) is not None
        if begins and words and words[-1][:4] in {"BECM", "TEMP", "INTE", "PROB"}:
            begins = token[:4] not in {"TEMP", "INTE"} and token[:2] != "FM"
        if begins and words:
            yield words
            words = []
        words.append(token)
    if words:
        yield words


def _group(words: Sequence[str], observed_at: datetime) -> Group:
    kind, probability, index = _kind(words)
    start, end = observed_at, observed_at + _VALID_FOR
    unread: list[str] = []
    while index < len(words):
        time, period = _TIME.fullmatch(words[index]), _PERIOD.fullmatch(words[index])
        if time is not None:
            instant = _instant(time[2], time[3], observed_at)
            if instant is None:
                unread.append(words[index])
            else:
                start = start if time[1] == "TL" else instant
                end = end if time[1] == "FM" else instant
        elif period is not None:
            first, last = _instant(period[1], period[2], observed_at), _instant(period[3], period[4], observed_at)
            if first is None or last is None:
                unread.append(words[index])
            else:
                start, end = first, last
        else:
            break
        index += 1
    return group_of(
        words[index:], kind=kind, start=start, end=max(start, end), probability=probability, unread=unread
    )


def _kind(words: Sequence[str]) -> tuple[GroupKind, int | None, int]:
    """Return kind and probability of the group, and how many words they took."""
    kinds: dict[str, GroupKind] = {"BECMG": "BECMG", "TEMPO": "TEMPO", "INTER": "INTER"}
    first = words[0]
    if first.startswith("PROB"):
        second = kinds.get(words[1]) if len(words) > 1 else None
        return (second or "PROB"), int(first[4:]), 1 + (second is not None)
    if first.startswith("FM"):
        return "FM", None, 0
    return kinds[first], None, 1


def _instant(hour: str, minute: str, observed_at: datetime) -> datetime | None:
    """Return the instant of an hour and minute, the first that is not over an hour before the report."""
    if int(hour) > 24 or int(minute) > 59 or (int(hour) == 24 and int(minute)):
        return None
    midnight = observed_at.replace(hour=0, minute=0, second=0, microsecond=0)
    instant = midnight + timedelta(hours=int(hour), minutes=int(minute))
    return instant if instant >= observed_at - timedelta(hours=1) else instant + timedelta(days=1)
