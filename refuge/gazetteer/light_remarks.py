"""The FAA's lighting schedules and remarks to what burns at night without a radio.

A remark is read whole or not at all: one word that no rule knows, and nothing is said of the lights.
What decides are the runway's edge lights; approach and slope lights alone do not make it lit.

    ACTVT MIRL RWY 18/36 - CTAF.                      a radio turns them on, whatever the schedule says
    DUSK - 2300. ... AFT 2300 ACTVT MIRL RWY 05/23 - CTAF.    lit until 2300 local, then a radio
    MIRL RWY 05/23 PRESET MED INTST DUSK-2300         the same hour for these lights
    SS-SR, DUSK-DAWN                                  lit all night

Words: FAA Order JO 7340.2 (contractions), chart supplement legend; from memory. Dusk is taken for sunset.
"""

import re
from dataclasses import dataclass
from datetime import time
from typing import Literal

from refuge.airfield import LightDetail, LightKind

EDGE = frozenset({"HIRL", "MIRL", "LIRL"})
_OTHER = "REIL REILS PAPI VASI MALSR MALSF MALS SSALR SSALS SSALF ALSF1 ALSF2 ODALS LDIN RAIL TDZL CL"
OTHER = frozenset(_OTHER.split())
_TOKEN = re.compile(r"\d{3}\.\d{1,3}|[A-Z0-9]+(?:/[A-Z0-9]+)?|\S")
_RUNWAY = re.compile(r"\d{1,2}[LCR]?(?:/\d{1,2}[LCR]?)?")
_HOUR = re.compile(r"([01]\d|2[0-4])([0-5]\d)")
_CHANNEL = re.compile(r"CTAF|UNICOM|\d{3}\.\d{1,3}")
_ABOUT_LIGHT = re.compile(
    r"\b(?:ACTVTN?|ACTIVATE|HIRL|MIRL|LIRL|RWY LGTS?|LGTS? OTS|UNLGTD|UNLIT|NIGHT|NGT|NITE|SS-SR|DUSK|DARK)\b"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """One clause: lights burn until an hour (``None``: to dawn), or are activated, after an hour or always."""

    activated: bool
    lights: frozenset[str]
    hour: time | None = None


class _NotUnderstoodError(Exception):
    """A word that no rule knows; it never leaves this module."""


def lights_of(
    schedule: str, remarks: list[str], other_remarks: list[str], *, source: str
) -> tuple[LightKind, LightDetail]:
    """Return what burns without a radio at a field that has edge lights, and the detail of it.

    `schedule` is the table's column, `remarks` those on it, `other_remarks` all else that is said of the
    field: where one of these is about light or night, nothing good is said.
    """
    schedule = schedule.strip().upper()
    telling = [remark for remark in other_remarks if _ABOUT_LIGHT.search(remark.upper())]
    text = " ".join(part for part in (schedule.replace("SEE RMK", ""), *remarks, *telling) if part).strip()
    kind, until, after = _kind(schedule, remarks)
    if telling and kind in {"dusk_to_dawn", "until"}:
        kind, until = "unknown", None
    return kind, LightDetail(until_local=until, after=after, text=text, source=source)


def _kind(schedule: str, remarks: list[str]) -> tuple[LightKind, time | None, Literal["radio", "none", "unknown"]]:
    texts = [*([] if schedule in {"", "SEE RMK"} else [schedule]), *remarks]
    try:
        said = [clause for text in texts for clause in _clauses(text)]
    except _NotUnderstoodError:
        return "unknown", None, "unknown"
    edge = [clause for clause in said if clause.lights & EDGE]
    by_radio = [clause for clause in edge if clause.activated]
    burning = {clause.hour for clause in edge if not clause.activated}
    hours = {clause.hour for clause in by_radio}
    if by_radio and (None in hours or None in burning):
        return "radio", None, "unknown"
    if not burning or len(burning | hours) > 1:
        return "unknown", None, "unknown"
    hour = burning.pop()
    if hour is None:
        return "dusk_to_dawn", None, "unknown"
    return "until", hour, "radio" if by_radio else "none"


def _clauses(text: str) -> list[_Said]:
    """Return the clauses of a remark.

    Raises
    ------
    _NotUnderstoodError
        At the first word that no rule knows.
    """
    found: list[_Said] = []
    for sentence in re.split(r"\.(?=\s|$)", text.upper()):
        found += _Sentence(sentence).read()
    return found


class _Sentence:
    """The words of one sentence, read from left to right."""

    def __init__(self, text: str) -> None:
        self.words = _TOKEN.findall(text)
        self.at = 0

    def read(self) -> list[_Said]:
        found: list[_Said] = []
        while self.at < len(self.words):
            found += self._clause()
            while self._take(";", ","):
                pass
        return found

    def _clause(self) -> list[_Said]:
        if self._take("TO"):
            self._need("INCR")
            self._need("INTST")
            activated = self._activated(None) if self._take("&", "AND") else []
            if not activated:
                self._channel()
            return activated
        if self._take("AFT"):
            return self._activated(self._hour())
        if self._peek() == "ACTVT":
            return self._activated(None)
        if self._peek() in {"DUSK", "SS"}:
            return [_Said(activated=False, lights=EDGE, hour=self._span())]
        lights = self._lights()
        if self._take("PRESET"):
            if not self._take("LOW", "MED", "HIGH"):
                raise _NotUnderstoodError
            self._need("INTST")
        self._take("OPR")
        if self._take("CONSLY"):
            return [_Said(activated=False, lights=lights)]
        return [_Said(activated=False, lights=lights, hour=self._span())]

    def _activated(self, hour: time | None) -> list[_Said]:
        self._need("ACTVT")
        lights = self._lights()
        while self._take(";"):
            lights |= self._lights()
        self._channel()
        return [_Said(activated=True, lights=lights, hour=hour)]

    def _channel(self) -> None:
        self._need("-")
        if not _CHANNEL.fullmatch(self._next()):
            raise _NotUnderstoodError

    def _lights(self) -> frozenset[str]:
        lights = {self._light()}
        while self._take(",", "&", "AND"):
            lights.add(self._light())
        return frozenset(lights)

    def _light(self) -> str:
        name = self._next()
        if name not in EDGE | OTHER:
            raise _NotUnderstoodError
        if self._take("RWY", "RWYS"):
            self._runway()
            while self._peek() in {"&", ",", "AND"} and _RUNWAY.fullmatch(self._peek(1)):
                self.at += 1
                self._runway()
        return name

    def _runway(self) -> None:
        if not _RUNWAY.fullmatch(self._next()):
            raise _NotUnderstoodError

    def _span(self) -> time | None:
        if not self._take("DUSK", "SS"):
            raise _NotUnderstoodError
        self._need("-")
        return None if self._take("DAWN", "SR") else self._hour()

    def _hour(self) -> time:
        match = _HOUR.fullmatch(self._next())
        if match is None or (match[1] == "24" and match[2] != "00"):
            raise _NotUnderstoodError
        return time(int(match[1]) % 24, int(match[2]))

    def _peek(self, ahead: int = 0) -> str:
        return self.words[self.at + ahead] if self.at + ahead < len(self.words) else ""

    def _next(self) -> str:
        word = self._peek()
        self.at += 1
        return word

    def _take(self, *words: str) -> bool:
        if self._peek() in words and self._peek():
            self.at += 1
            return True
        return False

    def _need(self, word: str) -> None:
        if self._next() != word:
            raise _NotUnderstoodError
