"""Airfields and stations from a TOML file, as the demo's invented country is written."""

from datetime import time
from pathlib import Path
from typing import Literal

from refuge.airfield import EVERY_DAY, Airfield, Hours, LightDetail, LightKind, Runway, Station, Surface, Tower
from refuge.files.toml import Strict, checked, read_toml


class _Runway(Strict):
    idents: str
    length_ft: int
    surface: Surface
    lighted: bool
    heading_deg_true: float


class _Tower(Strict):
    """Open every day between these local times."""

    opens: time
    closes: time


class _Airfield(Strict):
    name: str
    lat_deg: float
    lon_deg: float
    elevation_ft: float
    station: str | None = None
    lights: LightKind
    lights_until: time | None = None
    lights_then: Literal["radio", "none", "unknown"] = "unknown"
    tower: _Tower | None = None
    time_zone: str | None = None
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
        lights_detail=LightDetail(until_local=field.lights_until, after=field.lights_then, source=places.source),
        tower=None if field.tower is None else _tower(field.tower, places.source),
        time_zone=field.time_zone,
        source=places.source,
    )


def _tower(tower: _Tower, source: str) -> Tower:
    opens, closes = (60 * at.hour + at.minute for at in (tower.opens, tower.closes))
    hours = Hours(days=EVERY_DAY, opens_min=opens, closes_min=closes)
    return Tower(text=f"{tower.opens:%H%M}-{tower.closes:%H%M}", hours=(hours,), source=source)
