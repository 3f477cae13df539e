"""Ceiling, visibility and cloud layers, three-valued: known, known to be none, or unknown.

Meaning is a type here, never a sentinel: no zero, ``None`` or NaN stands for "no ceiling" or
"not reported".
"""

from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True, kw_only=True)
class CeilingAt:
    """The ceiling is at this height above the ground, in feet."""

    ft_agl: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoCeiling:
    """There is no ceiling, and this is how we know.

    ``none_below_ft`` is the height up to which that is known: 12,000 for CLR of an automatic
    station (FMH-1 9.4.1), 5,000 for CAVOK and NSC; ``None`` when the whole sky was seen.
    ``evidence`` is the token that says so, such as ``CLR`` or ``SCT015``.
    """

    none_below_ft: int | None
    evidence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownCeiling:
    """Nobody knows the ceiling; ``at_best_ft_agl``, where given, is the most it can be.

    ``obscured`` marks a hidden sky whose vertical visibility was not measured (VV///): a ceiling
    exists, and counts as the lowest category.
    """

    reason: str
    at_best_ft_agl: int | None = None
    obscured: bool = False


Ceiling = CeilingAt | NoCeiling | UnknownCeiling


class Bound(StrEnum):
    """How a visibility value is meant."""

    EXACTLY = "exactly"
    AT_LEAST = "at_least"
    LESS_THAN = "less_than"


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownVisibility:
    """Visibility in statute miles, with how the value is meant."""

    sm: float
    bound: Bound = Bound.EXACTLY


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownVisibility:
    """Nobody knows the visibility; ``at_best_sm``, where given, is the most it can be."""

    reason: str
    at_best_sm: float | None = None


Visibility = KnownVisibility | UnknownVisibility


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One cloud group as written.

    ``amount`` is FEW, SCT, BKN, OVC, VV or ``///``; ``base_ft_agl`` is ``None`` where the height
    was not reported; ``convective`` is CB, TCU or ``None``.
    """

    amount: str
    base_ft_agl: int | None
    convective: str | None = None
