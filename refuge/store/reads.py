"""Reports, forecasts and winds as of an instant: nothing received later is used.

All take a connection inside one transaction (`refuge.store.engine.reading`), so that one answer
rests on one state of the store.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

from sqlalchemy import ColumnElement, Connection, case, select, true

from refuge.store.bulk import in_parts
from refuge.store.records import forecast_from_text, levels_from_text, observation_from_text
from refuge.store.schema import bulletins, forecasts, hearing, latest, levels, observations, refused
from refuge.weather.bulletin import Kind
from refuge.weather.reports import Forecast, Levels, Observation, Unreadable

AHEAD_OBSERVED = timedelta(minutes=15)
"""A report may be stamped this much later than `now` (routine reports are made up to ten minutes before
the hour they carry; from memory). One stamped later is misdated, and would look fresh for ever: not used."""
AHEAD_ISSUED = timedelta(hours=1)
"""The same for the time of issue of a forecast, which is often the round hour ahead (from memory)."""
_OF_STATIONS = (Kind.METAR, Kind.TAF)
"""Guidance that could not be read hides neither report nor forecast: see `refuge.store.guidance`."""
_ISSUED_WITHIN = timedelta(hours=60)
"""No forecast is valid longer after its issue (TAF: 30 hours; WMO-No. 306, FM 51)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedReport:
    """A text that could not be read, when it came: newer than the last report, it may hide worse weather."""

    report: Unreadable
    received_at: datetime


def latest_observations(
    conn: Connection, now: datetime, *, station_ids: Collection[str] | None = None
) -> dict[str, Observation]:
    """Return for each station its newest report by time of observation, as of `now`.

    Of several for one time the latest correction counts, else the last received. Without
    `station_ids`, all stations that this store ever heard.
    """
    found = latest_records(conn, now, station_ids=station_ids)
    return {station: observation_from_text(found[station]) for station in sorted(found)}


def latest_records(
    conn: Connection, now: datetime, *, station_ids: Collection[str] | None = None
) -> dict[str, str]:
    """Return what `latest_observations` does, as the store keeps it."""
    usable = (latest.c.received_at <= now) & (latest.c.stamped_at <= now + AHEAD_OBSERVED)
    rows = conn.execute(
        select(latest.c.station, case((usable, latest.c.record), else_=None)).where(
            latest.c.kind == Kind.METAR, _among(latest.c.station, station_ids)
        )
    )
    found: dict[str, str] = {}
    others = []
    for station, record in rows:
        if record is None:
            others.append(station)
        else:
            found[station] = record
    return found | _newest_records(conn, now, others)


def _newest_records(conn: Connection, now: datetime, stations: Collection[str]) -> dict[str, str]:
    """Return the newest reports of stations among all rows: those stations of which a later one is there."""
    found: dict[str, str] = {}
    for some in in_parts(stations):
        other = observations.alias("other")
        newest = (
            select(other.c.bulletin_id)
            .where(
                other.c.station == hearing.c.station,
                other.c.observed_at <= now + AHEAD_OBSERVED,
                other.c.received_at <= now,
            )
            .order_by(
                other.c.observed_at.desc(),
                other.c.correction.desc(),
                other.c.received_at.desc(),
                other.c.bulletin_id.desc(),
            )
            .limit(1)
            .correlate(hearing)
            .scalar_subquery()
        )
        statement = (
            select(observations.c.station, observations.c.record)
            .select_from(hearing)
            .join(observations, observations.c.bulletin_id == newest)
            .where(hearing.c.kind == Kind.METAR, hearing.c.station.in_(some))
        )
        found |= {row.station: row.record for row in conn.execute(statement)}
    return found


def recent_observations(
    conn: Connection, now: datetime, *, since: datetime, station_ids: Collection[str] | None = None
) -> dict[str, tuple[Observation, ...]]:
    """Return for each station its reports observed at `since` or later, as of `now`, oldest first.

    One for each time of observation: the latest correction, else the last received.
    """
    statement = (
        select(observations.c.station, observations.c.observed_at, observations.c.record)
        .where(
            observations.c.observed_at >= since,
            observations.c.observed_at <= now + AHEAD_OBSERVED,
            observations.c.received_at <= now,
            _among(observations.c.station, station_ids),
        )
        .order_by(
            observations.c.station,
            observations.c.observed_at,
            observations.c.correction.desc(),
            observations.c.received_at.desc(),
            observations.c.bulletin_id.desc(),
        )
    )
    found: dict[str, list[Observation]] = {}
    rows = conn.execute(statement)
    for (station, _), same in groupby(rows, key=lambda row: (row.station, row.observed_at)):
        found.setdefault(station, []).append(observation_from_text(next(same).record))
    return {station: tuple(reports) for station, reports in found.items()}


def forecasts_as_of(
    conn: Connection, now: datetime, *, station_ids: Collection[str] | None = None
) -> dict[str, tuple[Forecast, ...]]:
    """Return for each station its forecasts that may bear on `now` or later, newest first, as of `now`.

    The newest issued always, then its predecessors up to the first whose validity began by `now`:
    what was issued before that one is superseded for good. Of several issued at one time for one
    period, the latest correction, else the last received. Cancelled and nil ones are among them:
    they speak, and what they say is "no forecast".
    """
    rows = conn.execute(
        select(latest).where(latest.c.kind == Kind.TAF, _among(latest.c.station, station_ids))
    ).all()
    found: dict[str, tuple[str, ...]] = {}
    others = []
    for row in rows:
        # None was issued later than this one: too old, and there is none; begun, and no other counts.
        if row.stamped_at < now - _ISSUED_WITHIN:
            continue
        begun = row.valid_from is not None and row.valid_from <= now
        if begun and row.received_at <= now and row.stamped_at <= now + AHEAD_ISSUED:
            found[row.station] = (row.record,)
        else:
            others.append(row.station)
    found |= _forecast_records(conn, now, others)
    return {station: tuple(map(forecast_from_text, found[station])) for station in sorted(found)}


def _forecast_records(conn: Connection, now: datetime, stations: Collection[str]) -> dict[str, tuple[str, ...]]:
    """Return the forecasts of stations among all rows: where a later one is there, or has not begun."""
    found: dict[str, tuple[str, ...]] = {}
    for some in in_parts(stations):
        statement = (
            select(forecasts)
            .where(
                forecasts.c.issued_at >= now - _ISSUED_WITHIN,
                forecasts.c.issued_at <= now + AHEAD_ISSUED,
                forecasts.c.received_at <= now,
                forecasts.c.station.in_(some),
            )
            .order_by(
                forecasts.c.station,
                forecasts.c.issued_at.desc(),
                forecasts.c.correction.desc(),
                forecasts.c.received_at.desc(),
                forecasts.c.bulletin_id.desc(),
            )
        )
        for station, same in groupby(conn.execute(statement), key=lambda row: row.station):
            found[station] = tuple(row.record for row in _bearing(same, now))
    return found


def _bearing(rows: Iterable[Any], now: datetime) -> Iterator[Any]:
    seen = set()
    for row in rows:
        period = (row.issued_at, row.valid_from, row.valid_to)
        if period in seen:
            continue
        seen.add(period)
        yield row
        if row.valid_from is not None and row.valid_from <= now:
            return


def winds_as_of(conn: Connection, now: datetime) -> tuple[Levels, ...]:
    """Return the winds-aloft bulletins still in use at `now` or later, newest basis first, as of `now`."""
    rows = conn.scalars(
        select(levels.c.record)
        .where(levels.c.use_to > now, levels.c.received_at <= now, levels.c.based_on <= now)
        .order_by(levels.c.based_on.desc(), levels.c.valid_at, levels.c.received_at.desc(), levels.c.bulletin_id)
    )
    return tuple(levels_from_text(record) for record in rows)


def refused_reports(
    conn: Connection, now: datetime, *, since: datetime, station_ids: Collection[str]
) -> dict[str, tuple[RefusedReport, ...]]:
    """Return for each station the texts received from `since` to `now` that could not be read, oldest first."""
    statement = (
        select(refused)
        .where(
            refused.c.received_at >= since,
            refused.c.received_at <= now,
            refused.c.kind.in_(_OF_STATIONS),
            refused.c.station.in_(list(station_ids)),
        )
        .order_by(refused.c.station, refused.c.received_at, refused.c.id)
    )
    found: dict[str, list[RefusedReport]] = {}
    for row in conn.execute(statement):
        report = Unreadable(
            raw=row.raw, kind="TAF" if row.kind == Kind.TAF else "METAR", station=row.station, error=row.error
        )
        found.setdefault(row.station, []).append(RefusedReport(report=report, received_at=row.received_at))
    return {station: tuple(texts) for station, texts in found.items()}


def stations_refused(conn: Connection, *, since: datetime, until: datetime) -> set[str]:
    """Return the stations of texts received in this time that could not be read."""
    found = conn.scalars(
        select(refused.c.station)
        .where(
            refused.c.received_at >= since,
            refused.c.received_at <= until,
            refused.c.kind.in_(_OF_STATIONS),
            refused.c.station.is_not(None),
        )
        .distinct()
    )
    return set(found)


def newest_receipt(conn: Connection, now: datetime) -> datetime | None:
    """Return when the last bulletin up to `now` was received: the age of the data; ``None`` if there is none.

    Guidance does not count: what comes every hour anyway must not make old reports look fresh.
    """
    newest: datetime | None = conn.scalar(
        select(bulletins.c.received_at)
        .where(bulletins.c.received_at <= now, bulletins.c.kind != Kind.GUIDANCE)
        .order_by(bulletins.c.received_at.desc())
        .limit(1)
    )
    return newest


def _among(column: ColumnElement[Any], names: Collection[str] | None) -> ColumnElement[bool]:
    return true() if names is None else column.in_(list(names))
