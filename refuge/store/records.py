"""Decoded values as the text that a column holds, and back."""

import json
from datetime import datetime
from functools import lru_cache

from refuge.weather.guidance_head import GuidanceHead
from refuge.weather.record import (
    forecast_from_record,
    forecast_record,
    observation_from_record,
    observation_record,
)
from refuge.weather.record_guidance import head_record
from refuge.weather.record_levels import levels_from_record, levels_record
from refuge.weather.reports import Forecast, Levels, Observation


def record_text(value: Observation | Forecast | Levels | GuidanceHead) -> str:
    """Return a decoded value as one line of JSON."""
    if isinstance(value, GuidanceHead):
        return _head_text(value.version, value.based_on, value.times)
    return _text(_record(value))


@lru_cache(maxsize=64)  # thousands of blocks of one run share them
def _head_text(version: str | None, based_on: datetime, times: tuple[datetime, ...]) -> str:
    return _text(head_record(version, based_on, times))


def _text(record: object) -> str:
    # A NaN would come back as a number that compares false with every minimum.
    return json.dumps(record, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _record(value: Observation | Forecast | Levels) -> object:
    match value:
        case Observation():
            return observation_record(value)
        case Forecast():
            return forecast_record(value)
        case Levels():
            return levels_record(value)


def observation_from_text(text: str) -> Observation:
    """Return the observation that `record_text` wrote."""
    return observation_from_record(json.loads(text))


def forecast_from_text(text: str) -> Forecast:
    """Return the forecast that `record_text` wrote."""
    return forecast_from_record(json.loads(text))


def levels_from_text(text: str) -> Levels:
    """Return the winds aloft that `record_text` wrote."""
    return levels_from_record(json.loads(text))
