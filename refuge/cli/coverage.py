"""`refuge coverage`: for how many airfields there is which kind of evidence, and where there is none."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from refuge.cli.options import instant_or_now, now_option, store_option
from refuge.cli.pictures import picture_option, write_picture
from refuge.errors import InputError, MissingDataError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from refuge.airfield import Airfield
    from refuge.render.coverage import Covered

EVERYWHERE = "the world"


@click.command(
    epilog="Example: refuge coverage --store refuge-demo.sqlite --now 2026-03-10T15:00Z --picture coverage.svg"
)
@click.option(
    "--region",
    metavar="R",
    help="A country (US) or a box, west,south,east,north; all if not given.",
)
@click.option("--listed", is_flag=True, help="Count stations as the list of stations has them, not as heard.")
@picture_option("Draw a map of the airfields into FILE (.svg or .png).")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@now_option
@store_option
def coverage(
    *,
    region: str | None,
    listed: bool,
    picture: Path | None,
    as_json: bool,
    now: str | None,
    store: str | None,
) -> None:
    """Count for how many airfields there is which kind of evidence, and show where there is none.

    A report is borrowed within 20 NM, a forecast within 30 NM, both within 1,000 ft of elevation. It counts what
    answers can rest on; whether the weather is good, or a station silent just now, is another question.
    """
    from refuge.render.coverage import coverage_json, coverage_text
    from refuge.render.find_json import json_line

    found = _covered(region, instant_or_now(now), store, listed=listed)
    if picture is not None:
        _draw(picture, found, store)
    click.echo(json_line(coverage_json(found)) if as_json else coverage_text(found), nl=False)


def _covered(region: str | None, now: "datetime", store: str | None, *, listed: bool) -> "Covered":
    from refuge.ask import hearing_at
    from refuge.flight import coverage as flight_coverage
    from refuge.flight.station_weather import FULL_TAF_COUNTRIES
    from refuge.render.coverage import Covered
    from refuge.store.engine import reading
    from refuge.store.opening import existing_store
    from refuge.store.places import all_airfields, all_stations

    with existing_store(store) as engine, reading(engine) as conn:
        fields, stations, heard = all_airfields(conn), all_stations(conn), hearing_at(conn, now)
    if not fields:
        raise MissingDataError("the store has no airfields", remedy="load them with: refuge import airfields")
    hearing = flight_coverage.as_listed(stations) if listed else heard
    chosen = _within(fields, region)
    click.echo(f"note: counting what {len(chosen):,} airfields can rest on", err=True)
    guided = {s.id for s in stations if s.country in FULL_TAF_COUNTRIES - {"CA"} and s.id in hearing
              and hearing[s.id].reports}  # fmt: skip
    if listed:
        said = f"{len(hearing):,}, as the list of stations has them"
    else:
        said = f"{len(hearing):,}, all that this store had heard by then"
    return Covered(
        region=region or EVERYWHERE,
        now=now,
        stations=said,
        heard=flight_coverage.coverage(chosen, stations, hearing),
        assumed=flight_coverage.coverage(chosen, stations, hearing, guided=guided),
    )


def _within(fields: "Sequence[Airfield]", region: str | None) -> "tuple[Airfield, ...]":
    """Return the airfields of a country or a box; a box may cross 180 degrees, west greater than east."""
    if region is None:
        return tuple(fields)
    if "," not in region:
        found = tuple(field for field in fields if field.country == region.strip().upper())
        if not found:
            raise InputError(
                f"no airfield of the store lies in {region!r}", where="--region",
                remedy="give a country by its two letters, such as US, or a box: west,south,east,north",
            )  # fmt: skip
        return found
    west, south, east, north = _box(region)
    return tuple(
        field
        for field in fields
        if south <= field.lat_deg <= north
        and (west <= field.lon_deg <= east if west <= east else field.lon_deg >= west or field.lon_deg <= east)
    )


def _box(text: str) -> tuple[float, float, float, float]:
    try:
        west, south, east, north = (float(part) for part in text.split(","))
    except ValueError as exc:
        raise InputError(
            f"{text!r} is no box", where="--region", remedy="write four numbers: west,south,east,north"
        ) from exc
    if not (-180 <= west <= 180 and -180 <= east <= 180 and -90 <= south <= north <= 90):
        raise InputError(f"{text!r} is no box on earth", where="--region", remedy="write west,south,east,north")
    return west, south, east, north


def _draw(path: Path, found: "Covered", store: str | None) -> None:
    from refuge.gazetteer.coasts import coast_of
    from refuge.render.coverage_picture import coverage_picture
    from refuge.wiring import is_demo_store
    from refuge.zulu import iso

    now, coast = iso(found.now), coast_of(invented=is_demo_store(store, found.heard.airfields))
    write_picture(
        path, lambda kind: coverage_picture(found.heard, region=found.region, now=now, kind=kind, coast=coast)
    )
