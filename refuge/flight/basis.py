"""Everything that is worked out before the checks: winds, stations, arrival and weather of n airfields."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from refuge.airfield import Airfield
from refuge.flight.airspace import Airspace, airspace
from refuge.flight.arrival import Arrival, arrive
from refuge.flight.bearing import FieldArrays
from refuge.flight.checks import PRESSURE_ALLOWANCE_FT
from refuge.flight.compass import Compass, Variation, compass_of, variation_at
from refuge.flight.minimums import FLOOR, Limits
from refuge.flight.question import Question
from refuge.flight.reach import Reach
from refuge.flight.runways import Winds, winds_at
from refuge.flight.situation import Situation
from refuge.flight.starts import Starts, one_start, turn_at
from refuge.flight.state_arrays import Floats
from refuge.flight.station_weather import Network, network_of
from refuge.flight.weigh import Links, Weighed, forecast_links, weigh
from refuge.flight.wind_fields import WindFields


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """What a question comes to at n airfields, before any verdict.

    ``starts`` says where and when the aircraft turns to each; ``winds`` are those of the first start.
    """

    question: Question
    situation: Situation
    airfields: Sequence[Airfield]
    starts: Starts
    winds: WindFields
    network: Network
    fields: FieldArrays
    arrival: Arrival
    weighed: Weighed
    surface_winds: Winds
    airspace: Airspace
    compass: Compass


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """What several bases of one situation have in common: the stations, and whose forecasts speak for each."""

    network: Network
    links: Links


def shared_of(situation: Situation, now: datetime) -> Shared:
    """Return what is worked out once for many questions asked at the same time."""
    network = network_of(situation, now)
    return Shared(network=network, links=forecast_links(network.arrays))


def basis_of(question: Question, situation: Situation) -> Basis:
    """Return everything that the checks rest on, for all airfields of `situation` in one pass."""
    airfields = situation.airfields
    return basis_from(question, situation, airfields, one_start(question, situation, len(airfields)))


def basis_from(
    question: Question,
    situation: Situation,
    airfields: Sequence[Airfield],
    starts: Starts,
    shared: Shared | None = None,
    *,
    way: Reach | None = None,
) -> Basis:
    """Return the same for rows that each have a start and an airfield of their own; one airfield may have many.

    `way` is that of each row, worked out here if not given.
    """
    lat = np.array([a.lat_deg for a in airfields], dtype=float)
    lon = np.array([a.lon_deg for a in airfields], dtype=float)
    ground = np.array([0.0 if a.elevation_ft is None else a.elevation_ft for a in airfields], dtype=float)
    arrival = arrive(question, starts, lat, lon, ground, way=way)
    last = datetime.fromtimestamp(float(arrival.end_s.max()), tz=UTC) if lat.size else question.now
    network = network_of(situation, question.now, last) if shared is None else shared.network
    fields = _fields(question, airfields, arrival, network)
    lowest, links = question.lowest_safe_ft_amsl, None if shared is None else shared.links
    least_base = None if lowest is None else lowest + PRESSURE_ALLOWANCE_FT
    weighed = weigh(fields, network, arrival, question.now.timestamp(), least_base, links=links)
    return Basis(
        question=question,
        situation=situation,
        airfields=airfields,
        starts=starts,
        winds=starts.winds[0],
        network=network,
        fields=fields,
        arrival=arrival,
        weighed=weighed,
        surface_winds=winds_at(network, weighed, arrival),
        airspace=airspace(starts.points, airfields, situation.areas),
        compass=_compass(question, situation),
    )


def _fields(question: Question, airfields: Sequence[Airfield], arrival: Arrival, network: Network) -> FieldArrays:
    required_ft, required_sm = _required(question, arrival)
    return FieldArrays(
        lat_deg=np.array([a.lat_deg for a in airfields], dtype=float),
        lon_deg=np.array([a.lon_deg for a in airfields], dtype=float),
        elevation_ft=np.array([0.0 if a.elevation_ft is None else a.elevation_ft for a in airfields], dtype=float),
        height_known=np.array([a.elevation_ft is not None for a in airfields], dtype=bool),
        station=np.array([network.index.get(a.station_id or "", -1) for a in airfields], dtype=np.int64),
        required_ft=required_ft,
        required_sm=required_sm,
        night=arrival.night,
        error_radius_nm=arrival.error_radius_nm,
    )


def _compass(question: Question, situation: Situation) -> Compass:
    """Return the compass as it reads where the aircraft turns, and when."""
    model = situation.magnetism
    if model is None:
        variation = Variation(deg_e=None, said="no magnetic model is loaded")
    else:
        variation = variation_at(model, question.at, question.altitude_ft, turn_at(question))
    return compass_of(variation, question.aircraft.compass_card)


def _required(question: Question, arrival: Arrival) -> tuple[Floats, Floats]:
    """Return the ceilings and visibilities asked for at each field, by day or by night."""
    day, night = question.minimums.day, night_limits(question)
    return (
        np.where(arrival.night, night.ceiling_ft, day.ceiling_ft).astype(float),
        np.where(arrival.night, night.visibility_sm, day.visibility_sm).astype(float),
    )


def night_limits(question: Question) -> Limits:
    """Return the limits by night; where night is not planned, the floor's (the light check misses there)."""
    night = question.minimums.night if question.minimums.night != "not planned" else FLOOR.night
    return question.minimums.day if night == "not planned" else night
