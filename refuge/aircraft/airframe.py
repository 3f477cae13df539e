"""One aircraft: how fast it flies and comes down, what it is approved for, and its power network."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from refuge.aircraft.network import Network
from refuge.errors import InputError

RECOGNITION_MIN = 5.0
"""Minutes to notice and shed with a warning light (reference.md 4.2, from memory)."""
RECOGNITION_UNWARNED_MIN = 10.0
"""The same without a warning light (reference.md 4.2, from memory; the need: DCA notice T/14)."""
FUEL_RESERVE_MIN = 45.0
"""Fuel that is not planned on: 14 CFR 91.167, 45 min at normal cruise."""

PLACEHOLDER = "..."
"""What the template of an aircraft file writes where a page belongs."""
TEMPLATE_ID = "XX-TEMPLATE"

LANDING_MIN = 10.0
"""How long the landing load is carried at the end: 5 to 10 min (reference.md 4.2, from memory), the longer."""

CARD_STEP_DEG = 45.0
"""Widest step between two headings of a compass card: 14 CFR 27.1547 (from memory); airplanes' have 30."""
CARD_LIMIT_DEG = 30.0
"""A card that corrects by more is a slip of the pen (14 CFR 23.1327: 10 degrees want a placard; from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Where a number of the file comes from: under what conditions it holds, and its source."""

    basis: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CompassCard:
    """The deviation card beside the compass: for these magnetic headings, steer these by compass.

    Degrees, once round clockwise, in the order of the card. ``steer_radios_off_deg`` is its second
    column; ``None`` where the card has none.

    Raises
    ------
    InputError
        If a column is not such a round, or corrects more than a compass may be off.
    """

    for_deg_mag: tuple[float, ...]
    steer_deg: tuple[float, ...]
    steer_radios_off_deg: tuple[float, ...] | None = None
    source: str

    def __post_init__(self) -> None:
        faults = []
        if not _goes_round(self.for_deg_mag, CARD_STEP_DEG):
            faults.append(f"for: must run clockwise once round, in steps of {CARD_STEP_DEG:g} degrees at most")
        for key, column in (("steer", self.steer_deg), ("steer_radios_off", self.steer_radios_off_deg)):
            if column is None:
                continue
            if len(column) != len(self.for_deg_mag):
                faults.append(f"{key}: has {len(column)} headings, `for` has {len(self.for_deg_mag)}")
            # Where the compass ran backwards, one reading would mean two headings.
            elif not _goes_round(column, 180.0):
                faults.append(f"{key}: must run clockwise once round, from 0 to 360 degrees")
            elif worst := [x for x in self.corrections_deg(column) if abs(x) > CARD_LIMIT_DEG]:
                faults.append(f"{key}: corrects by {worst[0]:+g}, more than {CARD_LIMIT_DEG:g} degrees")
        if faults:
            raise InputError("; ".join(f"compass_card.{fault}" for fault in faults), remedy="mend the compass card")

    def corrections_deg(self, column: tuple[float, ...]) -> tuple[float, ...]:
        """Return what a column adds to each magnetic heading, -180 to 180."""
        return tuple(
            (steer - wanted + 180.0) % 360.0 - 180.0 for wanted, steer in zip(self.for_deg_mag, column, strict=True)
        )


def _goes_round(headings: tuple[float, ...], widest_deg: float) -> bool:
    steps = [(then - now) % 360.0 for now, then in zip(headings, (*headings[1:], *headings[:1]), strict=True)]
    return (
        all(0.0 <= x <= 360.0 for x in headings)
        and all(0.0 < step <= widest_deg for step in steps)
        and abs(sum(steps) - 360.0) < 1e-6
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Aircraft:
    """One aircraft, as its file describes it.

    ``recognition_given_min`` may only lengthen the recognition time. ``engine_electric`` and
    ``fuel_feed_electric`` say whether ignition, engine control or pumps need the electrical
    supply; where they do, a load gives ``engine`` or ``fuel_feed``. ``provenance`` is by key.

    Raises
    ------
    InputError
        On a figure that cannot be, or an engine that the network contradicts.
    """

    id: str
    name: str
    cruise_tas_kt: float
    descent_ft_min: float
    approved_for_icing: bool
    warning_light: bool
    alternate_static: bool
    engine_electric: bool
    fuel_feed_electric: bool
    network: Network
    fuel_reserve_min: float = FUEL_RESERVE_MIN
    landing_min: float = LANDING_MIN
    recognition_given_min: float | None = None
    provenance: Mapping[str, Provenance] = field(default_factory=dict)
    compass_card: CompassCard | None = None
    climb_ft_min: float | None = None
    climb_tas_kt: float | None = None

    def __post_init__(self) -> None:
        faults = [
            f"{key}: must be more than 0 and finite, not {value}"
            for key, value in (("cruise_tas_kt", self.cruise_tas_kt), ("descent_ft_min", self.descent_ft_min))
            if not 0 < value < float("inf")
        ]
        faults += [
            f"{key}: must be more than 0 and finite, not {value}"
            for key, value in (("climb_ft_min", self.climb_ft_min), ("climb_tas_kt", self.climb_tas_kt))
            if value is not None and not 0 < value < float("inf")
        ]
        faults += [
            f"{key}: must be 0 or more, not {value}"
            for key, value in (("fuel_reserve_min", self.fuel_reserve_min), ("landing_min", self.landing_min))
            if not 0 <= value < float("inf")
        ]
        if self.recognition_given_min is not None and not (
            self.usual_recognition_min <= self.recognition_given_min < float("inf")
        ):
            faults.append(
                f"recognition_min: may be longer than {self.usual_recognition_min:g} min, never shorter"
                f" ({'with' if self.warning_light else 'without'} a warning light)"
            )
        for key, electric, given in (
            ("engine_electric", self.engine_electric, self.network.givers("engine")),
            ("fuel_feed_electric", self.fuel_feed_electric, self.network.givers("fuel_feed")),
        ):
            if electric != bool(given):
                faults.append(f"{key}: it says {str(electric).lower()}, and {len(given)} loads give it")
        if faults:
            raise InputError("; ".join(faults), remedy="mend these entries; template.toml explains each key")

    @property
    def usual_recognition_min(self) -> float:
        """Return the recognition time that goes with the warning light, or with none."""
        return RECOGNITION_MIN if self.warning_light else RECOGNITION_UNWARNED_MIN

    @property
    def recognition_min(self) -> float:
        """Return the minutes until the failure is noticed and the load is shed."""
        given = self.recognition_given_min
        return self.usual_recognition_min if given is None else given

    @property
    def unfilled(self) -> str:
        """Return what shows that the file is a template not filled in, and what to do; empty where nothing does."""
        if any(PLACEHOLDER in source for source in self._sources()):
            return "a source still reads '...': write down where each number stands"
        return (
            f"the id is still {TEMPLATE_ID}: look whether its figures are yours" if self.id == TEMPLATE_ID else ""
        )

    @property
    def unfilled_said(self) -> str:
        """Return the same as a warning to those who rest on its figures; empty where nothing shows it."""
        return f"the aircraft file is a template not filled in: {self.unfilled}" if self.unfilled else ""

    def _sources(self) -> Iterator[str]:
        """Yield where each number is said to stand."""
        yield from (each.source for each in self.provenance.values())
        if self.compass_card is not None:
            yield self.compass_card.source
        for source in self.network.sources.values():
            stated = (source.duration, source.capacity, source.check, source.charge, source.warming, source.rated_a)
            yield from (each.source for each in stated if each is not None)
        yield from (load.amps.source for load in self.network.loads.values() if load.amps is not None)
        yield from (step.source for step in self.network.sheds)
