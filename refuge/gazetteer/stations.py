"""NOAA's list of stations to `Station` values."""

import json
import math

from refuge.airfield import Station
from refuge.errors import InputError
from refuge.gazetteer.gazette import HIGHEST_FT, LOWEST_FT
from refuge.gazetteer.packed import plain
from refuge.gazetteer.report import ImportReport, Tally
from refuge.units import ft_from_m

SOURCE = "NOAA Aviation Weather Center, list of stations"
NO_ELEVATION = 9999
"""Stands for "not known" in the source."""


def read_stations(data: bytes, *, where: str) -> tuple[tuple[Station, ...], ImportReport]:
    """Return the stations of ``stations.cache.json`` (gzip or plain) and what became of the rest.

    Kept is what has a position and either reports or has a forecast (``siteType`` METAR or TAF) or
    at least an ICAO identifier: some of these are heard all the same (35 of the 4,684 stations of a
    world cycle), and a bad report of theirs must not go unplaced. An elevation is in metres there,
    most of the time; `refuge.gazetteer.join` finds those in feet.

    Raises
    ------
    InputError
        If `data` is no such list, or nothing of it can be kept.
    """
    try:
        rows = json.loads(plain(data, where=where))
    except ValueError as exc:
        raise InputError(f"not JSON: {exc}", where=where, remedy="give stations.cache.json or .json.gz") from exc
    if not isinstance(rows, list) or not rows:
        raise InputError("not a list of stations", where=where, remedy="give stations.cache.json or .json.gz")
    tally = Tally()
    kept: dict[str, Station] = {}
    for row in rows:
        station = _station(row, tally)
        if station is None:
            continue
        if station.id in kept:
            tally.add("merged", "second station of one identifier: the first kept", [station.id])
        kept.setdefault(station.id, station)
    if not kept:
        raise InputError("no station was left of the list", where=where, remedy="give stations.cache.json, whole")
    report = ImportReport(
        source=SOURCE,
        read=(("stations", len(rows)),),
        kept=(
            ("stations", len(kept)),
            ("stations that report", sum(s.reports for s in kept.values())),
            ("stations that have forecasts", sum(s.forecasts for s in kept.values())),
        ),
        findings=tally.findings(),
    )
    return tuple(kept.values()), report


def _station(row: object, tally: Tally) -> Station | None:
    if not isinstance(row, dict):
        tally.add("dropped", "entry that is no station", [str(row)[:20]])
        return None
    id_ = str(row.get("icaoId") or row.get("id") or "").strip().upper()
    lat, lon = _finite(row.get("lat")), _finite(row.get("lon"))
    # In this list -99.99 stands for "not known", in latitude and longitude alike.
    placed = lat is not None and lon is not None and abs(lat) <= 90.0 and abs(lon) <= 180.0
    if not id_:
        tally.add("dropped", "station without identifier", [row.get("site")])
        return None
    if lat is None or lon is None or not placed:
        tally.add("dropped", "station without position", [id_])
        return None
    if lat == 0.0 and lon == 0.0:
        tally.add("dropped", "station at position 0, 0: not filled in", [id_])
        return None
    kinds = row.get("siteType")
    kinds = kinds if isinstance(kinds, list) else []
    if "METAR" not in kinds and "TAF" not in kinds:
        if not row.get("icaoId"):
            tally.add("dropped", "place without METAR, TAF and ICAO identifier (buoys and the like)", [id_])
            return None
        tally.add("noted", "station with ICAO identifier, listed without METAR and TAF: kept", [id_])
    return Station(
        id=id_,
        name=str(row.get("site") or ""),
        lat_deg=lat,
        lon_deg=lon,
        elevation_ft=_elevation_ft(row.get("elev"), id_, tally),
        country=str(row.get("country") or ""),
        reports="METAR" in kinds,
        forecasts="TAF" in kinds,
        faa_id=str(row.get("faaId") or "") or None,
    )


def _elevation_ft(value: object, id_: str, tally: Tally) -> float | None:
    elev_m = _finite(value)
    if elev_m is None or elev_m == NO_ELEVATION:
        tally.add("noted", "station without elevation: kept, elevation unknown", [id_])
        return None
    elevation_ft = ft_from_m(elev_m)
    # Up to the highest land: those that are in feet are found when airfields are joined.
    if not LOWEST_FT <= elevation_ft <= HIGHEST_FT / 0.3048:
        tally.add("changed", "station elevation is no height of land: taken as unknown", [f"{id_}: {value}"])
        return None
    return elevation_ft


def _finite(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)
