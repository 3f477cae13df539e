"""Airfields and stations from a TOML file, as the demo's invented country is written."""

from pathlib import Path
from typing import Literal

from refuge.airfield import Airfield, Runway, Station, Surface
from refuge.files.toml import Strict, checked, read_toml


class _Runway(Strict):
    idents: str
    length_ft: int
    surface: Surface
    lighted: bool
    heading_deg_true: float


class _Airfield(Strict):
    name: str
    lat_deg: float
    lon_deg: float
    elevation_ft: float
    station: str | None = None
    lights: Literal["dusk_to_dawn", "radio", "none", "unknown"]
    runway: list[_Runway]


class _Station(Strict):
    name: str
    lat_deg: float
    lon_deg: float
    elevation_ft: float
    reports: bool = True
    forecasts: bool = False
    winds_aloft: str | None = None


class _Places(Strict):
    country: str
    source: str
    airfield: dict[str, _Airfield]
    station: dict[str, _Station]


def load_places(path: Path) -> tuple[tuple[Airfield, ...], tuple[Station, ...]]:
    """Return the airfields and the stations of a places file.

    Raises
    ------
    InputError
        If the file is missing, or an entry of it is not what it should be.
    """
    places = checked(_Places, read_toml(path), where=str(path), remedy="mend these entries")
    airfields = tuple(_airfield(places, key, field) for key, field in places.airfield.items())
    stations = tuple(
        Station(
            id=key,
            name=station.name,
            lat_deg=station.lat_deg,
            lon_deg=station.lon_deg,
            elevation_ft=station.elevation_ft,
            country=places.country,
            reports=station.reports,
            forecasts=station.forecasts,
            faa_id=station.winds_aloft,
        )
        for key, station in places.station.items()
    )
    return airfields, stations


def _airfield(places: _Places, key: str, field: _Airfield) -> Airfield:
    return Airfield(
        id=key,
        name=field.name,
        lat_deg=field.lat_deg,
        lon_deg=field.lon_deg,
        elevation_ft=field.elevation_ft,
        country=places.country,
        station_id=field.station,
        runways=tuple(Runway(surface_text=runway.surface, **runway.model_dump()) for runway in field.runway),
        lights=field.lights,
        source=places.source,
    )
