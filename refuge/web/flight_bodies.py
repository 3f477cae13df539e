"""The shapes of the bodies about whole flights, for the OpenAPI document."""

from typing import Any, Literal

from pydantic import BaseModel, Field

from refuge.web.bodies import Certainty, Entry, Object


class Said(BaseModel):
    """The best or second refuge of one minute."""

    id: str
    break_out_min: float | None
    spare_min: float | None
    certainty: Certainty


class Minute(BaseModel):
    """Where to go if the supply fails in this minute; null is "nowhere that is known to meet"."""

    t: str
    lat: float
    lon: float
    best: Said | None
    second: Said | None
    second_independent: bool | None = Field(description="Whether the second rests on other evidence than the best.")
    independent: Said | None = Field(description="The first refuge that rests on other evidence than the best.")
    ways: int = Field(ge=0)
    visual: bool
    night: bool = Field(description="Whether the sun is not up through the whole minute.")


class PlanBody(BaseModel):
    """What a whole flight says, beside its refuges."""

    question: Object
    data_as_of: str | None
    endurance: Object
    summary: str
    total_min: float
    distance_nm: float
    minutes: list[Minute]
    stretches: list[Object]
    gaps: list[Object]
    gap_min: int = Field(ge=0)
    visual_min: int = Field(ge=0)
    gap_budget_min: float
    within_gap_budget: bool
    equal_times: list[Object]
    last_chances: list[Object]
    as_if_dry: Object | None
    assumptions: list[str]
    caution: str


class RouteBody(PlanBody):
    """What `refuge route --json` prints."""

    refuges: list[Entry]


class Way(BaseModel):
    """The flight as planned, or with one thing changed, and the gap minutes left."""

    kind: str
    what: str
    cost: str
    departs: str
    total_min: float
    gap_min: int = Field(ge=0)
    visual_min: int = Field(ge=0)
    beyond_forecasts_min: int = Field(ge=0)
    within_gap_budget: bool
    note: str | None


class Departure(BaseModel):
    """Gap minutes of one departure; those beyond the forecasts are for want of data, not of weather."""

    departs: str
    gap_min: int = Field(ge=0)
    visual_min: int = Field(ge=0)
    beyond_forecasts_min: int = Field(ge=0)
    within_gap_budget: bool
    as_planned: bool


class NotFlown(BaseModel):
    """A change that cannot be flown, and why."""

    what: str
    why: str


class WaysBody(RouteBody):
    """What `refuge route --ways --json` prints."""

    ways_summary: str
    ways: list[Way]
    departures: list[Departure]
    not_flown: list[NotFlown]


class BriefLine(BaseModel):
    """One flight of a roster in one aircraft."""

    line: int
    flight: str
    route: list[str]
    departs: str
    aircraft: str
    aircraft_id: str
    altitude_ft: float
    altitude_given: bool
    lowest_safe_ft: float | None
    endurance_min: float | None
    dependable: bool
    total_min: float
    gap_min: int = Field(ge=0)
    visual_min: int = Field(ge=0)
    within_gap_budget: bool
    worst_gap: Object | None
    best_refuge: Object | None
    breaks: str


class BadRosterRow(BaseModel):
    """A row of a roster that cannot be used, and why; ``past``: only because the flight has begun."""

    line: int
    flight: str
    reason: str
    past: bool


class BriefBody(BaseModel):
    """What `refuge brief --json` prints: what wants a second look first."""

    as_of: str
    data_as_of: str | None
    warnings: list[str]
    lines: list[BriefLine]
    bad_rows: list[BadRosterRow]
    caution: str


class WayShape(BaseModel):
    """A GeoJSON point, line, or lines where the way crosses 180 degrees."""

    type: Literal["Point", "LineString", "MultiLineString"]
    coordinates: list[Any]


class WayFeature(BaseModel):
    """A stretch of the way, or a refuge."""

    type: Literal["Feature"]
    id: str
    geometry: WayShape
    properties: Object


class RouteFeatures(PlanBody):
    """A GeoJSON FeatureCollection of stretches and refuges; what the plain body says besides is in it too."""

    type: Literal["FeatureCollection"]
    features: list[WayFeature]
