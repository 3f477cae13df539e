"""The shapes of the bodies, for the OpenAPI document. Every key is always there; more may come."""

from typing import Any, Literal

from pydantic import BaseModel, Field

Verdict = Literal["meets", "misses", "unknown"]
Object = dict[str, Any]


class FoundAirfield(BaseModel):
    """An airfield of an answer."""

    id: str
    name: str
    lat: float
    lon: float
    elevation_ft: float | None


class Check(BaseModel):
    """One check of an airfield; what is not checked is never counted."""

    verdict: Literal["meets", "misses", "unknown", "not_checked"]
    why: str


class Evidence(BaseModel):
    """A report or forecast that a verdict rests on; it is stale from `stale_at` on."""

    kind: str
    station: str
    time: str | None
    stale_at: str | None
    distance_nm: float | None
    borrowed: bool
    raw: str | None


class Certainty(BaseModel):
    """How sure a "meets" is."""

    word: Literal["high", "fair", "low", "none"]
    score: float = Field(ge=0, le=1)


class Window(BaseModel):
    """The time that the weather was judged for."""

    start: str = Field(alias="from")
    end: str = Field(alias="to")


class Entry(BaseModel):
    """One airfield with its verdict."""

    airfield: FoundAirfield
    verdict: Verdict
    reasons: list[str]
    checks: dict[str, Check]
    track_deg_true: float | None
    heading_deg_true: float | None
    heading_deg_compass: float | None
    gs_kt: float | None
    distance_nm: float | None
    minutes: float | None
    break_out_min: float | None
    spare_min: float | None
    error_radius_nm: float | None
    arrival_earliest: str | None
    arrival_latest: str | None
    window: Window | None
    night: bool | None
    prevailing: Object
    adverse: Object
    evidence: list[Evidence]
    evidence_step: str
    certainty: Certainty
    certainty_why: list[str]
    lack: float | None
    around: Object
    independent_way: int | None


class FindBody(BaseModel):
    """What `refuge find --json` prints: entries best first."""

    question: Object
    data_as_of: str | None
    endurance: Object
    budget_min: float | None
    summary: str
    independent_ways: int = Field(ge=0)
    areas: Object | None
    entries: list[Entry]
    left_out: int = Field(ge=0)
    as_if_dry: Object | None
    assumptions: list[str]
    caution: str


class ExpectBody(BaseModel):
    """What `refuge expect --json` prints."""

    station: str
    start: str = Field(alias="from")
    end: str = Field(alias="to")
    prevailing: Object
    adverse: Object
    complete: bool
    groups_used: list[str]
    why: list[str]
    states: list[Object]
    caution: str


class Heard(BaseModel):
    """What was ever heard of a station."""

    reports: bool
    forecasts: bool
    ever_ceiling: bool
    ever_visibility: bool


class StationBody(BaseModel):
    """A station, its latest report and its forecasts, each as `refuge decode --json` prints it."""

    id: str
    name: str
    lat: float
    lon: float
    elevation_ft: float | None
    country: str
    reports: bool
    forecasts_listed: bool
    heard: Heard
    report: Object | None
    fresh: bool
    stale_at: str | None
    forecasts: list[Object]
    caution: str


class RunwayBody(BaseModel):
    """A runway; null is "not known"."""

    idents: str
    length_ft: int | None
    width_ft: int | None
    surface: str
    surface_text: str
    lighted: bool | None
    closed: bool
    ends: list[Object]
    source: str | None


class AirfieldBody(BaseModel):
    """What `refuge airfield --json` prints; null is "not known", also for the runways as a whole."""

    id: str
    name: str
    lat: float
    lon: float
    elevation_ft: float | None
    country: str
    codes: list[str]
    station: Object | None
    private: bool | None
    class_b: bool | None
    time_zone: str | None
    lights: Object
    tower: Object | None
    runways: list[RunwayBody] | None
    source: str


class AirfieldsBody(BaseModel):
    """Airfields of a box by identifier, or near a place by distance."""

    airfields: list[AirfieldBody]
    left_out: int = Field(ge=0)


class Unusable(BaseModel):
    """A file that cannot be used, and why."""

    id: str
    error: str


class AircraftRow(BaseModel):
    """An aircraft that an id names."""

    id: str
    name: str
    tas_kt: float
    descent_ft_min: float
    recognition_min: float
    approved_for_icing: bool
    warning_light: bool


class AircraftBody(BaseModel):
    """Aircraft that ids name."""

    aircraft: list[AircraftRow]
    unusable: list[Unusable]


class MinimumsRow(BaseModel):
    """The minimums that an id names, as they count; null is not set, and not checked."""

    id: str
    day: Object
    night: Object | None
    runway_length_ft: float | None
    hard_surface: bool | None
    max_crosswind_kt: float | None
    margin_min: float | None
    said: list[str]


class MinimumsBody(BaseModel):
    """Minimums that ids name."""

    minimums: list[MinimumsRow]
    unusable: list[Unusable]


class StatusBody(BaseModel):
    """What `refuge status --json` prints."""

    store: str
    leader: Object | None
    newest: list[Object]
    feeds: list[Object]
    warnings: list[str]


class Ready(BaseModel):
    """Whether answers are given, and from data young enough."""

    ready: bool
    read_at: str
    data_as_of: str | None


class Point(BaseModel):
    """A GeoJSON point: longitude, latitude."""

    type: Literal["Point"]
    coordinates: list[float] = Field(min_length=2, max_length=2)


class Feature(BaseModel):
    """A GeoJSON Feature (RFC 7946)."""

    type: Literal["Feature"]
    id: str
    geometry: Point
    properties: Object


class Features(BaseModel):
    """A GeoJSON FeatureCollection; what the plain body says besides is in it too."""

    type: Literal["FeatureCollection"]
    features: list[Feature]
