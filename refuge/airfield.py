"""Where one lands, and where weather is reported: often, not always, the same place."""

from dataclasses import dataclass
from datetime import time
from typing import Literal

Surface = Literal["hard", "soft", "water", "unknown"]
LightKind = Literal["dusk_to_dawn", "until", "radio", "none", "unknown"]
"""What burns at night without a radio: all night, until an hour, nothing (a radio lights it), nothing at all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunwayEnd:
    """One direction of landing. ``landing_ft`` is what is left behind a displaced threshold."""

    ident: str
    heading_deg_true: float | None
    landing_ft: int | None = None
    right_traffic: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Runway:
    """One runway. ``None`` is "not known", never "no".

    ``heading_deg_true`` is that of the end named first. ``ends`` is empty where the source says
    nothing of the ends by themselves: see `ends_of`.
    """

    idents: str
    length_ft: int | None
    width_ft: int | None = None
    surface: Surface = "unknown"
    surface_text: str = ""
    lighted: bool | None = None
    closed: bool = False
    heading_deg_true: float | None = None
    ends: tuple[RunwayEnd, ...] = ()
    source: str = ""


def ends_of(runway: Runway) -> tuple[RunwayEnd, ...]:
    """Return the ends of a runway: as its source gives them, else from its name and heading."""
    if runway.ends:
        return runway.ends
    low, _, high = runway.idents.partition("/")
    heading = runway.heading_deg_true
    far = None if heading is None else (heading + 180.0) % 360.0
    ends = [RunwayEnd(ident=low, heading_deg_true=heading, landing_ft=runway.length_ft)]
    if high:
        ends.append(RunwayEnd(ident=high, heading_deg_true=far, landing_ft=runway.length_ft))
    return tuple(ends)


@dataclass(frozen=True, slots=True, kw_only=True)
class LightDetail:
    """What is known of an airfield's lights besides what burns without a radio.

    ``until_local`` goes with the kind ``until``: local time at which they go out, and ``after`` says
    what holds then. ``beacon`` says whether one burns by night: it helps to find the field, and
    lights no runway. ``text`` is schedule and remarks as the source writes them.
    """

    until_local: time | None = None
    after: Literal["radio", "none", "unknown"] = "unknown"
    beacon: bool | None = None
    text: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """A span of hours on some days of the week (Monday is 0), minutes of the local day.

    A span that closes at or before it opens closes on the next day.
    """

    days: tuple[int, ...]
    opens_min: int
    closes_min: int


EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)
ALL_HOURS = Hours(days=EVERY_DAY, opens_min=0, closes_min=1440)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tower:
    """A control tower: its hours as written, and as understood (``None``: not understood whole)."""

    text: str
    hours: tuple[Hours, ...] | None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Airfield:
    """One airfield that is open to aeroplanes on wheels, as far as its source says.

    ``runways`` is ``None`` where the source has no runway data (runways unknown), which differs
    from knowing runways whose length is unknown. ``station_id`` is the weather station *at* the
    field, joined by code and distance. ``lights`` says what burns at night without a radio.
    ``tower`` is ``None`` where no source knows of one. ``time_zone`` is the IANA name of its local
    time, ``class_b`` whether it is the primary field of class B airspace. ``source`` names the data.
    """

    id: str
    name: str
    lat_deg: float
    lon_deg: float
    elevation_ft: float | None
    country: str
    station_id: str | None = None
    runways: tuple[Runway, ...] | None = None
    lights: LightKind = "unknown"
    lights_detail: LightDetail = LightDetail()
    tower: Tower | None = None
    time_zone: str | None = None
    class_b: bool | None = None
    private: bool | None = None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One place that weather is reported or forecast for.

    ``faa_id`` is the short identifier that winds-aloft bulletins use, where there is one.
    """

    id: str
    name: str
    lat_deg: float
    lon_deg: float
    elevation_ft: float | None
    country: str
    reports: bool
    forecasts: bool
    faa_id: str | None = None
