"""Decoded values as the text that a column holds, and back."""

import json

from refuge.weather.record import (
    forecast_from_record,
    forecast_record,
    levels_from_record,
    levels_record,
    observation_from_record,
    observation_record,
)
from refuge.weather.reports import Forecast, Levels, Observation


def observation_text(value: Observation) -> str:
    """Return the observation as one line of JSON."""
    return _text(observation_record(value))


def forecast_text(value: Forecast) -> str:
    """Return the forecast as one line of JSON."""
    return _text(forecast_record(value))


def levels_text(value: Levels) -> str:
    """Return the winds aloft as one line of JSON."""
    return _text(levels_record(value))


def observation_from_text(text: str) -> Observation:
    """Return the observation that `observation_text` wrote."""
    return observation_from_record(json.loads(text))


def forecast_from_text(text: str) -> Forecast:
    """Return the forecast that `forecast_text` wrote."""
    return forecast_from_record(json.loads(text))


def levels_from_text(text: str) -> Levels:
    """Return the winds aloft that `levels_text` wrote."""
    return levels_from_record(json.loads(text))


def _text(record: object) -> str:
    # A NaN would come back as a number that compares false with every minimum.
    return json.dumps(record, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
