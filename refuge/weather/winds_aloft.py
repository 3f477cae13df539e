"""Winds and temperatures aloft (FD/FB bulletins), read by column, and the wind between levels.

Sources: AIM 7-1 and the column rules of reference.md, section 6; data/README.md, 'Winds aloft'.
Groups are right-aligned under the heights of the ``FT`` line and leading columns may be blank,
so a line is cut at its columns, never split at blanks. A line that does not fit its columns to
the character is left unread as a whole: half a line might put a wind at the wrong height.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import IntEnum
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from refuge.weather.reports import Level, Levels, LevelsAt, Unreadable
from refuge.weather.wind import UnknownWind
from refuge.zulu import resolve_ddhhmm

_BASED = re.compile(r"\s*DATA BASED ON (\d\d)(\d\d)(\d\d)Z\s*$")
_VALID = re.compile(
    r"\s*VALID (\d\d)(\d\d)(\d\d)Z\s+FOR USE (\d\d)(\d\d)-(\d\d)(\d\d)Z\.?(?:\s+TEMPS NEG ABV (\d{4,5}))?\s*$"
)
_HEIGHTS = re.compile(r"FT(?:\s+\d{4,5})+\s*$")
_PRODUCT = re.compile(r"F[BD]\w{3,6}\s*$")
_WIND_ALONE = re.compile(r"(?P<dir>\d\d)(?P<speed>\d\d)(?P<temp>(?!))?")
_WITH_SIGN = re.compile(r"(?P<dir>\d\d)(?P<speed>\d\d)(?P<temp>[+-]\d\d)?")
_WITHOUT_SIGN = re.compile(r"(?P<dir>\d\d)(?P<speed>\d\d)(?P<temp>\d\d)")
_ENDS = frozenset({"", "$$", "NNNN", "="})
_NO_TEMPERATURE_FT = 3000
"""No temperature is ever given for this level, so its column is the wind alone."""
_SIGNED_UP_TO_FT = 24000
_SITE_WIDTH = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """One level: its height, the columns ``first <= c < stop`` of its group, and how that looks.

    ``sign`` is what a temperature without sign has: -1 where the heading says that all are
    negative, 0 where nobody says it, so that the temperature is not known.
    """

    altitude_ft: int
    first: int
    stop: int
    group: re.Pattern[str]
    sign: int


def split_winds(text: str) -> tuple[str, ...]:
    """Return the whole bulletins of a text that holds several; each with its heading lines.

    A bulletin begins with the headings (sequence number, WMO heading, product) right above its
    ``DATA BASED ON`` line. Without any such line the text comes back whole, to be found unreadable.
    """
    lines = text.replace("\r", "").replace("\x01", "").replace("\x03", "").split("\n")
    starts = []
    for number, line in enumerate(lines):
        if _BASED.match(line):
            first = number
            while first > 0 and _is_heading(lines[first - 1]):
                first -= 1
            starts.append(first)
    if not starts:
        return (text,) if text.strip() else ()
    stops = [*starts[1:], len(lines)]
    return tuple("\n".join(lines[a:b]).rstrip() + "\n" for a, b in zip(starts, stops, strict=True))


def decode_levels(raw: str, *, received_at: datetime) -> Levels | Unreadable:
    """Return one winds aloft bulletin decoded, or ``Unreadable`` with the reason; never raises.

    VALID and FOR USE carry no month: the data time is the one nearest to the receipt, the valid
    time the one nearest to that, and the period of use the hours around it.
    """
    lines = raw.replace("\r", "").split("\n")
    based_line = next((m for m in map(_BASED.match, lines) if m), None)
    valid_line = next((m for m in map(_VALID.match, lines) if m), None)
    heights = next((n for n, line in enumerate(lines) if _HEIGHTS.match(line)), None)
    if based_line is None or valid_line is None or heights is None:
        return _unreadable(raw, "no lines DATA BASED ON, VALID ... FOR USE and FT with heights")
    based_on = resolve_ddhhmm(int(based_line[1]), int(based_line[2]), int(based_line[3]), near=received_at)
    if based_on is None:
        return _unreadable(raw, f"{based_line[0].strip()} is no time")
    valid_at = resolve_ddhhmm(int(valid_line[1]), int(valid_line[2]), int(valid_line[3]), near=based_on)
    use = None if valid_at is None else _period_of_use(valid_at, [int(valid_line[n]) for n in (4, 5, 6, 7)])
    if valid_at is None or use is None:
        return _unreadable(raw, f"{valid_line[0].strip()} is no time")
    columns = _columns(lines[heights], None if valid_line[8] is None else int(valid_line[8]))
    if not _in_order(columns):
        return _unreadable(raw, f"the heights of {lines[heights].strip()!r} are out of order or too close")
    sites, unread = _sites(lines[heights + 1 :], columns)
    return Levels(
        raw=raw,
        product=next((line.strip() for line in lines[:heights] if _PRODUCT.match(line)), ""),
        based_on=based_on,
        valid_at=valid_at,
        use_from=use[0],
        use_to=use[1],
        sites=sites,
        unread=unread,
    )


def _is_heading(line: str) -> bool:
    """Return whether a line above DATA BASED ON belongs to the headings of that bulletin."""
    return re.fullmatch(r"\s*(?:\d{1,3}|F[BD]\w{3,6}|F[BD]\w{4} [A-Z]{4} \d{6}.*|\(.*\))\s*", line) is not None


def _unreadable(raw: str, error: str) -> Unreadable:
    return Unreadable(raw=raw, kind=None, station=None, error=f"winds aloft: {error}")


def _period_of_use(valid_at: datetime, hhmm: Sequence[int]) -> tuple[datetime, datetime] | None:
    """Return the period FOR USE: the last such start up to the valid time, the next end after it."""
    bounds = []
    for hour, minute in (hhmm[:2], hhmm[2:]):
        if hour > 24 or minute > 59 or (hour == 24 and minute):
            return None
        bounds.append(valid_at.replace(hour=0, minute=0) + timedelta(hours=hour, minutes=minute))
    start, end = bounds
    while start > valid_at:
        start -= timedelta(days=1)
    while end <= start:
        end += timedelta(days=1)
    return start, end


def _columns(line: str, negative_above_ft: int | None) -> list[_Column]:
    """Return the columns under an FT line; a group ends below the last digit of its height."""
    columns = []
    for match in re.finditer(r"\d+", line):
        altitude_ft = int(match[0])
        if altitude_ft <= _NO_TEMPERATURE_FT:
            width, group = 4, _WIND_ALONE
        elif altitude_ft <= (_SIGNED_UP_TO_FT if negative_above_ft is None else negative_above_ft):
            width, group = 7, _WITH_SIGN
        else:
            width, group = 6, _WITHOUT_SIGN
        sign = 0 if negative_above_ft is None else -1
        columns.append(
            _Column(altitude_ft=altitude_ft, first=match.end() - width, stop=match.end(), group=group, sign=sign)
        )
    return columns


def _in_order(columns: Sequence[_Column]) -> bool:
    """Return whether heights rise and no column reaches into the one before it, or into the site."""
    if columns[0].first <= _SITE_WIDTH:
        return False
    return all(a.altitude_ft < b.altitude_ft and a.stop <= b.first for a, b in pairwise(columns))


def _sites(lines: Sequence[str], columns: Sequence[_Column]) -> tuple[tuple[LevelsAt, ...], tuple[str, ...]]:
    """Return the sites that could be read and the lines that could not."""
    sites, unread = [], []
    for line in lines:
        text = line.rstrip()
        if text.strip() in _ENDS:
            continue
        levels = _levels_of(text, columns)
        if levels is None:
            unread.append(line)
        else:
            sites.append(LevelsAt(site=text[:_SITE_WIDTH], levels=levels))
    return tuple(sites), tuple(unread)


def _levels_of(text: str, columns: Sequence[_Column]) -> tuple[Level, ...] | None:
    """Return the levels of one site line, lowest first; ``None`` if anything in it does not fit."""
    if re.fullmatch(r"[A-Z0-9]{3}", text[:_SITE_WIDTH]) is None:
        return None
    levels: list[Level] = []
    at = _SITE_WIDTH
    for column in columns:
        group = text[column.first : column.stop].rstrip()
        if text[at : column.first].strip():
            return None
        at = column.stop
        if not group:
            # Blank near the ground and where a line is cut short, never between two levels.
            if levels and text[at:].strip():
                return None
            continue
        level = _level(group, column)
        if level is None:
            return None
        levels.append(level)
    return None if text[at:].strip() or not levels else tuple(levels)


def _level(group: str, column: _Column) -> Level | None:
    """Return one group decoded: ``2332+02``, ``731960``, ``7799``, ``9900-38``; ``None`` if odd.

    Directions 51 to 86 mean 50 less and 100 kt more, of which 99 is "or more". Light and variable
    (9900) has no direction, and 0 kt as written, which stands for less than 5.
    """
    match = column.group.fullmatch(group)
    if match is None:
        return None
    direction, speed_kt = int(match["dir"]), int(match["speed"])
    light = (direction, speed_kt) == (99, 0)
    fast = 51 <= direction <= 86
    if not (light or fast or 1 <= direction <= 36):
        return None
    return Level(
        altitude_ft=column.altitude_ft,
        dir_deg_true=None if light else (direction - 50 if fast else direction) * 10,
        speed_kt=speed_kt + 100 if fast else speed_kt,
        at_least=fast and speed_kt == 99,
        temperature_c=_temperature_c(match["temp"], column.sign),
    )


def _temperature_c(digits: str | None, sign: int) -> int | None:
    """Return the temperature of a group; ``None`` if it has none, or none with a known sign."""
    if digits is None:
        return None
    if digits[0] in "+-":
        return int(digits)
    return sign * int(digits) if sign else None


@dataclass(frozen=True, slots=True, kw_only=True)
class WindAloft:
    """The wind at one height; ``dir_deg_true`` (0 < d <= 360) is ``None`` in calm or variable air.

    ``at_least`` is true where a level it comes from says "199 kt or more".
    """

    dir_deg_true: float | None
    speed_kt: float
    at_least: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownTemperature:
    """Nobody gives the temperature at this height."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FreezingLevel:
    """The lowest height at which the air is at 0 C, and whether it lies above all levels given."""

    altitude_ft: float
    extrapolated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownFreezingLevel:
    """Nobody gives the freezing level; where given, it lies at or below ``at_or_below_ft``."""

    reason: str
    at_or_below_ft: int | None = None


class Known(IntEnum):
    """The int8 state of an element of an array."""

    KNOWN = 0
    UNKNOWN = 1
    AT_LEAST = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelArrays:
    """Winds and temperatures of sites at heights, arrays of shape (sites, heights).

    ``east_kt`` and ``north_kt`` are where the air moves to. The states are ``Known`` as int8;
    where one is UNKNOWN the value is 0 and means nothing.
    """

    east_kt: npt.NDArray[np.float64]
    north_kt: npt.NDArray[np.float64]
    wind_state: npt.NDArray[np.int8]
    temperature_c: npt.NDArray[np.float64]
    temperature_state: npt.NDArray[np.int8]


_CALM_BELOW_KT = 0.05
"""Below this a direction is made of rounding errors; a proposal."""


def level_wind(at: LevelsAt, altitude_ft: float) -> WindAloft | UnknownWind:
    """Return the wind at a height, between the levels around it by vector components.

    Outside the levels given the wind is unknown: it is never extrapolated.
    """
    arrays = winds_at([at], np.array([altitude_ft]))
    state = arrays.wind_state[0, 0]
    if state == Known.UNKNOWN:
        return UnknownWind(reason=f"{at.site} gives no wind around {altitude_ft:,.0f} ft")
    east_kt, north_kt = float(arrays.east_kt[0, 0]), float(arrays.north_kt[0, 0])
    speed_kt = float(np.hypot(east_kt, north_kt))
    direction = None
    if speed_kt >= _CALM_BELOW_KT:
        direction = 360.0 - float(np.degrees(np.arctan2(east_kt, -north_kt))) % 360.0
    return WindAloft(dir_deg_true=direction, speed_kt=speed_kt, at_least=bool(state == Known.AT_LEAST))


def level_temperature_c(at: LevelsAt, altitude_ft: float) -> float | UnknownTemperature:
    """Return the temperature (C) at a height, linear between the levels that give one."""
    arrays = winds_at([at], np.array([altitude_ft]))
    if arrays.temperature_state[0, 0] == Known.UNKNOWN:
        return UnknownTemperature(reason=f"{at.site} gives no temperature around {altitude_ft:,.0f} ft")
    return float(arrays.temperature_c[0, 0])


def winds_at(sites: Sequence[LevelsAt], altitude_ft: npt.NDArray[np.float64]) -> LevelArrays:
    """Return winds and temperatures of `sites` at heights of shape (heights,).

    Wind by vector components and temperature linear between the two levels around a height;
    outside the levels given, unknown. Light and variable air has no component.
    """
    shape = (len(sites), len(altitude_ft))
    east, north, temperature = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    wind_state = np.full(shape, Known.UNKNOWN, dtype=np.int8)
    temperature_state = np.full(shape, Known.UNKNOWN, dtype=np.int8)
    for row, site in enumerate(sites):
        heights, winds = _winds_of(site)
        inside = (altitude_ft >= heights[0]) & (altitude_ft <= heights[-1]) if len(heights) else False
        east[row] = np.where(inside, _between(altitude_ft, heights, winds[:, 0]), 0.0)
        north[row] = np.where(inside, _between(altitude_ft, heights, winds[:, 1]), 0.0)
        floored = _between(altitude_ft, heights, winds[:, 2]) > 0.0
        wind_state[row] = np.where(inside, np.where(floored, Known.AT_LEAST, Known.KNOWN), Known.UNKNOWN)
        warm_ft, warm_c = _temperatures_of(site)
        inside = (altitude_ft >= warm_ft[0]) & (altitude_ft <= warm_ft[-1]) if len(warm_ft) else False
        temperature[row] = np.where(inside, _between(altitude_ft, warm_ft, warm_c), 0.0)
        temperature_state[row] = np.where(inside, Known.KNOWN, Known.UNKNOWN)
    return LevelArrays(
        east_kt=east,
        north_kt=north,
        wind_state=wind_state,
        temperature_c=temperature,
        temperature_state=temperature_state,
    )


def freezing_level(at: LevelsAt) -> FreezingLevel | UnknownFreezingLevel:
    """Return the lowest height at which the temperature falls to 0 C.

    Linear between levels. Above the highest level given the lapse of the two highest goes on,
    which is said; below the lowest nothing is extrapolated.
    """
    heights, temperatures = _temperatures_of(at)
    if len(heights) == 0:
        return UnknownFreezingLevel(reason=f"{at.site} gives no temperature")
    if temperatures[0] <= 0.0:
        reason = f"{at.site} is at or below 0 C at its lowest temperature, {heights[0]:,.0f} ft"
        return UnknownFreezingLevel(reason=reason, at_or_below_ft=int(heights[0]))
    cold = np.flatnonzero(temperatures <= 0.0)
    upper = int(cold[0]) if len(cold) else len(heights) - 1
    if upper == 0 or temperatures[upper] >= temperatures[upper - 1]:
        return UnknownFreezingLevel(reason=f"{at.site} stays above 0 C up to {heights[-1]:,.0f} ft")
    lapse_c_ft = (temperatures[upper] - temperatures[upper - 1]) / (heights[upper] - heights[upper - 1])
    altitude_ft = heights[upper - 1] - temperatures[upper - 1] / lapse_c_ft
    return FreezingLevel(altitude_ft=float(altitude_ft), extrapolated=len(cold) == 0)


def _winds_of(at: LevelsAt) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return heights (levels,) and rows of east, north, and 1 where the level says "or more"."""
    heights = np.array([level.altitude_ft for level in at.levels], dtype=float)
    rows = []
    for level in at.levels:
        radians = 0.0 if level.dir_deg_true is None else np.radians(level.dir_deg_true)
        speed_kt = 0.0 if level.dir_deg_true is None else float(level.speed_kt)
        rows.append((-speed_kt * np.sin(radians), -speed_kt * np.cos(radians), float(level.at_least)))
    return heights, np.array(rows, dtype=float).reshape(len(rows), 3)


def _temperatures_of(at: LevelsAt) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return heights and temperatures of the levels that give one, both (levels,)."""
    given = [(level.altitude_ft, level.temperature_c) for level in at.levels if level.temperature_c is not None]
    table = np.array(given, dtype=float).reshape(len(given), 2)
    return table[:, 0], table[:, 1]


def _between(
    altitude_ft: npt.NDArray[np.float64], heights: npt.NDArray[np.float64], values: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Return values linear between heights; 0 where there is no height at all."""
    if len(heights) == 0:
        return np.zeros_like(altitude_ft, dtype=float)
    return np.asarray(np.interp(altitude_ft, heights, values), dtype=float)
