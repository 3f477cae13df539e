"""Everything a store knew at one instant, in memory: what a door that is polled answers from.

A world is read in one transaction and never changes. What it says of a question equals what the
store says (refuge.ask) as of ``read_at``; places are read anew only when they were imported anew.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from refuge.airfield import Airfield, Station
from refuge.ask import (
    NEAR_NM,
    RECENT,
    STATIONS_BEYOND_NM,
    Weather,
    position_named,
    reach_bound_nm,
    weather_as_of,
    wind_sites,
    within,
)
from refuge.earth import Position, box_around, track_and_distance
from refuge.errors import MissingDataError
from refuge.files.coefficients import magnetic_model
from refuge.flight.areas import Area
from refuge.flight.question import Question
from refuge.flight.situation import Situation
from refuge.flight.state_arrays import Floats, Ints
from refuge.flight.wind_fields import LevelTemperature, temperature_over
from refuge.store.areas import areas_within, bounds_deg
from refuge.store.documents import documents_of
from refuge.store.engine import Reader
from refuge.store.hearing import hearing_as_of
from refuge.store.places import airfield_codes_of, all_airfields, all_stations
from refuge.store.raws import newest_import
from refuge.store.reads import stations_refused
from refuge.store.version import DataVersion, data_version
from refuge.weather.reports import Forecast

_SPHERE_NM_PER_RAD = 3437.7
"""Nautical miles in one radian of the sphere of radius 6,366.7 km; `_SLACK` covers the ellipsoid."""
_SLACK = 1.01
"""A chord on the sphere is short of the geodesic's by less than the flattening, 1 in 298."""

_MIDDLE, _ALL_NM = Position(lat_deg=0.0, lon_deg=0.0), 10_900.0
"""A circle that holds the earth."""

_BETWEEN_NM = 10.0
"""Places of a flight are asked once a minute: it flies no farther between two of them."""
_TOGETHER = 32
"""So many places in a row are looked up together."""
_EVERY, _EVERY_NM = 10, 100.0
"""Areas are looked for around every so many of them, so much farther."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """Positions as arrays, with their unit vectors (n, 3): candidates near a point by one product."""

    lat_deg: Floats
    lon_deg: Floats
    unit: Floats

    def near(self, at: Position, radius_nm: float) -> tuple[Ints, Floats, Floats]:
        """Return indices of the points within the radius, with tracks and distances to them."""
        reach = min(radius_nm / _SPHERE_NM_PER_RAD * _SLACK, np.pi)
        index = np.flatnonzero(self.unit @ _unit(at.lat_deg, at.lon_deg) >= np.cos(reach) - 1e-12)
        track, distance = track_and_distance(at, self.lat_deg[index], self.lon_deg[index])
        inside = distance <= radius_nm
        return index[inside], track[inside], distance[inside]

    def near_any(self, lat_deg: Floats, lon_deg: Floats, radius_nm: float) -> Ints:
        """Return indices of the points within the radius of any of some places, and a few a little beyond it."""
        reach = min(radius_nm / _SPHERE_NM_PER_RAD * _SLACK, np.pi)
        found = np.zeros(self.lat_deg.size, dtype=bool)
        every = _unit(lat_deg, lon_deg).T
        for begin in range(0, every.shape[0], _TOGETHER):
            # Only what is near the first of a few places can be near the others: no table of all by all.
            few = every[begin : begin + _TOGETHER]
            spread = float(np.arccos(np.clip((few @ few[0]).min(), -1.0, 1.0)))
            some = np.flatnonzero(self.unit @ few[0] >= np.cos(min(reach + spread + 1e-6, np.pi)))
            some = some[~found[some]]
            found[some[(few @ self.unit[some].T).max(axis=0, initial=-1.0) >= np.cos(reach) - 1e-12]] = True
        return np.flatnonzero(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Airfields and stations, each by identifier and in the order of identifiers, as of an import."""

    imported: int
    airfields: Mapping[str, Airfield]
    ordered: tuple[Airfield, ...]
    airfield_points: Points
    stations: Mapping[str, Station]
    ordered_stations: tuple[Station, ...]
    station_points: Points
    codes: Mapping[str, tuple[str, ...]]
    by_code: Mapping[str, str]
    areas: tuple[Area, ...]
    area_bounds_deg: Floats

    def airfield(self, name: str) -> Airfield | None:
        """Return the airfield of an identifier, or else of another code that it goes or went by."""
        return self.airfields.get(name) or self.airfields.get(self.by_code.get(name, ""))

    def airfield_facts(self, field: Airfield) -> tuple[Airfield, tuple[str, ...], Station | None]:
        """Return an airfield with its codes and the station at it."""
        station = None if field.station_id is None else self.stations.get(field.station_id)
        return field, self.codes.get(field.id, ()), station

    def areas_around(self, at: Position, radius_nm: float) -> tuple[Area, ...]:
        """Return the areas whose box touches one around the circle; see `refuge.store.areas.areas_within`."""
        if not self.areas:
            return ()
        box = box_around(at, radius_nm)
        west, east = box.lon_west_deg, box.lon_east_deg
        east += 360.0 if east < west else 0.0
        area_west, south, area_east, north = self.area_bounds_deg.T
        # Longitudes of shapes may pass 180 degrees, and so may the box: look one turn to either side.
        beside = [(area_west <= east + turn) & (area_east >= west + turn) for turn in (-360.0, 0.0, 360.0)]
        touches = (south <= box.lat_north_deg) & (north >= box.lat_south_deg) & np.logical_or.reduce(beside)
        return tuple(self.areas[i] for i in np.flatnonzero(touches))


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """What the store knew at ``read_at``; ``version`` tells whether anything has landed since."""

    read_at: datetime
    version: DataVersion
    places: Places
    weather: Weather
    wind_sites: Mapping[str, Station]
    documents: Mapping[str, Mapping[str, str]]

    def position(self, text: str) -> Position:
        """Return the position that a text names; see `refuge.ask.place_of`."""
        fields, stations = self.places.airfields, self.places.stations
        return position_named(
            text, lambda name: fields.get(name) or stations.get(name), lambda: {*fields, *stations}
        )

    def situation_for(self, question: Question) -> Situation:
        """Return everything known that can bear on a question; see `refuge.ask.situation_for`.

        Raises
        ------
        MissingDataError
            If there is no airfield at all.
        """
        if not self.places.ordered:
            raise MissingDataError("the store has no airfields", remedy="load them with: refuge import airfields")
        radius_nm = reach_bound_nm(question, self.weather.winds)
        near, _, _ = self.places.airfield_points.near(question.at, radius_nm)
        fields = tuple(self.places.ordered[i] for i in near)
        return replace(
            self._around(question.at, radius_nm + STATIONS_BEYOND_NM, fields),
            areas=self.places.areas_around(question.at, radius_nm),
            magnetism=magnetic_model(),
        )

    def situation_along(self, questions: Sequence[Question], lat_deg: Floats, lon_deg: Floats) -> Situation:
        """Return everything known that can bear on questions asked at any of some places, the way of a flight.

        Raises
        ------
        MissingDataError
            If there is no airfield at all.
        """
        if not self.places.ordered:
            raise MissingDataError("the store has no airfields", remedy="load them with: refuge import airfields")
        radius_nm = max(reach_bound_nm(question, self.weather.winds) for question in questions) + _BETWEEN_NM
        fields = self.places.airfield_points.near_any(lat_deg, lon_deg, radius_nm)
        stations = self.places.station_points.near_any(lat_deg, lon_deg, radius_nm + STATIONS_BEYOND_NM)
        areas = {
            id(area): area
            for lat, lon in zip(lat_deg[::_EVERY], lon_deg[::_EVERY], strict=True)
            for area in self.places.areas_around(
                Position(lat_deg=float(lat), lon_deg=float(lon)), radius_nm + _EVERY_NM
            )
        }
        return replace(
            self.situation_between(),
            airfields=tuple(self.places.ordered[i] for i in fields),
            stations={(place := self.places.ordered_stations[i]).id: place for i in stations},
            areas=tuple(areas.values()),
            magnetism=magnetic_model(),
        )

    def situation_between(self) -> Situation:
        """Return the weather alone, without a place: what a flight needs to know to find its way."""
        return self._around(_MIDDLE, 0.0)

    def level_temperature(self, at: Position, altitude_ft: float, when: datetime) -> LevelTemperature | None:
        """Return the temperature at a level over a place; ``None`` where nothing tells it."""
        return temperature_over(self._around(at, NEAR_NM), at, altitude_ft, when)

    def forecasts_of(self, station_id: str) -> tuple[Forecast, ...]:
        """Return the forecasts of one station, oldest first."""
        return self.weather.forecasts.get(station_id, ())

    def _around(self, at: Position, radius_nm: float, fields: tuple[Airfield, ...] = ()) -> Situation:
        near, _, _ = self.places.station_points.near(at, radius_nm)
        candidates = [self.places.ordered_stations[i] for i in near]
        return Situation(
            read_at=self.read_at,
            airfields=fields,
            stations=within(at, radius_nm, candidates),
            observations=self.weather.observations,
            earlier=self.weather.earlier,
            forecasts=self.weather.forecasts,
            hearing=self.weather.hearing,
            guidance=self.weather.guidance,
            winds=self.weather.winds,
            wind_sites=self.wind_sites,
            data_as_of=self.weather.data_as_of,
        )


def read_world(conn: Reader, now: datetime, before: World | None = None) -> World:
    """Return what the store knew at `now`, read in the transaction of `conn`.

    The places of `before` are taken over where nothing was imported since.
    """
    version = data_version(conn)
    imported = newest_import(conn)
    known = before is not None and before.places.imported == imported
    places = before.places if before is not None and known else _places(conn, imported)
    heard = {name for name, _ in hearing_as_of(conn, now)}
    refused = stations_refused(conn, since=now - RECENT, until=now)
    weather = weather_as_of(conn, now, sorted({*places.stations, *heard, *refused}))
    return World(
        read_at=now,
        version=version,
        places=places,
        weather=weather,
        wind_sites=wind_sites(places.ordered_stations, weather.winds) if weather.winds else {},
        documents={"aircraft": documents_of(conn, "aircraft"), "minimums": documents_of(conn, "minimums")},
    )


def _places(conn: Reader, imported: int) -> Places:
    fields = all_airfields(conn)
    stations = tuple(sorted(all_stations(conn), key=lambda place: place.id))
    areas = areas_within(conn, _MIDDLE, _ALL_NM)
    codes = airfield_codes_of(conn)
    return Places(
        imported=imported,
        airfields={field.id: field for field in fields},
        ordered=fields,
        airfield_points=_points(fields),
        stations={place.id: place for place in stations},
        ordered_stations=stations,
        station_points=_points(stations),
        codes=codes,
        by_code=_by_code(codes),
        areas=areas,
        area_bounds_deg=bounds_deg(areas),
    )


def _by_code(codes: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    """Return the airfield that each code means: the one that trusts it most; see `airfields_by_code`."""
    uses = [(code, rank, name) for name, own in codes.items() for rank, code in enumerate(own)]
    return {code: name for code, _, name in sorted(uses, reverse=True)}


def _points(places: Sequence[Airfield | Station]) -> Points:
    lat = np.array([place.lat_deg for place in places], dtype=float)
    lon = np.array([place.lon_deg for place in places], dtype=float)
    return Points(lat_deg=lat, lon_deg=lon, unit=_unit(lat, lon).T)


def _unit(lat_deg: Floats | float, lon_deg: Floats | float) -> Floats:
    """Return unit vectors of geodetic positions, shape (3,) or (3, n)."""
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    return np.array([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
