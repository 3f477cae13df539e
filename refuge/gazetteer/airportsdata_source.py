"""The package `airportsdata` (MIT) as the source of airfields where there is no network.

It has neither runways nor a mark for what is closed, and some of its elevations are wrong by
thousands of feet. So runways are unknown, an elevation of 0 is taken as unknown (it stands for
"not filled in"), and closed fields cannot be told. What its name says is no land airfield is left
out.
"""

import math
import re
from collections.abc import Mapping
from importlib.metadata import version

from refuge.airfield import Airfield
from refuge.gazetteer.gazette import HIGHEST_FT, LOWEST_FT, Gazette
from refuge.gazetteer.report import ImportReport, Tally

_NO_WHEELS = re.compile(
    r"\b(?:heli(?:port|pad|stop)|seaplane|sea ?plane|water aerodrome|float ?plane base|balloonport)\b",
    re.IGNORECASE,
)


def load_airportsdata() -> Gazette:
    """Return the airfields of the installed package."""
    import airportsdata  # noqa: PLC0415 - a large table, read only when asked for

    return read_airportsdata(airportsdata.load("ICAO"), source=f"airportsdata {version('airportsdata')}")


def read_airportsdata(rows: Mapping[str, Mapping[str, object]], *, source: str) -> Gazette:
    """Return the airfields among rows with icao, name, country, elevation (ft), lat, lon and lid."""
    tally = Tally()
    airfields: list[Airfield] = []
    codes: dict[str, tuple[str, ...]] = {}
    for id_, row in rows.items():
        airfield = _airfield(id_, row, source, tally)
        if airfield is None:
            continue
        airfields.append(airfield)
        local = str(row.get("lid") or "")
        us_style = f"K{local}" if local and airfield.country == "US" else ""
        codes[id_] = tuple(dict.fromkeys(code for code in (id_, us_style) if code))
    ids = [airfield.id for airfield in airfields]
    tally.add("noted", "the source has no runways: runways unknown", ids)
    tally.add("noted", "the source does not tell which airfields are closed", ids)
    report = ImportReport(
        source=source,
        read=(("airports", len(rows)),),
        kept=(("airfields", len(airfields)),),
        findings=tally.findings(),
    )
    return Gazette(airfields=tuple(airfields), codes=codes, report=report)


def _airfield(id_: str, row: Mapping[str, object], source: str, tally: Tally) -> Airfield | None:
    name = str(row.get("name") or "")
    if _NO_WHEELS.search(name):
        tally.add("dropped", "heliport, seaplane base or balloonport by its name", [id_])
        return None
    lat, lon = _number(row.get("lat")), _number(row.get("lon"))
    if not (abs(lat) <= 90.0 and abs(lon) <= 180.0):
        tally.add("dropped", "position is no place on earth", [id_])
        return None
    if lat == 0.0 and lon == 0.0:
        tally.add("dropped", "position 0, 0: not filled in", [id_])
        return None
    return Airfield(
        id=id_,
        name=name,
        lat_deg=lat,
        lon_deg=lon,
        elevation_ft=_elevation_ft(row.get("elevation"), id_, tally),
        country=str(row.get("country") or ""),
        source=source,
    )


def _elevation_ft(value: object, id_: str, tally: Tally) -> float | None:
    elevation_ft = _number(value)
    if elevation_ft == 0.0:
        tally.add("changed", "elevation 0, which may stand for not filled in: taken as unknown", [id_])
        return None
    if not LOWEST_FT <= elevation_ft <= HIGHEST_FT:
        tally.add("changed", "elevation is no height of land: taken as unknown", [f"{id_}: {value}"])
        return None
    return elevation_ft


def _number(value: object) -> float:
    """Return a float; NaN, which no comparison lets through, for what is no number."""
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else math.nan
