"""The wind aloft for the brute force, in plain scalar Python: by hand, or from bulletins (method.md 3)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from refuge.airfield import Station
from refuge.weather.reports import Level, Levels
from refuge.weather.wind import KnownWind
from tests.core.flight.memory import Atlas, Memory, apart_nm

if TYPE_CHECKING:
    from refuge.flight.question import Question
    from refuge.flight.situation import Situation

Point = tuple[float, float]
SITE_NM = 200.0
CELL_DEG = 0.25
Value = tuple[float, ...]
Reader = Callable[[Sequence[Level], float], "Value | None"]


@dataclass(frozen=True)
class Wind:
    """A wind at a point: where the air moves to."""

    east: float
    north: float
    known: bool


@dataclass(frozen=True)
class Spot:
    """A site and what it gives: a wind, or a temperature."""

    lat_deg: float
    lon_deg: float
    value: Value


class Field:
    """Sites of one kind. The four nearest within 200 NM count by 1 / distance squared."""

    def __init__(self, spots: Sequence[Spot]) -> None:
        self.spots, self.atlas = spots, Atlas(spots)
        self.cells: dict[tuple[int, int], list[Spot]] = {}

    def at(self, point: Point) -> Value | None:
        found = sorted(
            (apart_nm(*point, s.lat_deg, s.lon_deg), i, s.value) for i, s in enumerate(self.around(point))
        )
        used = [(max(d, 0.5) ** -2, value) for d, _, value in found[:4] if d <= SITE_NM]
        if not used:
            return None
        total = sum(w for w, _ in used)
        return tuple(sum(w * value[k] for w, value in used) / total for k in range(len(used[0][1])))

    def around(self, point: Point) -> list[Spot]:
        """Return the sites that may be among the four nearest anywhere in a small cell that holds the point."""
        cell = math.floor(point[0] / CELL_DEG), math.floor(point[1] / CELL_DEG)
        if cell not in self.cells:
            middle = (cell[0] + 0.5) * CELL_DEG, (cell[1] + 0.5) * CELL_DEG
            across = CELL_DEG * 61.0  # no point of the cell is farther from another
            near = self.atlas.near(max(-90.0, min(90.0, middle[0])), middle[1], SITE_NM + across)
            least = near[3][0] + 2 * across if len(near) > 3 else math.inf
            self.cells[cell] = [spot for nm, spot in near if nm <= least]
        return self.cells[cell]


class UpperWinds:
    """The winds that one question goes by."""

    def __init__(self, situation: Situation, question: Question, memory: Memory) -> None:
        self.situation, self.question, self.memory = situation, question, memory
        given, speeds = question.wind, [0.0]
        self.given = None if given is None else Wind(*parts(given.dir_deg_true, given.speed_kt), known=True)
        for levels in situation.winds:
            speeds += [float(level.speed_kt) for site in levels.sites for level in site.levels]
        self.strongest_kt = max(speeds) if given is None else given.speed_kt

    # --- asked by the flight -------------------------------------------------------------------

    def level(self, at: Point, when: datetime) -> Wind:
        """The wind at the level alone: what the flight itself goes by."""
        return self.given or wind_of(self.fields(when)[0].at(at))

    def number(self, when: datetime) -> int:
        """How many winds may blow: two below the lowest level of a site."""
        return 1 if self.given is not None else len(self.fields(when)) - 2 or 1

    def at(self, at: Point, when: datetime, number: int) -> Wind:
        if self.given is not None:
            return self.given
        fields = self.fields(when)
        return wind_of((fields[0] if len(fields) == 2 else fields[2 + number]).at(at))

    def temperature(self, at: Point, when: datetime) -> float | None:
        found = self.fields(when)[1].at(at)
        return None if found is None else found[0]

    # --- the bulletins ---------------------------------------------------------------------------

    def fields(self, when: datetime) -> list[Field]:
        """The level's winds and temperatures; below the lowest level of some sites the two winds besides."""
        usable = [b for b in self.situation.winds if b.use_from <= when < b.use_to]
        before = newest([b for b in usable if b.valid_at <= when], when)
        after = newest([b for b in usable if b.valid_at > when], when)
        both = None if before is None or after is None else when
        key = ("winds", self.question.altitude_ft, id(before), id(after), id(newest(usable, when)), both)
        if key not in self.memory.kept:
            self.memory.kept[key] = self.made(before, after, newest(usable, when), when)
        found = self.memory.kept[key]
        assert isinstance(found, list)
        return found

    def made(self, before: Levels | None, after: Levels | None, last: Levels | None, when: datetime) -> list[Field]:
        chosen = [b for b in (before, after) if b is not None]
        winds = [self.spots(b, wind_at_height) for b in chosen]
        warmths = [self.spots(b, warmth_at_height) for b in chosen]
        if before is None or after is None:
            level, warm = (winds[0], warmths[0]) if chosen else ({}, {})
        else:
            share = (when - before.valid_at) / (after.valid_at - before.valid_at)
            level, warm = mixed(winds[0], winds[1], share), mixed(warmths[0], warmths[1], share)
        found = [self.field(level), self.field({name: t for name, t in warm.items() if name in level})]
        low = {} if last is None else self.spots(last, lowest_above)
        if low:
            lowest = [*self.placed(level), *self.placed(low)]
            found += [Field(lowest), Field([*self.placed(level), *self.surface()])]
        return found

    def spots(self, bulletin: Levels, read: Reader) -> dict[str, Value]:
        """What each site gives at the height, its low and high levels joined."""
        levels: dict[str, dict[int, Level]] = {}
        for other in self.situation.winds:
            if (other.based_on, other.valid_at) == (bulletin.based_on, bulletin.valid_at):
                for site in other.sites:
                    levels.setdefault(site.site, {}).update({one.altitude_ft: one for one in site.levels})
        found = {}
        for name, heights in levels.items():
            value = read([heights[ft] for ft in sorted(heights)], self.question.altitude_ft)
            if value is not None and name in self.situation.wind_sites:
                found[name] = value
        return found

    def placed(self, values: dict[str, Value]) -> list[Spot]:
        sites = self.situation.wind_sites
        return [Spot(sites[name].lat_deg, sites[name].lon_deg, value) for name, value in values.items()]

    def field(self, values: dict[str, Value]) -> Field:
        return Field(self.placed(values))

    def surface(self) -> list[Spot]:
        """The surface winds of fresh reports; a variable one has no direction, and counts as none."""
        found = []
        for s in self.situation.stations.values():
            seen = self.situation.observations.get(s.id)
            if seen is None or seen.nil:
                continue
            age, wind = self.question.now - seen.observed_at, seen.adverse.wind
            if timedelta(minutes=-15) <= age <= timedelta(minutes=75) and isinstance(wind, KnownWind):
                found.append(spot_of(s, wind))
        return found


def spot_of(s: Station, wind: KnownWind) -> Spot:
    direction = wind.dir_deg_true
    return Spot(s.lat_deg, s.lon_deg, (0.0, 0.0) if direction is None else parts(direction, float(wind.speed_kt)))


def newest(bulletins: Sequence[Levels], when: datetime) -> Levels | None:
    return max(bulletins, key=lambda b: (b.based_on, -abs(b.valid_at - when)), default=None)


def mixed(one: dict[str, Value], other: dict[str, Value], share: float) -> dict[str, Value]:
    return {
        name: tuple((1 - share) * a + share * b for a, b in zip(value, other[name], strict=True))
        for name, value in one.items()
        if name in other
    }


def wind_of(value: Value | None) -> Wind:
    return Wind(0.0, 0.0, known=False) if value is None else Wind(value[0], value[1], known=True)


def parts(from_deg: float, kt: float) -> tuple[float, float]:
    return -kt * math.sin(math.radians(from_deg)), -kt * math.cos(math.radians(from_deg))


def level_parts(level: Level) -> Value:
    return (0.0, 0.0) if level.dir_deg_true is None else parts(level.dir_deg_true, float(level.speed_kt))


def between(heights: Sequence[float], values: Sequence[Value], ft: float) -> tuple[Value, set[int]] | None:
    """Return the value at a height, and which levels it comes from; none beyond them."""
    for i, low in enumerate(heights):
        if low == ft:
            return values[i], {i}
        if i and heights[i - 1] < ft < low:
            share = (ft - heights[i - 1]) / (low - heights[i - 1])
            mean = tuple((1 - share) * a + share * b for a, b in zip(values[i - 1], values[i], strict=True))
            return mean, {i - 1, i}
    return None


def wind_at_height(levels: Sequence[Level], ft: float) -> Value | None:
    found = between([one.altitude_ft for one in levels], [level_parts(one) for one in levels], ft)
    # "199 kt or more" is no speed to reckon with.
    return None if found is None or any(levels[i].at_least for i in found[1]) else found[0]


def warmth_at_height(levels: Sequence[Level], ft: float) -> Value | None:
    warm = [(one.altitude_ft, (float(one.temperature_c),)) for one in levels if one.temperature_c is not None]
    found = between([at for at, _ in warm], [value for _, value in warm], ft)
    return None if found is None else found[0]


def lowest_above(levels: Sequence[Level], ft: float) -> Value | None:
    return level_parts(levels[0]) if levels and levels[0].altitude_ft > ft else None
