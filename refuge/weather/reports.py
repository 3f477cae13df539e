"""Decoded reports and forecasts: the values that every layer above works with."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from refuge.weather.conditions import Conditions
from refuge.weather.sky import Ceiling, Layer, Visibility
from refuge.weather.wind import Wind

GroupKind = Literal["BASE", "FM", "BECMG", "TEMPO", "PROB", "INTER"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One group of a forecast or of a report's trend; ``None`` is "not mentioned".

    ``kind`` is PROB for a bare PROB30/PROB40; ``PROB30 TEMPO`` is TEMPO with ``probability`` 30.
    The period is half-open, ``start <= t < end``, aware UTC. FM and BASE end where the next FM
    starts, or with the forecast. ``weather`` is ``()`` for NSW, ``None`` when not mentioned.
    ``layers`` is the restated cloud set, empty for SKC, NSC, CAVOK or when not mentioned.
    ``unread`` tokens make ceiling and visibility of the group unknown where it is used.
    """

    kind: GroupKind
    start: datetime
    end: datetime
    probability: int | None = None
    ceiling: Ceiling | None = None
    visibility: Visibility | None = None
    wind: Wind | None = None
    weather: tuple[str, ...] | None = None
    layers: tuple[Layer, ...] = ()
    unread: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Dispute:
    """Where the second opinion differs from ours: both readings, in words, by element."""

    element: Literal["ceiling", "visibility", "wind"]
    ours: str
    theirs: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One METAR or SPECI, decoded.

    ``body`` is what the body of the report says; ``adverse`` is what a decision must use: after
    remarks, sector and variable values, unread tokens and the second opinion. ``trend`` holds the
    landing forecast (BECMG, TEMPO) of the report; ``nosig`` that none is expected for two hours.
    """

    raw: str
    kind: Literal["METAR", "SPECI"]
    station: str
    observed_at: datetime
    auto: bool = False
    corrected: bool = False
    nil: bool = False
    body: Conditions
    adverse: Conditions
    temperature_c: float | None = None
    dew_point_c: float | None = None
    pressure_hpa: float | None = None
    remarks: str | None = None
    nosig: bool = False
    trend: tuple[Group, ...] = ()
    unread: tuple[str, ...] = ()
    disputed: tuple[Dispute, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """One TAF, decoded.

    A ``nil`` or ``cancelled`` forecast has no groups and says nothing about its validity period.
    ``valid_from`` and ``valid_to`` are ``None`` only where the text gives none (``TAF K... NIL``).
    """

    raw: str
    station: str
    issued_at: datetime
    valid_from: datetime | None
    valid_to: datetime | None
    amended: bool = False
    corrected: bool = False
    cancelled: bool = False
    nil: bool = False
    not_scheduled: bool = False
    groups: tuple[Group, ...] = ()
    remarks: str | None = None
    unread: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreadable:
    """A text that could not be read as a report at all: kept, shown, and never used."""

    raw: str
    kind: Literal["METAR", "SPECI", "TAF"] | None
    station: str | None
    error: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """Wind and temperature at one level over one place.

    ``altitude_ft`` is the bulletin's level: true altitude up to 12,000 ft, pressure altitude from
    18,000. ``dir_deg_true`` is ``None`` for light and variable (9900). ``at_least`` marks 199 kt
    or more. ``temperature_c`` is ``None`` where the level gives none.
    """

    altitude_ft: int
    dir_deg_true: int | None
    speed_kt: int
    at_least: bool = False
    temperature_c: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelsAt:
    """The levels of one winds-aloft site, lowest first; blank columns are left out."""

    site: str
    levels: tuple[Level, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """One winds and temperatures aloft bulletin, decoded.

    All times aware UTC; ``use_from <= t < use_to`` is the period FOR USE. ``unread`` are lines
    that could not be read; they lose nothing of their neighbours.
    """

    raw: str
    product: str
    based_on: datetime
    valid_at: datetime
    use_from: datetime
    use_to: datetime
    sites: tuple[LevelsAt, ...]
    unread: tuple[str, ...] = ()
