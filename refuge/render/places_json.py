"""Airfields and stations as JSON and as GeoJSON: what the programs that poll are given of them."""

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from refuge.airfield import Station
from refuge.flight.caution import CAUTION
from refuge.flight.evidence import STALE_AFTER_MIN
from refuge.flight.situation import Hearing
from refuge.weather.record import forecast_record, observation_record
from refuge.weather.reports import Forecast, Observation
from refuge.zulu import iso

Json = dict[str, Any]


def airfields_json(fields: Iterable[Json], *, left_out: int) -> Json:
    """Return airfields, each as `refuge.render.airfield` gives it and more; ``left_out`` counts the rest."""
    return {"airfields": list(fields), "left_out": left_out}


def station_json(
    station: Station,
    *,
    hearing: Hearing,
    observation: Observation | None,
    fresh: bool,
    forecasts: Iterable[Forecast],
) -> Json:
    """Return a station and what it says: the latest report, and its forecasts, the last issued last.

    ``fresh`` is false where the report is missing, stale or of the future. Instants, not ages: a
    report turns stale at ``stale_at``.
    """
    stale_at = None if observation is None else observation.observed_at + timedelta(minutes=STALE_AFTER_MIN)
    return {
        "id": station.id,
        "name": station.name,
        "lat": station.lat_deg,
        "lon": station.lon_deg,
        "elevation_ft": station.elevation_ft,
        "country": station.country,
        "reports": station.reports,
        "forecasts_listed": station.forecasts,
        "heard": {
            "reports": hearing.reports,
            "forecasts": hearing.forecasts,
            "ever_ceiling": hearing.ever_ceiling,
            "ever_visibility": hearing.ever_visibility,
        },
        "report": None if observation is None else observation_record(observation),
        "fresh": fresh,
        "stale_at": None if stale_at is None else iso(stale_at),
        "forecasts": [forecast_record(forecast) for forecast in forecasts],
        "caution": CAUTION,
    }


def feature(place: Json) -> Json:
    """Return a place as a GeoJSON Feature (RFC 7946): its point, and the rest as properties."""
    return {
        "type": "Feature",
        "id": place["id"],
        "geometry": {"type": "Point", "coordinates": [place["lon"], place["lat"]]},
        "properties": place,
    }


def features(body: Json, key: str) -> Json:
    """Return a body as a GeoJSON FeatureCollection of the places that it holds under `key`."""
    rest = {name: value for name, value in body.items() if name != key}
    return {"type": "FeatureCollection", "features": [feature(place) for place in body[key]]} | rest
