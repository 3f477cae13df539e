"""Load, compute, answer: from a store (or files of bulletins) to a situation, and to a shortlist."""

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from refuge.airfield import Airfield, Station
from refuge.earth import Position, parse_position, track_and_distance
from refuge.errors import InputError, MissingDataError, similar
from refuge.files.coefficients import magnetic_model
from refuge.flight.arrival import plan_budget_min
from refuge.flight.question import Question
from refuge.flight.reach import HORIZON_NM, wind_error_kt
from refuge.flight.situation import Guided, Hearing, Situation
from refuge.flight.station_weather import FULL_TAF_COUNTRIES, NEVER_HEARD
from refuge.flight.wind_fields import LevelTemperature, temperature_over
from refuge.store.areas import areas_within
from refuge.store.engine import Reader, reading
from refuge.store.guidance import guidance_as_of, guided_stations
from refuge.store.hearing import Heard, hearing_as_of
from refuge.store.opening import existing_store
from refuge.store.places import (
    airfield,
    airfields_by_id,
    airfields_within,
    all_stations,
    has_airfields,
    place_ids,
    station,
    stations_within,
)
from refuge.store.reads import (
    RefusedReport,
    forecasts_as_of,
    latest_observations,
    newest_receipt,
    recent_observations,
    refused_reports,
    winds_as_of,
)
from refuge.weather.bulletin import Kind
from refuge.weather.expected import as_missing
from refuge.weather.reports import Forecast, Levels, Observation
from refuge.zulu import resolve_ddhhmm

LEAST_NM = 30.0
"""Airfields this near are shown even when nothing can be reached: what is lacking is worth seeing."""
STATIONS_BEYOND_NM = 125.0
"""Stations this much farther than the farthest airfield may bear: an area of 60 NM, 30 to borrow a forecast,
and room for the box."""
NEAR_NM = 60.0
"""Reports this near tell how cold it can be aloft."""
RECENT = timedelta(hours=3)
_STAMP = re.compile(r"\b(\d{2})(\d{2})(\d{2})Z\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """What reports, forecasts and winds say, as of one instant: from the store, or from files."""

    observations: Mapping[str, Observation]
    earlier: Mapping[str, Observation]
    forecasts: Mapping[str, tuple[Forecast, ...]]
    hearing: Mapping[str, Hearing]
    guidance: Mapping[str, Guided]
    winds: tuple[Levels, ...]
    data_as_of: datetime | None


def place_of(conn: Reader, text: str) -> Position:
    """Return the position that a text names: itself, or that of the airfield or station of this identifier.

    Raises
    ------
    InputError
        If it is neither.
    """
    return position_named(text, lambda name: airfield(conn, name) or station(conn, name), lambda: place_ids(conn))


def position_named(
    text: str, find: Callable[[str], Airfield | Station | None], names: Callable[[], Iterable[str]]
) -> Position:
    """Return the position that a text names, where `find` knows airfields and stations by identifier.

    `names` gives all that it knows, for who mistypes one.

    Raises
    ------
    InputError
        If it is no position, and no identifier that is known.
    """
    if (position := parse_position(text)) is not None:
        return position
    found = find(text.upper())
    if found is None:
        raise InputError(
            f"{text!r} is no position, and no airfield or station of the store{similar(text, names())}",
            remedy="write 33.9S,151.2E, or load airfields with: refuge import airfields",
        )
    return Position(lat_deg=found.lat_deg, lon_deg=found.lon_deg)


def situation_for(conn: Reader, question: Question, files: Weather | None = None) -> Situation:
    """Return everything known that can bear on a question.

    With `files` the weather is theirs alone; airfields and stations still come from the store.

    Raises
    ------
    MissingDataError
        If the store has no airfield at all.
    """
    winds = winds_as_of(conn, question.now) if files is None else files.winds
    radius_nm = reach_bound_nm(question, winds)
    fields = _airfields(conn, question.at, radius_nm)
    known = _around(conn, question.at, radius_nm + STATIONS_BEYOND_NM, now=question.now, files=files, fields=fields)
    return replace(known, areas=areas_within(conn, question.at, radius_nm), magnetism=magnetic_model())


def _around(
    conn: Reader,
    at: Position,
    radius_nm: float,
    *,
    now: datetime,
    files: Weather | None,
    fields: tuple[Airfield, ...] = (),
) -> Situation:
    """Return stations within a radius, and what they and the winds aloft say."""
    boxed = sorted(stations_within(conn, at.lat_deg, at.lon_deg, radius_nm), key=lambda place: place.id)
    stations = within(at, radius_nm, boxed)
    weather = files or weather_as_of(conn, now, stations)
    return Situation(
        read_at=now,
        airfields=fields,
        stations=stations,
        observations=weather.observations,
        earlier=weather.earlier,
        forecasts=weather.forecasts,
        hearing=weather.hearing,
        guidance=weather.guidance,
        winds=weather.winds,
        wind_sites=wind_sites(all_stations(conn), weather.winds) if weather.winds else {},
        data_as_of=weather.data_as_of,
    )


def within(at: Position, radius_nm: float, places: Sequence[Station]) -> dict[str, Station]:
    """Return those of `places` that lie within the radius, by identifier, in their order."""
    _, distance = track_and_distance(at, [place.lat_deg for place in places], [place.lon_deg for place in places])
    return {place.id: place for place, nm in zip(places, distance, strict=True) if nm <= radius_nm}


def level_temperature(
    conn: Reader,
    at: Position,
    altitude_ft: float,
    when: datetime,
    *,
    now: datetime,
    files: Weather | None = None,
) -> LevelTemperature | None:
    """Return the temperature at a level over a place from what is known; ``None`` where nothing tells it."""
    return temperature_over(_around(conn, at, NEAR_NM, now=now, files=files), at, altitude_ft, when)


def reach_bound_nm(question: Question, winds: Iterable[Levels]) -> float:
    """Return a radius that holds every place in reach, as if dry too: all the wind and its error behind."""
    if question.wind is not None:
        strongest = question.wind.speed_kt
    else:
        near = [
            level.speed_kt
            for levels in winds
            for site in levels.sites
            for level in site.levels
            if abs(level.altitude_ft - question.altitude_ft) <= 6000
        ]
        strongest = float(max(near, default=0))
    fastest = question.aircraft.cruise_tas_kt + strongest + float(wind_error_kt(strongest))
    lasts = question.endurance.dry or question.endurance
    budget = plan_budget_min(lasts, question.margin_min) or 0.0
    return float(np.clip(fastest * budget / 60.0, LEAST_NM, HORIZON_NM))


def _airfields(conn: Reader, at: Position, radius_nm: float) -> tuple[Airfield, ...]:
    columns = airfields_within(conn, at.lat_deg, at.lon_deg, radius_nm)
    if not columns.ids and not has_airfields(conn):
        raise MissingDataError("the store has no airfields", remedy="load them with: refuge import airfields")
    _, distance = track_and_distance(at, columns.lat_deg, columns.lon_deg)
    # In the order of identifiers, so that what ranks alike comes alike from every database.
    near = sorted(columns.ids[i] for i in np.flatnonzero(distance <= radius_nm))
    found = airfields_by_id(conn, near)
    return tuple(found[key] for key in near if key in found)


def weather_as_of(conn: Reader, now: datetime, names: Collection[str]) -> Weather:
    """Return the weather of these stations, and the winds aloft, as the store knew it at `now`."""
    refused = refused_reports(conn, now, since=now - RECENT, station_ids=names)
    recent = recent_observations(conn, now, since=now - RECENT, station_ids=names)
    forecasts = forecasts_as_of(conn, now, station_ids=names)
    return Weather(
        observations=_unhidden(latest_observations(conn, now, station_ids=names), refused),
        earlier={name: reports[-2] for name, reports in recent.items() if len(reports) > 1},
        forecasts={
            name: with_missing(forecasts.get(name, ())[::-1], refused.get(name, ()))
            for name in {*forecasts, *refused}
        },
        hearing=hearing_at(conn, now, names),
        guidance=guidance_at(conn, now, names),
        winds=winds_as_of(conn, now),
        data_as_of=newest_receipt(conn, now),
    )


def _unhidden(
    observations: Mapping[str, Observation], refused: Mapping[str, Sequence[RefusedReport]]
) -> dict[str, Observation]:
    """Return the reports that no later text hides: one that nobody could read may be of worse weather."""
    return {
        name: observation
        for name, observation in observations.items()
        if not any(_is_later(text, observation) for text in refused.get(name, ()))
    }


def _is_later(text: RefusedReport, observation: Observation) -> bool:
    if text.report.kind == "TAF":
        return False
    stamp = _STAMP.search(text.report.raw)
    when = resolve_ddhhmm(*map(int, stamp.groups()), near=text.received_at) if stamp else None
    return when is None or when > observation.observed_at


def with_missing(forecasts: Sequence[Forecast], refused: Iterable[RefusedReport]) -> tuple[Forecast, ...]:
    """Return forecasts with each text that could not be read as a forecast of which nothing is known."""
    missing = (as_missing(text.report, received_at=text.received_at) for text in refused)
    return (*forecasts, *(forecast for forecast in missing if forecast is not None))


def hearing_at(conn: Reader, now: datetime, names: Collection[str] | None = None) -> dict[str, Hearing]:
    """Return what the store had ever heard of these stations, or of all, by `now`; guidance within a day."""
    found = _hearing(hearing_as_of(conn, now, station_ids=names).values())
    for name in guided_stations(conn, now, names):
        found[name] = replace(found.get(name, NEVER_HEARD), guidance=True)
    return found


def guidance_at(conn: Reader, now: datetime, names: Collection[str]) -> dict[str, Guided]:
    """Return the newest guidance of these stations, as the store knew it at `now`."""
    return {
        name: Guided(blocks=one.blocks, unreadable=one.unreadable)
        for name, one in guidance_as_of(conn, now, names).items()
    }


def _hearing(heard: Iterable[Heard]) -> dict[str, Hearing]:
    found: dict[str, Hearing] = {}
    for item in heard:
        before = found.get(item.station, NEVER_HEARD)
        if item.kind is Kind.METAR:
            found[item.station] = replace(
                before, reports=True, ever_ceiling=item.ever_ceiling, ever_visibility=item.ever_visibility
            )
        else:
            found[item.station] = replace(before, forecasts=True)
    return found


def wind_sites(stations: Iterable[Station], winds: Iterable[Levels]) -> dict[str, Station]:
    """Return the positions of winds-aloft sites, whose three letters are the end of an identifier."""
    names = {site.site for levels in winds for site in levels.sites}
    found: dict[str, Station] = {}
    for place in stations:
        # Winds are issued for the United States and Canada: K, P or C and the three letters, or the short name.
        short = place.id[1:] if place.country in FULL_TAF_COUNTRIES else None
        for name in {place.faa_id, short} - {None}:
            if name in names and (name not in found or (place.reports and not found[name].reports)):
                found[name] = place
    return found


def forecasts_of(store: str | None, station_id: str, now: datetime) -> tuple[Forecast, ...]:
    """Return the forecasts of one station that the store knew at `now`, oldest first."""
    with existing_store(store) as engine, reading(engine) as conn:
        return forecasts_in(conn, station_id, now)


def forecast_stations(store: str | None, now: datetime) -> list[str]:
    """Return the stations of which the store had ever had a forecast by `now`."""
    with existing_store(store) as engine, reading(engine) as conn:
        return [name for name, kind in hearing_as_of(conn, now) if kind is Kind.TAF]


def forecasts_in(conn: Reader, station_id: str, now: datetime) -> tuple[Forecast, ...]:
    """Return the forecasts of one station that an open store knew at `now`, oldest first."""
    known = forecasts_as_of(conn, now, station_ids=[station_id]).get(station_id, ())[::-1]
    refused = refused_reports(conn, now, since=now - RECENT, station_ids=[station_id])
    return with_missing(known, refused.get(station_id, ()))
