"""``refuge import``: airfields and stations into the store, with a report of what was left out."""

import json
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from refuge.airfield import Station
from refuge.cli.import_areas import areas
from refuge.errors import FeedError, InputError
from refuge.zulu import iso, parse_instant

if TYPE_CHECKING:
    from refuge.gazetteer.gazette import Gazette
    from refuge.gazetteer.report import ImportReport

STATIONS_ADDRESS = "https://aviationweather.gov/data/cache/stations.cache.json.gz"
_store = click.option("--store", envvar="REFUGE_STORE", metavar="URL", help="Where the store is (or REFUGE_STORE).")
_now = click.option("--now", metavar="T", help="Time of the import, UTC, for replays; else the clock's.")
_as_json = click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")


@click.group("import", epilog="Example: refuge import airfields")
def import_group() -> None:
    """Load airfields, stations and areas into the store.

    An import replaces what an earlier one brought. What is left out, merged or changed is reported
    with its reason. Airfields are joined to stations by code and distance at every import.
    """


@import_group.command(
    epilog="Example: refuge import airfields airports.csv runways.csv --stations stations.cache.json.gz"
)
@click.argument("files", nargs=-1, type=click.Path(exists=True, path_type=Path))
@click.option(
    "--from",
    "origin",
    type=click.Choice(["ourairports", "airportsdata", "nasr"]),
    default="ourairports",
    show_default=True,
    help="OurAirports' tables; the installed package airportsdata (no network, no runways); the FAA's tables.",
)
@click.option(
    "--address", metavar="URL", help="Where OurAirports' tables are, if not the usual place; the FAA's zip."
)
@click.option(
    "--stations",
    "stations_file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="List of stations (stations.cache.json or .gz) to load and join as well.",
)
@_store
@_now
@_as_json
def airfields(
    *,
    files: tuple[Path, ...],
    origin: str,
    address: str | None,
    stations_file: Path | None,
    store: str | None,
    now: str | None,
    as_json: bool,
) -> None:
    """Load airfields: from FILES or folders, else fetched from OurAirports.

    FILES are OurAirports' tables of airports, runways and countries, known by their first line;
    without the table of runways, runways are unknown. With --from nasr they are the FAA's tables of airports,
    runways, runway ends, remarks, towers and airspace (CSV or zip): they are laid over the airfields of the
    store by identifier and position, and tell lights, hours, towers and private use. Load OurAirports first.
    """
    from refuge.store.opening import opened_store

    imported_at = _instant(now)
    if origin == "airportsdata" and (files or address):
        raise click.UsageError("airportsdata is read from the installed package: give neither FILES nor --address")
    gazette = _gazette(origin, files, address, store)
    if not gazette.airfields:
        raise InputError("no airfield was left to import", where=gazette.report.source, remedy="give whole tables")
    reports = [gazette.report]
    listed = _stations_from(stations_file.read_bytes(), where=str(stations_file)) if stations_file else None
    reports += [listed[1]] if listed else []
    with opened_store(store) as engine:
        if listed:
            _refresh_stations(engine, *listed, imported_at)
        reports.append(_join_stored(engine, gazette, imported_at))
    _show(reports, imported_at, as_json=as_json)


@import_group.command(epilog="Example: refuge import stations stations.cache.json.gz")
@click.argument("file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--address", metavar="URL", default=STATIONS_ADDRESS, show_default=True, help="Where the list is fetched."
)
@_store
@_now
@_as_json
def stations(*, file: Path | None, address: str, store: str | None, now: str | None, as_json: bool) -> None:
    """Load stations: from FILE (stations.cache.json or .gz), else fetched from NOAA.

    The airfields of the store are joined to them anew, by the identifiers that the store keeps.
    """
    from refuge.store.opening import opened_store

    imported_at = _instant(now)
    where = str(file) if file else address
    places, report = _stations_from(file.read_bytes() if file else _fetch(address), where=where)
    with opened_store(store) as engine:
        _refresh_stations(engine, places, report, imported_at)
        joined = _join_stored(engine, None, imported_at)
    _show([report, joined], imported_at, as_json=as_json)


def _instant(now: str | None) -> datetime:
    return parse_instant(now) if now else datetime.now(UTC)


def _gazette(origin: str, files: Sequence[Path], address: str | None, store: str | None) -> "Gazette":
    if origin == "airportsdata":
        return _airportsdata()
    return _nasr(files, address, store) if origin == "nasr" else _ourairports(files, address)


def _nasr(paths: Sequence[Path], address: str | None, store: str | None) -> "Gazette":
    """Return the airfields of the store with the FAA's tables laid over them."""
    from refuge.gazetteer.gazette import Gazette
    from refuge.gazetteer.nasr import sites_of
    from refuge.gazetteer.nasr_files import read_nasr_tables
    from refuge.gazetteer.overlay import overlay
    from refuge.gazetteer.report import Tally
    from refuge.gazetteer.time_zones import time_zone_rows
    from refuge.joining import stored_airfields
    from refuge.store.opening import opened_store

    if not paths and address is None:
        raise click.UsageError("give the FAA's tables as FILES, or the address of their zip with --address")
    inside = [file for path in paths for file in (sorted(path.glob("*.csv*")) if path.is_dir() else [path])]
    found = [(str(file), file.read_bytes()) for file in inside]
    found += [] if address is None else [(address, _fetch(address))]
    tally = Tally()
    sites = sites_of(read_nasr_tables(found, tally), tally)
    with opened_store(store) as engine:
        fields, codes = stored_airfields(engine)
    laid = overlay(fields, codes, sites, time_zone_rows(), tally)
    return Gazette(airfields=laid.airfields, codes=laid.codes, report=laid.report)


def _airportsdata() -> "Gazette":
    from refuge.gazetteer.airportsdata_source import load_airportsdata

    return load_airportsdata()


def _ourairports(paths: Sequence[Path], address: str | None) -> "Gazette":
    from refuge.gazetteer.ourairports import ADDRESS, FILES, read_ourairports
    from refuge.gazetteer.report import Tally
    from refuge.gazetteer.table_files import read_tables

    if paths:
        found = [named for path in paths for named in _files_at(path)]
    else:
        base = (address or ADDRESS).rstrip("/")
        found = [(name, _fetch(f"{base}/{name}")) for name in FILES]
    tally = Tally()
    return read_ourairports(read_tables(found, tally), tally)


def _files_at(path: Path) -> list[tuple[str, bytes]]:
    """Return the file, or of a folder those files that are tables of airfields."""
    from refuge.gazetteer.table_files import table_kind

    if not path.is_dir():
        return [(str(path), path.read_bytes())]
    inside = [(str(file), file.read_bytes()) for file in sorted(path.glob("*.csv*")) if file.is_file()]
    tables = [(name, data) for name, data in inside if table_kind(data, where=name) is not None]
    for name in sorted({name for name, _ in inside} - {name for name, _ in tables}):
        click.echo(f"not read, no table of airports, runways or countries: {name}", err=True)
    return tables


def _fetch(address: str) -> bytes:
    from refuge.feeds.http import get

    click.echo(f"fetching {address}", err=True)
    content = get(address).content
    if content is None:
        raise FeedError("answered without content", where=address, remedy="try again later, or give files")
    return content


def _stations_from(data: bytes, *, where: str) -> tuple[tuple[Station, ...], "ImportReport"]:
    from refuge.gazetteer.stations import read_stations

    return read_stations(data, where=where)


def _refresh_stations(
    engine: Any, places: Sequence[Station], report: "ImportReport", imported_at: datetime
) -> None:
    from refuge.store.places import refresh_stations

    refresh_stations(engine, places, source=report.source, imported_at=imported_at, counts=dict(report.read))


def _join_stored(engine: Any, gazette: "Gazette | None", imported_at: datetime) -> "ImportReport":
    """Join airfields (those of the store for ``None``) and stations, and say if there are none of either."""
    from refuge.joining import join_stored
    from refuge.store.engine import reading
    from refuge.store.places import is_source

    with reading(engine) as conn:
        had_faa = is_source(conn, "FAA ")
    report = join_stored(engine, gazette, imported_at=imported_at)
    with reading(engine) as conn:
        if had_faa and not is_source(conn, "FAA "):
            click.echo("what the FAA's tables said is gone: refuge import airfields --from nasr", err=True)
    read = dict(report.read)
    if not read["stations"]:
        click.echo("there are no stations in the store, so no airfield has one: refuge import stations", err=True)
    if not read["airfields"]:
        click.echo("there are no airfields in the store yet: refuge import airfields", err=True)
    return report


def _show(reports: Sequence["ImportReport"], imported_at: datetime, *, as_json: bool) -> None:
    if as_json:
        body = {"imported_at": iso(imported_at), "reports": [report.as_json() for report in reports]}
        click.echo(json.dumps(body, ensure_ascii=False, indent=2))
        return
    for report in reports:
        click.echo("\n".join(report.lines()) + "\n")


import_group.add_command(areas)
