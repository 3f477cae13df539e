"""One aircraft: how fast it flies and comes down, what it is approved for, and its power network."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from refuge.aircraft.network import Network
from refuge.errors import InputError

RECOGNITION_MIN = 5.0
"""Minutes to notice and shed with a warning light (reference.md 4.2, from memory)."""
RECOGNITION_UNWARNED_MIN = 10.0
"""The same without a warning light (reference.md 4.2, from memory; the need: DCA notice T/14)."""
FUEL_RESERVE_MIN = 45.0
"""Fuel that is not planned on: 14 CFR 91.167, 45 min at normal cruise."""

LANDING_MIN = 10.0
"""How long the landing load is carried at the end: 5 to 10 min (reference.md 4.2, from memory), the longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Where a number of the file comes from: under what conditions it holds, and its source."""

    basis: str
    source: str


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

    def __post_init__(self) -> None:
        faults = [
            f"{key}: must be more than 0 and finite, not {value}"
            for key, value in (("cruise_tas_kt", self.cruise_tas_kt), ("descent_ft_min", self.descent_ft_min))
            if not 0 < value < float("inf")
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
