"""Everything known at one instant, read in one transaction: the second half of what decides."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from refuge.airfield import Airfield, Station
from refuge.flight.areas import Area
from refuge.magnetism import MagneticModel
from refuge.weather.guidance import Guidance
from refuge.weather.reports import Forecast, Levels, Observation

OLD_AFTER = timedelta(hours=3)
"""Bulletins older than this say nothing of now: no report is fresh, and forecasts have been renewed since."""


def is_old(as_of: datetime | None, now: datetime) -> bool:
    """Return whether there is no bulletin, or none young enough to answer from."""
    return as_of is None or now - as_of > OLD_AFTER


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing:
    """What the store has ever heard of a station: an input that no missing report changes.

    ``reports`` and ``forecasts`` say which kinds were ever heard; ``ever_ceiling`` and
    ``ever_visibility`` whether a report of it ever gave that element as known, ``guidance`` whether guidance
    for it was heard of late. A station that has
    been heard and is silent now is unknown, never absent.
    """

    reports: bool
    forecasts: bool
    ever_ceiling: bool
    ever_visibility: bool
    guidance: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Guided:
    """The guidance of one station: the newest block of each product, and why others could not be read."""

    blocks: tuple[Guidance, ...]
    unreadable: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """Everything known: airfields, stations, reports, forecasts, winds, as of ``read_at``.

    ``observations`` holds the latest report of each station, ``forecasts`` its forecasts, newest
    issue last, with the predecessor of the newest. ``winds`` are the bulletins that may apply,
    ``wind_sites`` the positions of their sites by the name that the bulletins use. ``received_at``
    gives, by station, when the newest bulletin used was received. ``areas`` are those around: none
    stands for "not loaded", never for "there is none".
    """

    read_at: datetime
    airfields: tuple[Airfield, ...]
    stations: Mapping[str, Station] = field(default_factory=dict)
    observations: Mapping[str, Observation] = field(default_factory=dict)
    earlier: Mapping[str, Observation] = field(default_factory=dict)
    forecasts: Mapping[str, tuple[Forecast, ...]] = field(default_factory=dict)
    guidance: Mapping[str, Guided] = field(default_factory=dict)
    hearing: Mapping[str, Hearing] = field(default_factory=dict)
    winds: tuple[Levels, ...] = ()
    wind_sites: Mapping[str, Station] = field(default_factory=dict)
    areas: tuple[Area, ...] = ()
    data_as_of: datetime | None = None
    magnetism: MagneticModel | None = None
