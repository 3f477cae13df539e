"""The local time of airfields: IANA names from the package `airportsdata` (MIT), by code and position."""

from collections.abc import Mapping

import numpy as np

from refuge.airfield import Airfield
from refuge.earth import distances_nm

WITHIN_NM = 3.0
"""Farther from the field than this, a row of the same code is not the field's."""


def time_zone_rows() -> dict[str, tuple[float, float, str]]:
    """Return latitude, longitude and time zone by code: ICAO's, and the local ones of the United States."""
    import airportsdata  # noqa: PLC0415 - a large table, read only when asked for

    found: dict[str, tuple[float, float, str]] = {}
    for kind in ("LID", "ICAO"):
        for code, row in airportsdata.load(kind).items():
            if row["tz"]:
                found[code] = float(row["lat"]), float(row["lon"]), row["tz"]
    return found


def time_zone_of(
    airfield: Airfield, codes: tuple[str, ...], rows: Mapping[str, tuple[float, float, str]]
) -> str | None:
    """Return the time zone of an airfield; ``None`` where no row of one of its codes lies at the field."""
    for code in codes:
        if (row := rows.get(code)) is not None:
            away = distances_nm(
                np.array(airfield.lat_deg), np.array(airfield.lon_deg), np.array(row[0]), np.array(row[1])
            )
            if float(away) <= WITHIN_NM:
                return row[2]
    return None
