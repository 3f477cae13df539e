"""OurAirports' tables (public domain) to airfields.

What the source can and cannot say:

- ``private``: nothing reliable (13 fields mention it among their keywords), so always ``None``.
- ``lights``: a runway row says ``lighted`` 1 or 0 and never leaves it blank. A 1 does not say whether
  the lights need a radio: ``unknown``. A 0 is either "no" or "never filled in": outside the United
  States, 22 to 28 % of the medium and large airfields with scheduled service in Africa, Asia and South
  America would have no lights at all. In the United States, of the rows with 0 that the FAA's runway file
  (2024-12-26) has too, 94 % have no lights there. So ``none`` is said only in the United States, where
  every open runway has a 0; all else is ``unknown``.
  A runway's own 0 is taken for "no lights" there only, too.
- Displaced thresholds are not taken off the length.
"""

from dataclasses import replace

import numpy as np
import pandas as pd

from refuge.airfield import Airfield, Runway
from refuge.gazetteer.columns import known, numbers
from refuge.gazetteer.gazette import HIGHEST_FT, LOWEST_FT, Gazette
from refuge.gazetteer.report import ImportReport, Tally
from refuge.gazetteer.runways import runways_by_airport
from refuge.gazetteer.table_files import Tables

SOURCE = "OurAirports"
ADDRESS = "https://davidmegginson.github.io/ourairports-data/"
"""Where the tables are published, made anew every day."""
FILES = ("airports.csv", "runways.csv", "countries.csv")

OPEN = ("small_airport", "medium_airport", "large_airport")
LEFT_OUT = {
    "closed": "closed airfield",
    "heliport": "heliport",
    "seaplane_base": "seaplane base",
    "balloonport": "balloonport",
}


def read_ourairports(tables: Tables, tally: Tally) -> Gazette:
    """Return the open land airfields of the tables, with their runways and codes.

    `tally` brings what was found while the files were read; the report holds it too.
    """
    raw = tables.airports
    airports = _placed(_land(raw, tally), tally)
    runways = None
    if tables.runways is not None:
        wanted = airports.set_index("id")["ident"]
        gone = set(raw["id"][raw["type"].str.strip() == "closed"])
        runways = runways_by_airport(tables.runways, wanted, gone, tally)
    _check_countries(airports, tables.countries, tally)
    airfields, codes = _airfields(airports, runways, tally)
    read = [("airports", len(raw))]
    read += [] if tables.runways is None else [("runways", len(tables.runways))]
    return Gazette(
        airfields=airfields,
        codes=codes,
        report=ImportReport(
            source=SOURCE,
            read=tuple(read),
            kept=(("airfields", len(airfields)), ("runways", sum(len(a.runways or ()) for a in airfields))),
            findings=tally.findings(),
        ),
    )


def _land(airports: pd.DataFrame, tally: Tally) -> pd.DataFrame:
    kind = airports["type"].str.strip()
    for left_out, words in LEFT_OUT.items():
        tally.add("dropped", words, airports["ident"][kind == left_out])
    other = ~kind.isin([*OPEN, *LEFT_OUT])
    tally.add("dropped", "a kind of place that is not known here", airports["ident"][other] + ": " + kind[other])
    airports = airports[kind.isin(OPEN)].apply(lambda column: column.str.strip())
    bare = (airports["ident"] == "") | (airports["id"] == "")
    tally.add("dropped", "airfield without identifier", airports["name"][bare])
    twin = ~bare & (airports.duplicated("id") | airports.duplicated("ident"))
    tally.add("merged", "second row with an identifier that came before: the first kept", airports["ident"][twin])
    return airports[~bare & ~twin]


def _placed(airports: pd.DataFrame, tally: Tally) -> pd.DataFrame:
    lat = pd.to_numeric(airports["latitude_deg"], errors="coerce").to_numpy(dtype=float)
    lon = pd.to_numeric(airports["longitude_deg"], errors="coerce").to_numpy(dtype=float)
    with np.errstate(invalid="ignore"):
        placed = (np.abs(lat) <= 90.0) & (np.abs(lon) <= 180.0)
    nowhere = placed & (lat == 0.0) & (lon == 0.0)
    tally.add("dropped", "position is no place on earth", airports["ident"][~placed])
    tally.add("dropped", "position 0, 0: not filled in", airports["ident"][nowhere])
    kept: pd.DataFrame = airports.assign(lat=lat, lon=lon).loc[placed & ~nowhere]
    return kept


def _check_countries(airports: pd.DataFrame, countries: pd.DataFrame | None, tally: Tally) -> None:
    if countries is not None:
        strange = ~airports["iso_country"].isin(countries["code"].str.strip())
        tally.add("noted", "country code that the table of countries has not", airports["ident"][strange])


def _airfields(
    airports: pd.DataFrame, runways: dict[str, tuple[Runway, ...]] | None, tally: Tally
) -> tuple[tuple[Airfield, ...], dict[str, tuple[str, ...]]]:
    idents = airports["ident"]
    elevation = numbers(
        airports["elevation_ft"], LOWEST_FT, HIGHEST_FT, what="airfield elevation", names=idents, tally=tally
    )
    tally.add("noted", "airfield without elevation: kept, elevation unknown", idents[np.isnan(elevation)])
    if runways is None:
        tally.add("noted", "no table of runways was given: runways unknown", idents)
    else:
        tally.add(
            "noted", "airfield without runway rows: runways unknown", idents[~airports["id"].isin(runways.keys())]
        )
    _note_shared_local_codes(airports, tally)
    ids = _ids(airports, tally)
    columns = ("id", "name", "lat", "lon", "iso_country", "icao_code", "gps_code", "ident", "local_code")
    airfields, codes = [], {}
    for id_, height, row in zip(ids, elevation, zip(*(airports[c] for c in columns), strict=True), strict=True):
        number, name, lat, lon, country, icao, gps, ident, local = row
        strips = None if runways is None else runways.get(number)
        if country != "US" and strips is not None:
            strips = tuple(map(_perhaps_lit, strips))
        airfields.append(
            Airfield(
                id=id_,
                name=name,
                lat_deg=float(lat),
                lon_deg=float(lon),
                elevation_ft=known(height),
                country=country,
                runways=strips,
                lights="none" if country == "US" and _all_dark(strips) else "unknown",
                source=SOURCE,
            )
        )
        us_style = f"K{local}" if local and country == "US" else ""
        codes[id_] = tuple(dict.fromkeys(code for code in (icao, gps, ident, us_style) if code))
    return tuple(airfields), codes


def _perhaps_lit(runway: Runway) -> Runway:
    return replace(runway, lighted=None) if runway.lighted is False else runway


def _all_dark(runways: tuple[Runway, ...] | None) -> bool:
    usable = [runway for runway in runways or () if not runway.closed]
    return bool(usable) and all(runway.lighted is False for runway in usable)


def _ids(airports: pd.DataFrame, tally: Tally) -> list[str]:
    """Return an identifier for each airfield: its ICAO code, else its GPS code, else the source's own.

    The source's own identifier never changes and so may be an old code, even one that another field
    holds by now. Whoever asks for a code means the field that holds it: the other is renamed after
    its number. A GPS code that is K and the source's own is left: charts print it without the K.
    """
    icao, gps, own = (airports[column] for column in ("icao_code", "gps_code", "ident"))
    gps = gps.where((gps != "K" + own) & ~gps.isin(set(icao)), "")
    held = icao.where(icao != "", gps)
    held = held.where(~held.duplicated(), "")
    ids = held.where(held != "", own)
    number = "OA" + airports["id"]
    taken = (held == "") & (ids.isin(set(held) - {""}) | ids.duplicated(keep=False))
    ids = ids.where(~taken, number)
    tally.add(
        "changed",
        "the source's identifier is another field's code by now: renamed after its number",
        [f"{old} now {new}" for old, new in zip(own[taken], ids[taken], strict=True)],
    )
    return [str(id_) for id_ in ids]


def _note_shared_local_codes(airports: pd.DataFrame, tally: Tally) -> None:
    local = airports["local_code"][airports["local_code"] != ""]
    shared = local[local.duplicated(keep=False)]
    tally.add(
        "noted", "local code that several airfields use: no code is trusted without the distance", shared.unique()
    )
