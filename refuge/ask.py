"""Load, compute, answer: from a store (or files of bulletins) to a situation, and to a shortlist."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from sqlalchemy import Connection, Engine

from refuge.airfield import Airfield, Station
from refuge.earth import Position, parse_position, track_and_distance
from refuge.errors import InputError, MissingDataError
from refuge.flight.arrival import plan_budget_min
from refuge.flight.question import Question
from refuge.flight.reach import wind_error_kt
from refuge.flight.situation import Hearing, Situation
from refuge.store.engine import reading
from refuge.store.hearing import Heard, hearing_as_of
from refuge.store.opening import opened_store
from refuge.store.places import airfield, airfields_by_id, airfields_within, all_stations, station, stations_within
from refuge.store.reads import (
    forecasts_as_of,
    latest_observations,
    newest_receipt,
    recent_observations,
    refused_reports,
    winds_as_of,
)
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.reports import Forecast, Levels, Observation
from refuge.weather.sky import UnknownCeiling, UnknownVisibility

HORIZON_NM = 150.0
"""Planning looks no farther (method.md 2)."""
LEAST_NM = 30.0
"""Airfields this near are shown even when nothing can be reached: what is lacking is worth seeing."""
STATIONS_BEYOND_NM = 125.0
"""Stations this much farther than the farthest airfield may bear: an area of 60 NM, 30 to borrow a forecast,
and room for the box."""
RECENT = timedelta(hours=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """What reports, forecasts and winds say, as of one instant: from the store, or from files."""

    observations: Mapping[str, Observation]
    earlier: Mapping[str, Observation]
    forecasts: Mapping[str, tuple[Forecast, ...]]
    hearing: Mapping[str, Hearing]
    winds: tuple[Levels, ...]
    data_as_of: datetime | None


def place_of(engine: Engine, text: str) -> Position:
    """Return the position that a text names: itself, or that of the airfield or station of this identifier.

    Raises
    ------
    InputError
        If it is neither.
    """
    if (position := parse_position(text)) is not None:
        return position
    with reading(engine) as conn:
        found = airfield(conn, text.upper()) or station(conn, text.upper())
    if found is None:
        raise InputError(
            f"{text!r} is no position, and no airfield or station of the store",
            where="--at",
            remedy="write 33.9S,151.2E, or load airfields with: refuge import airfields",
        )
    return Position(lat_deg=found.lat_deg, lon_deg=found.lon_deg)


def situation_for(engine: Engine, question: Question, bulletins: Iterable[Bulletin] | None = None) -> Situation:
    """Return everything known that can bear on a question, read in one transaction.

    With `bulletins` the weather is theirs alone; airfields and stations still come from the store.

    Raises
    ------
    MissingDataError
        If the store has no airfield at all.
    """
    with reading(engine) as conn:
        files = None if bulletins is None else weather_of_bulletins(bulletins, question.now)
        winds = winds_as_of(conn, question.now) if files is None else files.winds
        radius_nm = reach_bound_nm(question, winds)
        fields = _airfields(conn, question.at, radius_nm)
        stations = {
            place.id: place
            for place in stations_within(
                conn, question.at.lat_deg, question.at.lon_deg, radius_nm + STATIONS_BEYOND_NM
            )
        }
        weather = files or _weather(conn, question.now, stations, winds)
        sites = _wind_sites(conn, winds)
    return Situation(
        read_at=question.now,
        airfields=fields,
        stations=stations,
        observations=weather.observations,
        earlier=weather.earlier,
        forecasts=weather.forecasts,
        hearing=weather.hearing,
        winds=winds,
        wind_sites=sites,
        data_as_of=weather.data_as_of,
    )


def reach_bound_nm(question: Question, winds: Iterable[Levels]) -> float:
    """Return a radius that holds every place in reach: all the wind and its error behind the aircraft."""
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
    budget = plan_budget_min(question.endurance, question.margin_min) or 0.0
    return float(np.clip(fastest * budget / 60.0, LEAST_NM, HORIZON_NM))


def _airfields(conn: Connection, at: Position, radius_nm: float) -> tuple[Airfield, ...]:
    columns = airfields_within(conn, at.lat_deg, at.lon_deg, radius_nm)
    if not columns.ids and conn.exec_driver_sql("SELECT 1 FROM airfields LIMIT 1").first() is None:
        raise MissingDataError("the store has no airfields", remedy="load them with: refuge import airfields")
    _, distance = track_and_distance(at, columns.lat_deg, columns.lon_deg)
    near = [columns.ids[i] for i in np.flatnonzero(distance <= radius_nm)]
    found = airfields_by_id(conn, near)
    return tuple(found[key] for key in near if key in found)


def _weather(conn: Connection, now: datetime, names: Collection[str], winds: tuple[Levels, ...]) -> Weather:
    observations = dict(latest_observations(conn, now, station_ids=names))
    for name, texts in refused_reports(conn, now, since=now - RECENT, station_ids=names).items():
        # A newer text that nobody could read may hide worse weather: the older report is no longer the latest.
        if any(text.report.kind != "TAF" for text in texts[-1:]) and _hides(
            observations.get(name), texts[-1].received_at
        ):
            del observations[name]
    recent = recent_observations(conn, now, since=now - RECENT, station_ids=names)
    return Weather(
        observations=observations,
        earlier={name: reports[-2] for name, reports in recent.items() if len(reports) > 1},
        forecasts={name: found[::-1] for name, found in forecasts_as_of(conn, now, station_ids=names).items()},
        hearing=_hearing(hearing_as_of(conn, now, station_ids=names).values()),
        winds=winds,
        data_as_of=newest_receipt(conn, now),
    )


def _hidden(observation: Observation | None, received_at: datetime) -> bool:
    """Return whether a text received then may be of a later observation than this one.

    Reports come within half an hour of what they observe; a text that came later than that after the last
    one that could be read is not a second copy of it.
    """
    return observation is not None and received_at > observation.observed_at + timedelta(minutes=30)


def _hearing(heard: Iterable[Heard]) -> dict[str, Hearing]:
    found: dict[str, Hearing] = {}
    for item in heard:
        before = found.get(
            item.station, Hearing(reports=False, forecasts=False, ever_ceiling=False, ever_visibility=False)
        )
        if item.kind is Kind.METAR:
            found[item.station] = replace(
                before, reports=True, ever_ceiling=item.ever_ceiling, ever_visibility=item.ever_visibility
            )
        else:
            found[item.station] = replace(before, forecasts=True)
    return found


def _wind_sites(conn: Connection, winds: Iterable[Levels], stations: Mapping[str, Station]) -> dict[str, Station]:
    """Return the positions of winds-aloft sites, whose three letters are the end of an identifier."""
    names = {site.site for levels in winds for site in levels.sites}
    if not names:
        return {}
    found: dict[str, Station] = {}
    for place in all_stations(conn):
        for name in (place.faa_id, place.id[1:] if len(place.id) == 4 else None):
            if name in names and _speaks_for(place, found.get(name)):
                found[name] = place
    return found


def _speaks_for(place: Station, other: Station | None) -> bool:
    """Return whether `place` is the better owner of a three-letter name: winds are issued for these states."""
    of_area = place.country in {"US", "CA", "PR", "GU", "VI", "AS", "MP"}
    return of_area and (other is None or (place.reports and not other.reports))


def weather_of_bulletins(bulletins: Iterable[Bulletin], now: datetime) -> Weather:
    """Return the weather that these bulletins give, as of `now`: nothing received later is used."""
    from refuge.weather.metar import decode_observation
    from refuge.weather.taf import decode_forecast
    from refuge.weather.winds_aloft import decode_levels

    observations: dict[str, list[Observation]] = {}
    forecasts: dict[str, list[Forecast]] = {}
    winds: list[Levels] = []
    known = sorted((b for b in bulletins if b.received_at <= now), key=lambda b: b.received_at)
    for bulletin in known:
        if bulletin.kind is Kind.METAR:
            report = decode_observation(bulletin.raw, received_at=bulletin.received_at)
            if isinstance(report, Observation):
                observations.setdefault(report.station, []).append(report)
        elif bulletin.kind is Kind.TAF:
            forecast = decode_forecast(bulletin.raw, received_at=bulletin.received_at)
            if isinstance(forecast, Forecast):
                forecasts.setdefault(forecast.station, []).append(forecast)
        else:
            levels = decode_levels(bulletin.raw, received_at=bulletin.received_at)
            if isinstance(levels, Levels):
                winds.append(levels)
    latest = {name: sorted(found, key=_newness) for name, found in observations.items()}
    return Weather(
        observations={name: found[-1] for name, found in latest.items()},
        earlier={name: found[-2] for name, found in latest.items() if len(found) > 1},
        forecasts={name: tuple(found) for name, found in forecasts.items()},
        hearing={
            name: _heard_in(latest.get(name, []), forecasts=name in forecasts) for name in {*latest, *forecasts}
        },
        winds=tuple(levels for levels in winds if levels.use_to > now),
        data_as_of=max((bulletin.received_at for bulletin in known), default=None),
    )


def _newness(observation: Observation) -> tuple[datetime, bool]:
    return observation.observed_at, observation.corrected


def _heard_in(reports: list[Observation], *, forecasts: bool) -> Hearing:
    return Hearing(
        reports=bool(reports),
        forecasts=forecasts,
        ever_ceiling=any(not isinstance(report.adverse.ceiling, UnknownCeiling) for report in reports),
        ever_visibility=any(not isinstance(report.adverse.visibility, UnknownVisibility) for report in reports),
    )


def forecasts_of(store: str | None, station_id: str, now: datetime) -> tuple[Forecast, ...]:
    """Return the forecasts of one station that the store knew at `now`, oldest first."""
    with opened_store(store) as engine, reading(engine) as conn:
        return forecasts_as_of(conn, now, station_ids=[station_id]).get(station_id, ())[::-1]
