"""The groups of a forecast: where each begins, when it holds, and what it says."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from refuge.weather.groups import group_of
from refuge.weather.reports import Group, GroupKind
from refuge.weather.taf_times import Validity

_FROM = re.compile(r"FM(\d{2})?(\d{2})(\d{2})Z?", re.ASCII)
_PROBABILITY = re.compile(r"PROB(\d{2})", re.ASCII)
_OVERLAYS: dict[str, GroupKind] = {"BECMG": "BECMG", "TEMPO": "TEMPO", "INTER": "INTER"}
_SILENT = re.compile(
    r"""T[XN]?M?\d{2}/\d{2,4}Z?              # highest and lowest temperature
      | [56]\d{5}                            # icing and turbulence layers
      | QNH\d{4}(?:INS)? """,
    re.ASCII | re.VERBOSE,
)
_TURBULENCE = frozenset({"MOD", "SEV", "MOD/SEV"})
_TURBULENCE_WORD = re.compile(r"TURB|BLW|ABV|BTN|\d{4,5}(?:FT)?|TL\d{4,6}|FL\d{3}|AND|ICE|ICG", re.ASCII)
_NOTE_BEGINS = frozenset({"AMD", "AMDS", "LAST", "NEXT", "LIMITED"})
_NOTE_WORD = re.compile(
    r"""NOT|SKED|SKD|LTD|TO|CLD|VIS|AND|WIND|WND|AFT|AFTER|TIL|UNTIL|BEF|NO|AMD|AMDS|LAST|NEXT|LIMITED|METWATCH|OBS
      | \d{4}Z? | \d{6}Z? | \d{4}/\d{4} """,
    re.ASCII | re.VERBOSE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Groups:
    """The groups of one forecast, and whether amendments to it are not scheduled."""

    groups: tuple[Group, ...]
    not_scheduled: bool


@dataclass(slots=True, kw_only=True)
class _Open:
    """A group being read. A builder: it lives inside one decode."""

    kind: GroupKind
    start: datetime
    end: datetime
    probability: int | None = None
    tokens: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)

    def closed(self, end: datetime) -> Group:
        return group_of(
            self.tokens,
            kind=self.kind,
            start=self.start,
            end=end,
            probability=self.probability,
            unread=self.unread,
        )


def read_groups(tokens: Sequence[str], validity: Validity) -> Groups:
    """Return the groups that the tokens after the validity make.

    Each token ends in a group: read, or in its ``unread``. An FM whose time is none, lies outside
    the validity, or before the FM that it follows begins no group: it is an unread token of the
    group that runs on, so that what follows it makes that group unknown, never better.
    """
    opened = [_Open(kind="BASE", start=validity.start, end=validity.end)]
    self_contained_from = validity.start
    index, not_scheduled = 0, False
    while index < len(tokens):
        token = tokens[index]
        moment = _moment(tokens, index, validity)
        if token in _NOTE_BEGINS:
            taken = _run(tokens, index, _NOTE_WORD)
            not_scheduled = not_scheduled or "NOT" in tokens[index : index + taken]
        elif token in _TURBULENCE or (moment and _turbulence_follows(tokens, index)):
            taken = 1 + _run(tokens, index + 1, _TURBULENCE_WORD, _TURBULENCE)
        elif moment is not None and moment >= self_contained_from:
            opened.append(_Open(kind="FM", start=moment, end=validity.end))
            self_contained_from, taken = moment, 1
        elif token in _OVERLAYS or _PROBABILITY.fullmatch(token):
            group, taken = _overlay(tokens, index, validity)
            opened.append(group)
        else:
            taken = 1
            if not _SILENT.fullmatch(token):
                opened[-1].tokens.append(token)
        index += taken
    return Groups(groups=_closed(opened), not_scheduled=not_scheduled)


def _moment(tokens: Sequence[str], index: int, validity: Validity) -> datetime | None:
    match = _FROM.fullmatch(tokens[index]) if tokens[index].startswith("FM") else None
    return None if match is None else validity.moment(match[1], match[2], match[3])


def _turbulence_follows(tokens: Sequence[str], index: int) -> bool:
    """Return whether an FM only gives the time of a turbulence forecast (Australia, from memory)."""
    return index + 1 < len(tokens) and tokens[index + 1] in _TURBULENCE


def _run(tokens: Sequence[str], index: int, words: re.Pattern[str], besides: frozenset[str] = frozenset()) -> int:
    """Return how many tokens from `index` on are such words."""
    end = index
    while end < len(tokens) and (words.fullmatch(tokens[end]) or tokens[end] in besides):
        end += 1
    return end - index


def _overlay(tokens: Sequence[str], index: int, validity: Validity) -> tuple[_Open, int]:
    """Return the BECMG, TEMPO, INTER or PROB group that begins here, and how many tokens that took.

    Without a period that can be read it holds for the whole validity: a BECMG then never improves.
    """
    first, taken = tokens[index], 1
    probability = _PROBABILITY.fullmatch(first)
    kind: GroupKind = "PROB" if probability else _OVERLAYS[first]
    following = tokens[index + 1] if index + 1 < len(tokens) else ""
    if probability and following in {"TEMPO", "INTER"}:
        kind, taken = _OVERLAYS[following], 2
        following = tokens[index + 2] if index + 2 < len(tokens) else ""
    period = validity.period(following)
    start, end = period or (validity.start, validity.end)
    group = _Open(kind=kind, start=start, end=end, probability=int(probability[1]) if probability else None)
    if period is None:
        group.unread.append(following if Validity.written_as(following) else first)
    return group, taken + (period is not None or Validity.written_as(following))


def _closed(opened: Sequence[_Open]) -> tuple[Group, ...]:
    """Return the groups, each BASE and FM ending where the next FM begins."""
    groups = []
    for index, group in enumerate(opened):
        end = group.end
        if group.kind in {"BASE", "FM"}:
            end = next((later.start for later in opened[index + 1 :] if later.kind == "FM"), group.end)
        groups.append(group.closed(end))
    return tuple(groups)
