"""The states of the weather that one forecast allows in a window, each complete by itself.

A state is what may be found on arrival: the base of the forecast, an FM part, either with the
changes (BECMG) that have come or may be coming, and each of these again under a fluctuation
(TEMPO, PROB, INTER). Rules: decoding.md, 'TAF, for a window of arrival' (WMO-No. 306, FM 51).

Two choices on the safe side: the window includes both its ends, so a group that starts at the
window's last instant counts; and a change may have come in full, or not at all, at any instant
of its period, together with any one other that runs at the same time.
"""

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import combinations, pairwise

from refuge.weather.conditions import Conditions
from refuge.weather.reports import Forecast, Group
from refuge.weather.sky import UnknownCeiling, UnknownVisibility
from refuge.weather.wind import UnknownWind
from refuge.weather.worse import doubted_ceiling, doubted_visibility, worse_visibility

MAX_GROUPS = 25
"""More groups than this make a text no forecast: the longest of 480 real ones has 12. Beyond it
the answer is unknown, instead of a number of combinations that nobody can wait for."""

_RUNNING_TOGETHER = 2
"""Of changes running at once, pairs are enough: whichever of them have come, the ceiling is due
to one and the visibility to one, so every pair of values occurs in some pair of changes."""
FOG_AT_BEST_SM = 0.625
"""Fog is less than 5/8 SM (FMH-1), or than 1,000 m (WMO-No. 306, table 4678), both from memory."""
_FOG = re.compile(r"[-+]?(?:FZ)?FG", re.ASCII)
_PERIOD = re.compile(r"\d{4}(?:/\d{4})?", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One possible state of the weather, complete, over the half-open period ``start <= t < end``.

    ``label`` names the group that makes it; ``groups`` all groups in it, oldest first.
    ``prevailing`` is true for a base, an FM part and a change that has come; not for a change
    that is running, nor for TEMPO, PROB and INTER. ``outside`` marks a stretch of the window of
    which no forecast speaks: everything is unknown there.
    """

    conditions: Conditions
    label: str
    start: datetime
    end: datetime
    prevailing: bool
    groups: tuple[str, ...] = ()
    outside: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """A base or FM group with the period in which it is in force and its place in the text."""

    group: Group
    index: int
    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """A change or fluctuation with the period to use and its place in the text."""

    group: Group
    index: int
    start: datetime
    end: datetime


def states(forecast: Forecast, start: datetime, end: datetime) -> tuple[State, ...]:
    """Return every state of the weather that may be met between `start` and `end`, both included.

    Prevailing states come first. A window that is not wholly inside the validity has one state
    more, unknown and marked ``outside``; so has a forecast that is missing (NIL) or cancelled.
    """
    valid_from, valid_to = forecast.valid_from, forecast.valid_to
    parts = _parts(forecast, valid_from, valid_to) if valid_from is not None and valid_to is not None else []
    if forecast.nil or forecast.cancelled or not parts:
        return (nothing_known(f"the forecast of {_issued(forecast)} {_why_silent(forecast)}", start, end),)
    first, last = parts[0].start, parts[-1].end
    if len(forecast.groups) > MAX_GROUPS:
        found = [_unbelievable(forecast, first, last)] if _touches(first, last, start, end) else []
    else:
        changes = _changes(forecast, first, last)
        found = [_doubted(s, forecast) for part in parts for s in _of_part(part, changes, start, end)]
        found += list(_in_doubt(forecast, found, start, end))
    found.sort(key=lambda state: not state.prevailing)
    if start < first or end > last or start >= last:
        text = f"the forecast of {_issued(forecast)} speaks of {_span(first, last)} only"
        found.append(nothing_known(text, start, end))
    return tuple(dict.fromkeys(found))


def nothing_known(reason: str, start: datetime, end: datetime) -> State:
    """Return the state of a stretch of which no forecast speaks."""
    conditions = _unknown(reason)
    return State(conditions=conditions, label=reason, start=start, end=end, prevailing=False, outside=True)


def overlay(conditions: Conditions, group: Group) -> Conditions:
    """Return `conditions` with what `group` mentions put in their place, and the rest kept.

    A cloud group restates the whole cloud set (WMO-No. 306, 51.1.5). Fog without a visibility ends the one
    that was. Tokens of the group that could not be read may have meant anything: ceiling and visibility are
    in doubt.
    """
    restated = group.ceiling is not None
    ceiling = conditions.ceiling if group.ceiling is None else group.ceiling
    visibility = conditions.visibility if group.visibility is None else group.visibility
    if group.visibility is None and any(_FOG.fullmatch(word) for word in group.weather or ()):
        fog = UnknownVisibility(reason=f"{label_of(group)} has fog, and no visibility", at_best_sm=FOG_AT_BEST_SM)
        visibility = worse_visibility(visibility, fog)
    if group.unread:
        reason = f"{label_of(group)} has {' '.join(group.unread)}, which nothing could read"
        ceiling, visibility = doubted_ceiling(ceiling, reason), doubted_visibility(visibility, reason)
    return Conditions(
        ceiling=ceiling,
        visibility=visibility,
        wind=conditions.wind if group.wind is None else group.wind,
        weather=conditions.weather if group.weather is None else group.weather,
        layers=group.layers if restated else conditions.layers,
    )


def label_of(group: Group) -> str:
    """Return a group's name as a forecast writes it: ``FM101800``, ``PROB30 TEMPO 1718/1723``."""
    if group.kind == "BASE":
        return "base"
    if group.kind == "FM":
        return f"FM{group.start:%d%H%M}"
    words = [] if group.probability is None else [f"PROB{group.probability}"]
    if group.kind != "PROB" or not words:
        words.append(group.kind)
    return " ".join([*words, _span(group.start, group.end)])


def _parts(forecast: Forecast, valid_from: datetime, valid_to: datetime) -> list[_Part]:
    """Return base and FM groups by time; each ends where a later one starts.

    An FM before the validity counts from its start, beside the base: a mistyped time must not
    make it vanish.
    """
    found = [(max(g.start, valid_from), i, g) for i, g in enumerate(forecast.groups) if g.kind in ("BASE", "FM")]
    found = sorted((f for f in found if f[0] < valid_to), key=lambda f: f[:2])
    starts = [f[0] for f in found]
    ends = [*starts, valid_to]
    return [
        _Part(group=group, index=index, start=at, end=ends[bisect_right(starts, at)]) for at, index, group in found
    ]


def _changes(forecast: Forecast, first: datetime, last: datetime) -> list[_Change]:
    """Return BECMG, TEMPO, PROB and INTER groups in the order of the text.

    One whose period is none (it ends before it starts) may come at any time from `first` to `last`.
    """
    found = []
    for index, group in enumerate(forecast.groups):
        if group.kind not in ("BASE", "FM"):
            start, end = (group.start, group.end) if group.start < group.end else (first, last)
            found.append(_Change(group=group, index=index, start=start, end=end))
    return found


def _superseded(change: _Change, part: _Part) -> bool:
    """Return whether an FM part, written after the change and starting after it, replaces it."""
    return part.index > change.index and change.group.start < part.start


def _of_part(part: _Part, changes: Sequence[_Change], start: datetime, end: datetime) -> Iterator[State]:
    """Yield the states of one part in the window, prevailing, running and fluctuating."""
    own = [c for c in changes if not _superseded(c, part) and c.end > part.start]
    becoming = [c for c in own if c.group.kind == "BECMG"]
    passing = [c for c in own if c.group.kind != "BECMG"]
    for state in _without_passing(part, becoming, start, end):
        yield state
        for change in passing:
            since, until = max(state.start, change.start), min(state.end, change.end)
            if since < until and _touches(since, until, start, end):
                yield _under(state, change.group, since, until)


def _without_passing(part: _Part, becoming: Sequence[_Change], start: datetime, end: datetime) -> Iterator[State]:
    """Yield the part with the changes that have come, and with those that may be coming."""
    turns = {t for c in becoming for t in (c.start, c.end) if part.start < t < part.end}
    for since, until in pairwise(sorted(turns | {part.start, part.end})):
        if not _touches(since, until, start, end):
            continue
        done = sorted((c for c in becoming if c.end <= since), key=lambda c: (c.end, c.index))
        running = [c for c in becoming if c.start <= since < c.end]
        settled = _settled(part, done, since, until)
        yield settled
        for count in range(1, _RUNNING_TOGETHER + 1):
            for come in combinations(running, count):
                yield _coming(settled, come)


def _settled(part: _Part, done: Sequence[_Change], start: datetime, end: datetime) -> State:
    """Return the prevailing state: the part, and on it the changes whose period is over."""
    conditions = overlay(_unknown(f"{label_of(part.group)} does not give it"), part.group)
    for change in done:
        conditions = overlay(conditions, change.group)
    groups = tuple(label_of(g) for g in (part.group, *(c.group for c in done)))
    return State(conditions=conditions, label=groups[-1], start=start, end=end, prevailing=True, groups=groups)


def _coming(settled: State, come: Sequence[_Change]) -> State:
    """Return the state in which some of the running changes have come already."""
    conditions = settled.conditions
    for change in come:
        conditions = overlay(conditions, change.group)
    names = tuple(label_of(change.group) for change in come)
    return State(
        conditions=conditions,
        label=" and ".join(names) + " running",
        start=settled.start,
        end=settled.end,
        prevailing=False,
        groups=settled.groups + names,
    )


def _under(state: State, group: Group, start: datetime, end: datetime) -> State:
    """Return a state under a fluctuation, for the time that both are in force."""
    name = label_of(group)
    return State(
        conditions=overlay(state.conditions, group),
        label=name,
        start=start,
        end=end,
        prevailing=False,
        groups=(*state.groups, name),
    )


def _in_doubt(forecast: Forecast, found: Sequence[State], start: datetime, end: datetime) -> Iterator[State]:
    """Yield what prevailing states may be where an unread token may have begun a group of its own.

    Nobody knows what a lost BECMG or FM said, nor from when, until the next FM that is written
    after it. A lost keyword leaves a period unread behind it: such a group may be written
    behind the last FM and speak of any time before.
    """
    for index, group in enumerate(forecast.groups):
        if not group.unread:
            continue
        lost_keyword = any(_PERIOD.fullmatch(token) for token in group.unread)
        since = [g.start for g in forecast.groups[: index + 1] if g.kind in ("BASE", "FM") and not lost_keyword]
        until = [g.start for g in forecast.groups[index + 1 :] if g.kind == "FM"]
        name = f"{label_of(group)} with {' '.join(group.unread)}"
        for state in found:
            first, last = max([state.start, *since[-1:]]), min([state.end, *until[:1]])
            if state.prevailing and first < last and _touches(first, last, start, end):
                yield State(
                    conditions=_with_doubt(state.conditions, f"{name}, which nothing could read"),
                    label=name,
                    start=first,
                    end=last,
                    prevailing=False,
                    groups=tuple(dict.fromkeys((*state.groups, label_of(group)))),
                )


def _doubted(state: State, forecast: Forecast) -> State:
    """Return the state in doubt, if the forecast has unread tokens that belong to no group of it."""
    of_groups = {token for group in forecast.groups for token in group.unread}
    stray = [token for token in forecast.unread if token not in of_groups]
    if not stray:
        return state
    reason = f"the forecast has {' '.join(stray)}, which nothing could read"
    return replace(state, conditions=_with_doubt(state.conditions, reason))


def _with_doubt(conditions: Conditions, reason: str) -> Conditions:
    return replace(
        conditions,
        ceiling=doubted_ceiling(conditions.ceiling, reason),
        visibility=doubted_visibility(conditions.visibility, reason),
    )


def _touches(since: datetime, until: datetime, start: datetime, end: datetime) -> bool:
    """Return whether the half-open period has an instant in the window, both ends included."""
    return since <= end and until > start


def _unknown(reason: str) -> Conditions:
    return Conditions(
        ceiling=UnknownCeiling(reason=reason),
        visibility=UnknownVisibility(reason=reason),
        wind=UnknownWind(reason=reason),
    )


def _unbelievable(forecast: Forecast, start: datetime, end: datetime) -> State:
    reason = f"the forecast of {_issued(forecast)} has {len(forecast.groups)} groups, more than any forecast has"
    return State(conditions=_unknown(reason), label=reason, start=start, end=end, prevailing=True)


def _why_silent(forecast: Forecast) -> str:
    if forecast.cancelled:
        return "is cancelled"
    return "is missing (NIL)" if forecast.nil else "says nothing of any time"


def _issued(forecast: Forecast) -> str:
    return f"{forecast.issued_at:%d%H%M}Z"


def _span(start: datetime, end: datetime) -> str:
    """Return a period as ``1020/1024``: an end at midnight is hour 24 of the day before (51.8.1)."""
    if end.hour == 0 and end.minute == 0 and end > start:
        return f"{start:%d%H}/{end - timedelta(days=1):%d}24"
    return f"{start:%d%H}/{end:%d%H}"
