"""Small flights for tests: along the equator or anywhere, past airfields with weather of their own."""

from collections.abc import Sequence
from dataclasses import replace

from refuge.aircraft.endurance import Endurance
from refuge.earth import Position
from refuge.flight.question import Wind
from refuge.flight.situation import Situation
from refuge.flight.track import Block, RouteQuestion, Waypoint
from refuge.weather.conditions import Conditions
from tests.core.flight import situations as s

START = Position(lat_deg=0.0, lon_deg=-100.0)
"""On the equator, so that east stays east, and noon at `situations.NOW`."""
GOOD = s.conditions(s.SKC, s.P6SM)


def east(nm: float, start: Position = START) -> Position:
    return s.at(90.0, nm, start)


def flight(
    *points: Position,
    information_min: float | None = 40.0,
    recognition_min: float = 0.0,
    margin_min: float = 15.0,
    tas_kt: float = 110.0,
    wind: Wind | None = s.STILL,
    lasts: Endurance | None = None,
    departs_in_min: float = 0.0,
    since_failure_min: float | None = None,
) -> RouteQuestion:
    """Return a flight at its lowest safe height: break-out comes with the arrival overhead."""
    endurance = lasts or s.endurance(information_min, recognition_min=recognition_min)
    question = s.question(
        where=points[0], lasts=endurance, wind=wind, margin_min=margin_min, altitude_ft=2500.0,
        fails_in_min=departs_in_min - (since_failure_min or 0.0),
        aircraft=replace(s.AIRCRAFT, cruise_tas_kt=tas_kt),
    )  # fmt: skip
    return RouteQuestion(
        question=question,
        waypoints=tuple(Waypoint(place=f"P{i}", at=at) for i, at in enumerate(points)),
        blocks=(Block(from_min=0, endurance=endurance),),
        since_failure_min=since_failure_min,
    )


def good_fields(places: Sequence[Position], said: Conditions = GOOD, *, forecast_to_h: float = 24.0) -> Situation:
    """Return airfields at these places, each with a station that reports and forecasts the same."""
    names = [f"X{i:02d}" for i in range(len(places))]
    return s.situation(
        [s.airfield(f"F{i:02d}", at, station=name) for i, (name, at) in enumerate(zip(names, places, strict=True))],
        [s.station(name, at) for name, at in zip(names, places, strict=True)],
        reports=[s.report(name, said) for name in names],
        forecasts=[s.forecast(name, said, to_h=forecast_to_h) for name in names],
    )
