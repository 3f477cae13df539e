"""The worse of two ceilings, visibilities or winds; the one place that ranks them.

Unknown is worse than none and than any height or distance; what is known at best of an unknown
value survives the merge, so that a value below every minimum is not lost behind "unknown".
"""

from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)
from refuge.weather.wind import KnownWind, UnknownWind, Wind

LIFR_BELOW_FT = 500
"""A ceiling below this is LIFR whatever else is unknown (AIM 7-1-7)."""
LIFR_BELOW_SM = 1.0
"""A visibility below this is LIFR whatever else is unknown (AIM 7-1-7)."""

_BOUND_RANK = {Bound.LESS_THAN: 0, Bound.EXACTLY: 1, Bound.AT_LEAST: 2}


def worse_ceiling(one: Ceiling, other: Ceiling) -> Ceiling:
    """Return the ceiling to use where either of two may be true.

    An unknown ceiling wins over everything and takes the lowest height known of either as its
    ``at_best_ft_agl``. "None below 5,000 ft" wins over a ceiling at 8,000 ft: between the two
    heights nothing is known of it.
    """
    if isinstance(one, UnknownCeiling) or isinstance(other, UnknownCeiling):
        return _unknown_ceiling(one, other)
    if isinstance(one, CeilingAt) and isinstance(other, CeilingAt):
        return one if one.ft_agl <= other.ft_agl else other
    return one if _lowest_possible_ft(one) <= _lowest_possible_ft(other) else other


def worse_visibility(one: Visibility, other: Visibility) -> Visibility:
    """Return the visibility to use where either of two may be true.

    The lower value wins; of equal values "less than" before "exactly" before "at least". Unknown
    wins over everything and takes the lowest value of either as its ``at_best_sm``.
    """
    if isinstance(one, KnownVisibility) and isinstance(other, KnownVisibility):
        return one if _rank(one) <= _rank(other) else other
    reasons = [v.reason for v in (one, other) if isinstance(v, UnknownVisibility)]
    known_sm = [sm for sm in (at_best_sm(one), at_best_sm(other)) if sm is not None]
    return UnknownVisibility(reason="; ".join(dict.fromkeys(reasons)), at_best_sm=min(known_sm, default=None))


def worse_wind(one: Wind, other: Wind) -> Wind:
    """Return the wind to use where either of two may be true.

    The stronger peak wins, then the stronger mean; unknown wins over everything. Only strength
    is ranked: which direction is worse depends on a runway.
    """
    if isinstance(one, UnknownWind):
        return one
    if isinstance(other, UnknownWind):
        return other
    return one if _strength_kt(one) >= _strength_kt(other) else other


def at_best_ft_agl(ceiling: Ceiling) -> int | None:
    """Return the most that the ceiling can be, or ``None`` where no height limits it."""
    if isinstance(ceiling, CeilingAt):
        return ceiling.ft_agl
    if isinstance(ceiling, UnknownCeiling):
        return ceiling.at_best_ft_agl
    return None


def at_best_sm(visibility: Visibility) -> float | None:
    """Return the most that the visibility can be, or ``None`` where nothing limits it (P6SM, 9999)."""
    if isinstance(visibility, KnownVisibility):
        return None if visibility.bound is Bound.AT_LEAST else visibility.sm
    return visibility.at_best_sm


def doubted_ceiling(ceiling: Ceiling, reason: str) -> Ceiling:
    """Return the ceiling as unknown for `reason`, unless it is LIFR already: that stays."""
    best_ft = at_best_ft_agl(ceiling)
    if isinstance(ceiling, UnknownCeiling) or (best_ft is not None and best_ft < LIFR_BELOW_FT):
        return ceiling
    return UnknownCeiling(reason=reason, at_best_ft_agl=best_ft)


def doubted_visibility(visibility: Visibility, reason: str) -> Visibility:
    """Return the visibility as unknown for `reason`, unless it is LIFR already: that stays.

    A value that is only a floor (P6SM, 9999) says nothing of how good it is at best.
    """
    best_sm = at_best_sm(visibility)
    if isinstance(visibility, UnknownVisibility) or (best_sm is not None and best_sm < LIFR_BELOW_SM):
        return visibility
    return UnknownVisibility(reason=reason, at_best_sm=best_sm)


def _unknown_ceiling(one: Ceiling, other: Ceiling) -> UnknownCeiling:
    unknowns = [c for c in (one, other) if isinstance(c, UnknownCeiling)]
    known_ft = [ft for ft in (at_best_ft_agl(one), at_best_ft_agl(other)) if ft is not None]
    return UnknownCeiling(
        reason="; ".join(dict.fromkeys(c.reason for c in unknowns)),
        at_best_ft_agl=min(known_ft, default=None),
        obscured=any(c.obscured for c in unknowns),
    )


def _lowest_possible_ft(ceiling: CeilingAt | NoCeiling) -> tuple[float, int]:
    """Return the height from which on a ceiling may be; at the same height a certain one is worse."""
    if isinstance(ceiling, CeilingAt):
        return ceiling.ft_agl, 0
    return (float("inf") if ceiling.none_below_ft is None else ceiling.none_below_ft), 1


def _rank(visibility: KnownVisibility) -> tuple[float, int]:
    return visibility.sm, _BOUND_RANK[visibility.bound]


def _strength_kt(wind: KnownWind) -> tuple[float, float]:
    return max(wind.speed_kt, wind.gust_kt or 0.0), wind.speed_kt
