"""The flight category of a ceiling and a visibility (AIM 7-1-7), with UNKNOWN as its own value."""

from enum import StrEnum

from refuge.weather.sky import Bound, Ceiling, CeilingAt, KnownVisibility, UnknownCeiling, Visibility
from refuge.weather.worse import LIFR_BELOW_FT, LIFR_BELOW_SM, at_best_ft_agl


class Category(StrEnum):
    """Flight category, written out in letters."""

    VFR = "VFR"
    MVFR = "MVFR"
    IFR = "IFR"
    LIFR = "LIFR"
    UNKNOWN = "UNKNOWN"


IFR_BELOW_FT = 1000
MVFR_TO_FT = 3000
"""MVFR includes its upper limits, 3,000 ft and 5 SM (AIM 7-1-7)."""
IFR_BELOW_SM = 3.0
MVFR_TO_SM = 5.0

_WORST_FIRST = (Category.LIFR, Category.UNKNOWN, Category.IFR, Category.MVFR, Category.VFR)


def category(ceiling: Ceiling, visibility: Visibility) -> Category:
    """Return the category that the worse of ceiling and visibility gives.

    LIFR as soon as one of them alone makes it so, also an unknown one that is LIFR at best, and
    a hidden sky (VV///); otherwise UNKNOWN as soon as one of them is unknown.
    """
    both = (_of_ceiling(ceiling), _of_visibility(visibility))
    return min(both, key=_WORST_FIRST.index)


def rank(name: Category) -> int:
    """Return how good a category is, 0 for UNKNOWN, which ranks worst, to 4 for VFR."""
    return (Category.UNKNOWN, Category.LIFR, Category.IFR, Category.MVFR, Category.VFR).index(name)


def _of_ceiling(ceiling: Ceiling) -> Category:
    best_ft = at_best_ft_agl(ceiling)
    if best_ft is not None and best_ft < LIFR_BELOW_FT:
        return Category.LIFR
    if isinstance(ceiling, UnknownCeiling):
        return Category.LIFR if ceiling.obscured else Category.UNKNOWN
    if isinstance(ceiling, CeilingAt):
        if ceiling.ft_agl < IFR_BELOW_FT:
            return Category.IFR
        return Category.MVFR if ceiling.ft_agl <= MVFR_TO_FT else Category.VFR
    if ceiling.none_below_ft is not None and ceiling.none_below_ft <= MVFR_TO_FT:
        return Category.UNKNOWN
    return Category.VFR


def _of_visibility(visibility: Visibility) -> Category:
    if not isinstance(visibility, KnownVisibility):
        best_sm = visibility.at_best_sm
        return Category.LIFR if best_sm is not None and best_sm < LIFR_BELOW_SM else Category.UNKNOWN
    sm, below = visibility.sm, visibility.bound is Bound.LESS_THAN
    if sm < LIFR_BELOW_SM or (below and sm == LIFR_BELOW_SM):
        return Category.LIFR
    if sm < IFR_BELOW_SM or (below and sm == IFR_BELOW_SM):
        return Category.IFR
    return Category.MVFR if sm <= MVFR_TO_SM else Category.VFR
