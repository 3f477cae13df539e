"""The parts of a power network, as data: sources, buses, loads, and how the load is shed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

Function = Literal[
    "attitude",
    "airspeed",
    "altitude",
    "heading",
    "navigation",
    "radio",
    "transponder",
    "pitot_heat",
    "panel_light",
    "landing_light",
    "flaps",
    "gear",
    "engine",
    "fuel_feed",
]
FUNCTIONS: tuple[Function, ...] = (
    "attitude",
    "airspeed",
    "altitude",
    "heading",
    "navigation",
    "radio",
    "transponder",
    "pitot_heat",
    "panel_light",
    "landing_light",
    "flaps",
    "gear",
    "engine",
    "fuel_feed",
)
"""Every function a load may give, in the order in which they are shown."""
UNPOWERED: frozenset[Function] = frozenset({"airspeed", "altitude", "heading", "flaps", "gear"})
"""What can work without any supply: static-pitot instruments, a compass, hand-worked flaps and gear."""
NEEDED_THROUGHOUT: frozenset[Function] = frozenset(
    {"attitude", "airspeed", "altitude", "pitot_heat", "panel_light", "engine", "fuel_feed"}
)
"""What information or the engine can hang on: never something that is only for the landing."""

SourceKind = Literal["alternator", "battery", "own_battery", "portable", "engine_drive"]
"""``own_battery`` is inside an instrument; ``portable`` is carried aboard; ``engine_drive`` is a pump."""
STORED: frozenset[SourceKind] = frozenset({"battery", "own_battery", "portable"})
Chemistry = Literal["lead-acid", "lithium", "other"]
TakeOver = Literal["isolated", "by hand", "tied"]
"""How a feeder takes over from those before it: by itself once they are dead (``isolated``); by a switch, so not
before the failure is recognised (``by hand``); or never apart from the battery before it (``tied``)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One number from a document: its value, under what conditions it holds, and where it stands."""

    value: float
    basis: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Duration:
    """A published duration, and what it counts from.

    ``counts_from`` ``failure``: recognition and shedding are inside the minutes; ``shed``: they begin
    when the load has been shed, and hold if that was done by ``shed_by_min`` after the failure.
    ``unshed_ratio`` is the unshed load divided by the shed load: what each later minute costs.
    ``None`` is "not stated".
    """

    minutes: float
    counts_from: Literal["failure", "shed"]
    basis: str
    source: str
    shed_by_min: float | None = None
    unshed_ratio: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacityCheck:
    """The last measured capacity of a battery, in per cent of its rating, and the day of it."""

    percent: float
    on: date
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacity:
    """A rated capacity at an hour rate, and how it falls with the current.

    ``peukert`` is the exponent of t = 60 H (C / (I H))^k; ``None`` is "not stated".
    """

    ah: float
    rate_h: float
    basis: str
    source: str
    peukert: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Warming:
    """How a battery's box warms in flight: from the temperature it stood in, so much an hour, up to a limit."""

    c_per_h: float
    up_to_c: float
    basis: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One source of power.

    A stored source (battery, own battery, portable) carries its published ``duration`` or a
    ``capacity``; the others run with the engine, and an alternator may say its ``rated_a``. What is
    ``None`` is not stated, and then nothing is credited for it. ``ready`` is for what must be armed or
    charged before each flight. ``charge`` is the state of charge at the failure.
    """

    id: str
    kind: SourceKind
    duration: Duration | None = None
    capacity: Capacity | None = None
    chemistry: Chemistry | None = None
    in_service: date | None = None
    check: CapacityCheck | None = None
    ready: bool | None = None
    charge: Figure | None = None
    warming: Warming | None = None
    rated_a: Figure | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bus:
    """One bus, and the sources or buses that feed it, in the order in which they take over.

    ``takes_over`` says how each does; a feeder that is not in it is isolated, and takes over by itself.
    """

    id: str
    fed_by: tuple[str, ...]
    takes_over: Mapping[str, TakeOver] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One piece of equipment, what feeds it in order of take-over, and what it gives.

    An empty ``fed_by`` is "needs no supply". ``amps`` is what it draws at bus voltage while it is on, for the share
    ``duty`` of the time. ``own_light`` says that it can be read at night
    without panel light; ``primary_display`` that the failure `display` takes it away; ``shed`` that
    it is switched off when the load is shed; ``landing`` that it draws only in the landing phase.
    """

    id: str
    fed_by: tuple[str, ...]
    gives: tuple[Function, ...]
    own_light: bool = False
    primary_display: bool = False
    shed: bool = False
    landing: bool = False
    amps: Figure | None = None
    duty: float = 1.0

    @property
    def mean_a(self) -> float:
        """Return the current it draws on average, 0 where it is not stated."""
        return 0.0 if self.amps is None else self.amps.value * self.duty


@dataclass(frozen=True, slots=True, kw_only=True)
class Shed:
    """One step of shedding: which loads, by whom, and when.

    ``by`` the pilot: ``after_min`` counts from recognition; automatic: from the failure.
    """

    loads: tuple[str, ...]
    by: Literal["pilot", "automatic"]
    after_min: float
    source: str
