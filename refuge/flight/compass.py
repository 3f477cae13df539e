"""From true headings to what the compass shows, and turning with nothing but a compass and a clock.

Sources: FAA-H-8083-25, chapters 8 and 16 (variation, deviation, "east is least"); FAA-H-8083-15, chapters 5
and 6 (turning error 15 degrees and half the latitude, acceleration error, timed turns at 3 degrees a second).
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np
import numpy.typing as npt

from refuge.aircraft.airframe import CompassCard
from refuge.earth import Position
from refuge.magnetism import BLACKOUT_NT, CAUTION_NT, MagneticModel, decimal_year, field_at
from refuge.units import KT_PER_MPS, M_PER_FT

Floats = npt.NDArray[np.float64]
Side = Literal["left", "right", "none"]

STANDARD_RATE_DEG_S = 3.0
"""Standard rate: 2 min for a full circle (FAA-H-8083-15, chapter 5)."""
COMPASS_BANK_DEG = 18.0
"""Beyond this bank a compass is erratic (FAA-H-8083-25, chapter 8)."""
DIP_EQUATOR_DEG = 13.0
"""The magnetic equator runs within this latitude (11.4 S to 12.2 N by the model of 2025): nearer than that
neither the size nor the sense of the turning error follows from the latitude."""
_G_MPS2 = 9.80665
"""Standard gravity (CGPM 1901)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """Variation at one place and time, degrees, east positive; ``None`` where a compass is of no use.

    ``said`` tells where it comes from, or why there is none; ``warnings`` why it is not to be trusted as it
    stands: dates, a weak field.
    """

    deg_e: float | None
    said: str
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """The heading that the aircraft has now, by compass or true."""

    deg: float
    reference: Literal["compass", "true"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A timed turn: which way, how far (0 to 180 degrees), and how long at 3 degrees a second."""

    side: Side
    degrees: float
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Compass:
    """How headings read at one place, on one day, in one aircraft: variation and the card's column."""

    variation: Variation
    deviation_said: str
    for_deg_mag: tuple[float, ...] = (0.0,)
    correction_deg: tuple[float, ...] = (0.0,)
    has_card: bool = False

    def magnetic(self, heading_deg_true: npt.ArrayLike) -> Floats | None:
        """Return magnetic headings (0 <= h < 360), or ``None`` where the variation is of no use."""
        if self.variation.deg_e is None:
            return None
        return np.asarray((np.asarray(heading_deg_true, dtype=float) - self.variation.deg_e) % 360.0)

    def reading(self, heading_deg_true: npt.ArrayLike) -> Floats | None:
        """Return what the compass shows (0 <= h < 360) on true headings, or ``None`` likewise."""
        magnetic = self.magnetic(heading_deg_true)
        return None if magnetic is None else (magnetic + self.correction(magnetic)) % 360.0

    def correction(self, heading_deg_mag: npt.ArrayLike) -> Floats:
        """Return what the card adds to magnetic headings, read between its lines round the circle."""
        return _round_the_circle(heading_deg_mag, self.for_deg_mag, self.correction_deg)

    def true(self, heading: Heading) -> float | None:
        """Return the true heading (0 <= h < 360) of a heading, or ``None`` if nobody can tell."""
        if heading.reference == "true":
            return heading.deg % 360.0
        if self.variation.deg_e is None:
            return None
        # Lines between the card's points run straight both ways, so the card can be read backwards.
        shown = [mag + added for mag, added in zip(self.for_deg_mag, self.correction_deg, strict=True)]
        correction = float(_round_the_circle(heading.deg, tuple(shown), self.correction_deg))
        return (heading.deg - correction + self.variation.deg_e) % 360.0


def _round_the_circle(at_deg: npt.ArrayLike, points_deg: tuple[float, ...], values: tuple[float, ...]) -> Floats:
    return np.asarray(np.interp(np.asarray(at_deg, dtype=float), points_deg, values, period=360.0))


def variation_at(model: MagneticModel, at: Position, altitude_ft: float, when: datetime) -> Variation:
    """Return the variation of a model at a place and level, with a plain warning where it is not to be trusted."""
    year = decimal_year(when)
    field = field_at(model, at.lat_deg, at.lon_deg, altitude_ft * M_PER_FT, year)
    deg_e, horizontal_nt = float(field.declination_deg), float(field.horizontal_nt)
    warnings = []
    if not model.covers(year):
        warnings.append(
            f"WARNING: the magnetic model {model.name} holds from {model.epoch:.0f} to {model.last_year:.0f}, this"
            f" is {year:.1f}: its variation is a guess, take it from a current chart"
        )
    if horizontal_nt < BLACKOUT_NT:
        pole = f"no compass holds here, the magnetic pole is too near (horizontal field {horizontal_nt:,.0f} nT)"
        return Variation(deg_e=None, said=pole, warnings=tuple(warnings))
    if horizontal_nt < CAUTION_NT:
        warnings.append(
            f"WARNING: the horizontal magnetic field is weak ({horizontal_nt:,.0f} nT): the compass errs"
        )
    return Variation(
        deg_e=deg_e, said=f"variation {variation_text(deg_e)} ({model.name})", warnings=tuple(warnings)
    )


def variation_text(deg_e: float) -> str:
    """Return a variation as a chart writes it: ``13.2 W``."""
    return f"{abs(deg_e):.1f} {'E' if deg_e >= 0.0 else 'W'}"


def compass_of(variation: Variation, card: CompassCard | None) -> Compass:
    """Return the compass of an aircraft whose supply has failed: the card's column for radios off if it has one."""
    if card is None:
        return Compass(
            variation=variation, deviation_said="deviation not applied: the aircraft's file has no compass card"
        )
    column = card.steer_radios_off_deg
    said = "card, radios off" if column is not None else "card, which has no column for radios off"
    return Compass(
        variation=variation,
        for_deg_mag=card.for_deg_mag,
        correction_deg=card.corrections_deg(card.steer_deg if column is None else column),
        deviation_said=f"deviation by the {said} ({card.source})",
        has_card=True,
    )


def timed_turn(from_deg: float, to_deg: float) -> Turn:
    """Return the shorter turn between two headings of the same kind; to the right if both are as long."""
    change = (to_deg - from_deg) % 360.0
    degrees = min(change, 360.0 - change)
    side: Side = "none" if degrees == 0.0 else "right" if change <= 180.0 else "left"
    return Turn(side=side, degrees=degrees, seconds=degrees / STANDARD_RATE_DEG_S)


def standard_rate_bank_deg(tas_kt: float) -> float:
    """Return the bank of a level turn at standard rate: atan(V omega / g)."""
    return float(np.degrees(np.arctan(tas_kt / KT_PER_MPS * np.radians(STANDARD_RATE_DEG_S) / _G_MPS2)))


def turning_error_deg(lat_deg: float, heading_deg: float) -> float | None:
    """Return by how much to undershoot (negative: overshoot) this heading when turning to it by compass.

    15 degrees and half the latitude on north, as much the other way on south and in the southern
    hemisphere, nothing on east and west; between them with the cosine of the heading (common practice, no
    source). ``None`` near the magnetic equator, where the rule says nothing.
    """
    if abs(lat_deg) < DIP_EQUATOR_DEG:
        return None
    most = 15.0 + abs(lat_deg) / 2.0
    return float(np.copysign(most, lat_deg) * np.cos(np.radians(heading_deg)))


def roll_out_reading_deg(lat_deg: float, heading_deg: float, side: Side) -> float | None:
    """Return what the compass reads (0 <= h < 360) when to roll out of a turn to this heading, or ``None``."""
    error = turning_error_deg(lat_deg, heading_deg)
    if error is None or side == "none":
        return None
    return (heading_deg - error if side == "right" else heading_deg + error) % 360.0
