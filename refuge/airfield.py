"""Where one lands, and where weather is reported: often, not always, the same place."""

from dataclasses import dataclass
from typing import Literal

Surface = Literal["hard", "soft", "water", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Runway:
    """One runway. ``None`` is "not known", never "no"."""

    idents: str
    length_ft: int | None
    width_ft: int | None = None
    surface: Surface = "unknown"
    surface_text: str = ""
    lighted: bool | None = None
    closed: bool = False
    heading_deg_true: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Airfield:
    """One airfield that is open to aeroplanes on wheels, as far as its source says.

    ``runways`` is ``None`` where the source has no runway data (runways unknown), which differs
    from knowing runways whose length is unknown. ``station_id`` is the weather station *at* the
    field, joined by code and distance. ``lights`` says what burns at night without a radio:
    ``dusk_to_dawn``, ``radio`` (needs one), ``none``, or ``unknown``. ``source`` names the data.
    """

    id: str
    name: str
    lat_deg: float
    lon_deg: float
    elevation_ft: float | None
    country: str
    station_id: str | None = None
    runways: tuple[Runway, ...] | None = None
    lights: Literal["dusk_to_dawn", "radio", "none", "unknown"] = "unknown"
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
