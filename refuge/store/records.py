"""Decoded values as the text that a column holds, and back."""

import json

from refuge.weather.guidance import Guidance
from refuge.weather.record import (
    forecast_from_record,
    forecast_record,
    observation_from_record,
    observation_record,
)
from refuge.weather.record_guidance import guidance_from_record, guidance_record
from refuge.weather.record_levels import levels_from_record, levels_record
from refuge.weather.reports import Forecast, Levels, Observation


def record_text(value: Observation | Forecast | Levels | Guidance) -> str:
    """Return a decoded value as one line of JSON."""
    # A NaN would come back as a number that compares false with every minimum.
    return json.dumps(_record(value), separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _record(value: Observation | Forecast | Levels | Guidance) -> object:
    match value:
        case Observation():
            return observation_record(value)
        case Forecast():
            return forecast_record(value)
        case Levels():
            return levels_record(value)
        case Guidance():
            return guidance_record(value)


def observation_from_text(text: str) -> Observation:
    """Return the observation that `record_text` wrote."""
    return observation_from_record(json.loads(text))


def forecast_from_text(text: str) -> Forecast:
    """Return the forecast that `record_text` wrote."""
    return forecast_from_record(json.loads(text))


def levels_from_text(text: str) -> Levels:
    """Return the winds aloft that `record_text` wrote."""
    return levels_from_record(json.loads(text))


def guidance_from_text(text: str, *, raw: str) -> Guidance:
    """Return the block of guidance that `record_text` wrote, with its raw text, which is kept elsewhere."""
    return guidance_from_record(json.loads(text), raw=raw)
