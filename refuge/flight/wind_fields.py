"""The winds that a question goes by: the pilot's figure, or bulletins interpolated in height and time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache

import numpy as np

from refuge.airfield import Station
from refuge.earth import Position
from refuge.flight.atmosphere import DRY_LAPSE_C_PER_FT
from refuge.flight.question import Question
from refuge.flight.situation import Situation
from refuge.flight.station_weather import is_fresh
from refuge.flight.triangle import components_kt, wind_from_components
from refuge.flight.wind_times import in_use
from refuge.flight.winds import Later, WindSites, temperature_at, wind_at
from refuge.weather.reports import Levels, LevelsAt, Observation
from refuge.weather.wind import KnownWind
from refuge.weather.winds_aloft import Known, winds_at

DIFFERS_KT = 25.0
"""A wind by hand this far (as a vector) from what is known is worth a second look (a proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindFields:
    """The wind fields of a question, of which the worse counts, and how they came about.

    ``level`` is the field at the cruising level, ``temperatures`` the sites that tell how warm it is there.
    ``said`` names the source for the answer's assumptions, ``warnings`` what must be read first.
    """

    fields: tuple[WindSites, ...]
    level: WindSites
    temperatures: WindSites
    said: tuple[str, ...]
    warnings: tuple[str, ...] = ()

    @property
    def strongest_kt(self) -> float:
        """Return the strongest wind of any site, 0 where there is none."""
        return float(max((field.speeds_kt.max(initial=0.0) for field in self.fields), default=0.0))

    def at(self, share: float) -> "WindFields":
        """Return the fields of one time, `share` of the way between the two that they are of."""
        level = self.level.at(share)
        return replace(
            self, fields=tuple(field.at(share) for field in self.fields), level=level,
            temperatures=level if self.temperatures is self.level else self.temperatures.at(share),
        )  # fmt: skip


def wind_fields(question: Question, situation: Situation, at: datetime) -> WindFields:
    """Return the wind fields for a question whose way begins at `at`."""
    found = winds_around(question, situation, at).at(in_use(situation.winds, at).share(at))
    if question.wind is None:
        return found
    return replace(found, warnings=_differs(question, found.level, found.temperatures))


def winds_around(question: Question, situation: Situation, at: datetime) -> WindFields:
    """Return the fields of the bulletins in use at a time: of two times, if valid before and after it."""
    known, said = _level_field(situation, question.altitude_ft, at)
    if question.wind is not None:
        wind = question.wind
        field = WindSites.uniform(wind.dir_deg_true, wind.speed_kt)
        figure = f"wind {wind.dir_deg_true:03.0f}/{wind.speed_kt:.0f} kt: pilot's figure, the same everywhere"
        return WindFields(fields=(field,), level=field, temperatures=known, said=(figure,))
    low = _below_lowest(situation, question.altitude_ft, at)
    if low is None:
        return WindFields(fields=(known,), level=known, temperatures=known, said=said)
    lowest, surface = low
    both = (_joined(known, lowest), _joined(known, surface))
    note = "below the lowest level of some sites: the worse of that level and the surface wind"
    return WindFields(fields=both, level=known, temperatures=known, said=(*said, note))


def _differs(question: Question, field: WindSites, level: WindSites) -> tuple[str, ...]:
    """Return a warning where the pilot's figure and the winds aloft that are known differ by much."""
    here = wind_at(level, np.array([question.at.lat_deg]), np.array([question.at.lon_deg]))
    east, north = float(here.east_kt[0]), float(here.north_kt[0])
    apart = float(np.hypot(field.east_kt[0] - east, field.north_kt[0] - north))
    if not here.known[0] or apart < DIFFERS_KT:
        return ()
    direction, speed = wind_from_components(east, north)
    known = f"winds aloft give {float(direction):03.0f}/{float(speed):.0f} kt here"
    return (f"WARNING: {known}, the pilot's figure is {apart:.0f} kt away from it",)


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTemperature:
    """A temperature at a level, and where it comes from; ``at_least`` marks the coldest that it can be."""

    celsius: float
    source: str
    at_least: bool = False


def temperature_over(
    situation: Situation, at: Position, altitude_ft: float, when: datetime
) -> LevelTemperature | None:
    """Return the temperature at a level: from winds aloft, else the coldest that the reports near allow.

    Air is no colder than the dry adiabat below a surface temperature makes it; so a bound from below
    may be used for whatever the cold makes worse.
    """
    level, said = _level_field(situation, altitude_ft, when)
    level = level.at(in_use(situation.winds, when).share(when))
    values, known = temperature_at(level, np.array([at.lat_deg]), np.array([at.lon_deg]))
    if known[0]:
        return LevelTemperature(celsius=float(values[0]), source=said[0])
    bounds = [
        observation.temperature_c - DRY_LAPSE_C_PER_FT * max(0.0, altitude_ft - place.elevation_ft)
        for place in situation.stations.values()
        if place.elevation_ft is not None
        and (observation := situation.observations.get(place.id)) is not None
        and is_fresh(observation, situation.read_at)
        and observation.temperature_c is not None
    ]
    if not bounds:
        return None
    text = f"no colder than {min(bounds):+.0f} C, by the dry adiabat from {len(bounds)} reports near; give --oat"
    return LevelTemperature(celsius=min(bounds), source=text, at_least=True)


def _level_field(situation: Situation, altitude_ft: float, at: datetime) -> tuple[WindSites, tuple[str, ...]]:
    """Return the field at a height, of the bulletins valid before and after `at` where both are in use."""
    chosen = in_use(situation.winds, at).chosen
    fields = [_sites_at(_with_sisters(levels, situation), altitude_ft) for levels in chosen]
    if not fields:
        none = "no winds aloft are known for this time: give --wind, or collect winds"
        return _empty(), (none,)
    said = tuple(_bulletin_words(levels, altitude_ft) for levels in chosen)
    return (fields[0] if len(fields) == 1 else _two_times(*fields)), said


def _bulletin_words(levels: Levels, altitude_ft: float) -> str:
    name = f"winds aloft {levels.product}".rstrip()
    times = f"based on {levels.based_on:%d%H%M}Z, valid {levels.valid_at:%d%H%M}Z"
    return f"{name} {times}, at {altitude_ft:,.0f} ft"


class _Placed:
    """Bulletins, and where their sites lie; equal only to the very same, so that what they say is read once."""

    __slots__ = ("bulletins", "sites")

    def __init__(self, bulletins: tuple[Levels, ...], sites: Mapping[str, Station]) -> None:
        self.bulletins, self.sites = bulletins, sites

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Placed) and self._same == other._same

    def __hash__(self) -> int:
        return hash(self._same)

    @property
    def _same(self) -> tuple[int, ...]:
        # An address cannot come to mean something else while this holds what lies there.
        return (id(self.sites), *map(id, self.bulletins))


def _with_sisters(chosen: Levels, situation: Situation) -> _Placed:
    """Return all bulletins of the same data and valid time as one: low and high levels, regions."""
    sisters = [
        other for other in situation.winds if (other.based_on, other.valid_at) == (chosen.based_on, chosen.valid_at)
    ]
    return _Placed(tuple(sisters), situation.wind_sites)


@lru_cache(maxsize=64)
def _sites_at(placed: _Placed, altitude_ft: float) -> WindSites:
    """Return the sites of bulletins that give the wind at a height, with their positions."""
    stations, sites = _joined_sites(placed)
    arrays = winds_at(sites, np.array([altitude_ft]))
    # "199 kt or more" is no speed to reckon with: such a site says nothing.
    known = arrays.wind_state[:, 0] == Known.KNOWN
    return WindSites(
        lat_deg=np.array([s.lat_deg for s in stations], dtype=float)[known],
        lon_deg=np.array([s.lon_deg for s in stations], dtype=float)[known],
        east_kt=arrays.east_kt[known, 0],
        north_kt=arrays.north_kt[known, 0],
        temperature_c=arrays.temperature_c[known, 0],
        has_temperature=arrays.temperature_state[known, 0] == Known.KNOWN,
    )


def _joined_sites(placed: _Placed) -> tuple[list[Station], list[LevelsAt]]:
    """Return the sites whose position is known, each once, its low and high levels joined."""
    joined: dict[str, LevelsAt] = {}
    for levels in placed.bulletins:
        for at in levels.sites:
            if at.site not in placed.sites:
                continue
            before = joined.get(at.site)
            if before is not None:
                heights = {level.altitude_ft: level for level in (*before.levels, *at.levels)}
                at = replace(at, levels=tuple(heights[height] for height in sorted(heights)))  # noqa: PLW2901
            joined[at.site] = at
    return [placed.sites[name] for name in joined], list(joined.values())


@lru_cache(maxsize=64)
def _lowest_levels(placed: _Placed, altitude_ft: float) -> WindSites | None:
    """Return the lowest levels of the sites that begin above a height; ``None`` where none do."""
    low = [
        (station, site.levels[0].dir_deg_true, site.levels[0].speed_kt)
        for station, site in zip(*_joined_sites(placed), strict=True)
        if site.levels and site.levels[0].altitude_ft > altitude_ft
    ]
    return _field(low) if low else None


def _below_lowest(situation: Situation, altitude_ft: float, at: datetime) -> tuple[WindSites, WindSites] | None:
    """Return lowest levels and surface winds where sites begin above the height; ``None`` where none do."""
    newest = in_use(situation.winds, at).newest
    lowest = None if newest is None else _lowest_levels(_with_sisters(newest, situation), altitude_ft)
    if lowest is None:
        return None
    return lowest, _surface(_Heard(situation.stations, situation.observations), situation.read_at)


class _Heard:
    """Stations and what they report; equal only to the very same, as `_Placed` is."""

    __slots__ = ("observations", "stations")

    def __init__(self, stations: Mapping[str, Station], observations: Mapping[str, Observation]) -> None:
        self.stations, self.observations = stations, observations

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, _Heard)
            and self.stations is other.stations
            and self.observations is other.observations
        )

    def __hash__(self) -> int:
        return hash((id(self.stations), id(self.observations)))


@lru_cache(maxsize=4)
def _surface(heard: _Heard, read_at: datetime) -> WindSites:
    """Return the winds that stations report."""
    winds = [
        (station, wind.dir_deg_true, wind.speed_kt)
        for station in heard.stations.values()
        if (observation := heard.observations.get(station.id)) is not None
        and is_fresh(observation, read_at)
        and isinstance(wind := observation.adverse.wind, KnownWind)
    ]
    return _field(winds)


def _field(winds: Sequence[tuple[Station, float | None, float]]) -> WindSites:
    """Return winds at stations as a field; a variable one has no component."""
    directions = np.array([0.0 if direction is None else direction for _, direction, _ in winds])
    speeds = np.array([0.0 if direction is None else speed for _, direction, speed in winds], dtype=float)
    east, north = components_kt(directions, speeds)
    return WindSites(
        lat_deg=np.array([s.lat_deg for s, _, _ in winds], dtype=float),
        lon_deg=np.array([s.lon_deg for s, _, _ in winds], dtype=float),
        east_kt=east, north_kt=north,
        temperature_c=np.zeros(len(winds)), has_temperature=np.zeros(len(winds), dtype=bool),
    )  # fmt: skip


def _joined(one: WindSites, other: WindSites) -> WindSites:
    """Return the sites of two fields together; the other is the same at both times of the one."""
    names = ("lat_deg", "lon_deg", "east_kt", "north_kt", "temperature_c", "has_temperature")
    later = one.later
    if later is not None:
        later = Later(
            east_kt=np.concatenate([later.east_kt, other.east_kt]),
            north_kt=np.concatenate([later.north_kt, other.north_kt]),
            temperature_c=np.concatenate([later.temperature_c, other.temperature_c]),
        )
    joined = {name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in names}
    return WindSites(**joined, later=later)


def _two_times(one: WindSites, other: WindSites) -> WindSites:
    """Return the fields of two times as one, at the sites that both have."""
    places = {(lat, lon): i for i, (lat, lon) in enumerate(zip(other.lat_deg, other.lon_deg, strict=True))}
    mine = [i for i, place in enumerate(zip(one.lat_deg, one.lon_deg, strict=True)) if place in places]
    theirs = [places[one.lat_deg[i], one.lon_deg[i]] for i in mine]
    return WindSites(
        lat_deg=one.lat_deg[mine],
        lon_deg=one.lon_deg[mine],
        east_kt=one.east_kt[mine],
        north_kt=one.north_kt[mine],
        temperature_c=one.temperature_c[mine],
        has_temperature=one.has_temperature[mine] & other.has_temperature[theirs],
        later=Later(
            east_kt=other.east_kt[theirs],
            north_kt=other.north_kt[theirs],
            temperature_c=other.temperature_c[theirs],
        ),
    )


def _empty() -> WindSites:
    nothing = np.zeros(0)
    return WindSites(
        lat_deg=nothing, lon_deg=nothing, east_kt=nothing, north_kt=nothing, temperature_c=nothing,
        has_temperature=np.zeros(0, dtype=bool),
    )  # fmt: skip
