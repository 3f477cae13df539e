"""Everything that is asked: where, in what, by whose minimums, after which failure, as of when."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.endurance import Endurance
from refuge.earth import Position
from refuge.flight.compass import Heading
from refuge.flight.minimums import Minimums


@dataclass(frozen=True, slots=True, kw_only=True)
class Wind:
    """A wind by hand, "pilot's figure": from degrees true, at the level."""

    dir_deg_true: float
    speed_kt: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """What is aboard and how warm it is, as the person says; ``None`` is "not given".

    ``fuel_min`` is all fuel aboard at the failure, or where a flight begins; ``shed_min`` when shedding begins.
    """

    oat_c: float | None = None
    soak_c: float | None = None
    fuel_min: float | None = None
    shed_min: float | None = None
    torch: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question: which airfields can be reached from here, and will be visual.

    ``at`` is where the aircraft turns, ``place`` how the person wrote it. ``fails_at`` is when the
    supply fails: the clock runs from then, the turn comes ``endurance.recognition_min`` later.
    ``altitude_ft`` is the cruising level; ``altitude_given`` is false where it was assumed.
    ``lowest_safe_ft_amsl`` is the chart's height with its clearance included. ``slip_min`` is the
    departure slip of a flight that is still planned. ``carried`` is what the endurance was worked out with, so
    that it can be again. ``heading`` is the one that the aircraft has now.
    """

    at: Position
    place: str
    now: datetime
    fails_at: datetime
    failure: str
    aircraft: Aircraft
    endurance: Endurance
    minimums: Minimums
    margin_min: float
    altitude_ft: float
    altitude_given: bool = True
    wind: Wind | None = None
    lowest_safe_ft_amsl: float | None = None
    oat_c: float | None = None
    handheld: bool = False
    carried: Carried = Carried()
    heading: Heading | None = None
    slip_min: float = 0.0
    detail: Literal["all", "shown"] = "all"
    notes: tuple[str, ...] = field(default=())
