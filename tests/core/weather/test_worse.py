"""The worse of two: unknown before all, the lower before the higher, and never better than either."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.weather.category import Category, category, rank
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
from refuge.weather.wind import KnownWind, UnknownWind
from refuge.weather.worse import (
    doubted_ceiling,
    doubted_visibility,
    worse_ceiling,
    worse_visibility,
    worse_wind,
)

heights = st.integers(0, 12_000)
ceilings: st.SearchStrategy[Ceiling] = (
    st.builds(CeilingAt, ft_agl=heights)
    | st.builds(NoCeiling, none_below_ft=st.sampled_from([None, 5000, 12_000]), evidence=st.just("X"))
    | st.builds(UnknownCeiling, reason=st.just("X"), at_best_ft_agl=st.none() | heights, obscured=st.booleans())
)
miles = st.floats(0, 10, allow_nan=False)
visibilities: st.SearchStrategy[Visibility] = st.builds(
    KnownVisibility, sm=miles, bound=st.sampled_from(Bound)
) | st.builds(UnknownVisibility, reason=st.just("X"), at_best_sm=st.none() | miles)


def meets(ceiling: Ceiling, minimum_ft: int) -> bool:
    """Return whether the ceiling is sure to be at the minimum or above."""
    match ceiling:
        case CeilingAt(ft_agl=ft):
            return ft >= minimum_ft
        case NoCeiling(none_below_ft=below_ft):
            return below_ft is None or below_ft >= minimum_ft
        case UnknownCeiling():
            return False


def sees(visibility: Visibility, minimum_sm: float) -> bool:
    """Return whether the visibility is sure to be at the minimum or above."""
    if isinstance(visibility, UnknownVisibility):
        return False
    return visibility.sm > minimum_sm or (visibility.sm == minimum_sm and visibility.bound is not Bound.LESS_THAN)


@given(one=ceilings, other=ceilings, minimum_ft=heights)
def test_the_worse_ceiling_meets_only_what_both_meet(one: Ceiling, other: Ceiling, minimum_ft: int) -> None:
    assert meets(worse_ceiling(one, other), minimum_ft) == (meets(one, minimum_ft) and meets(other, minimum_ft))


@given(one=visibilities, other=visibilities, minimum_sm=miles)
def test_the_worse_visibility_meets_only_what_both_meet(
    one: Visibility, other: Visibility, minimum_sm: float
) -> None:
    both = sees(one, minimum_sm) and sees(other, minimum_sm)
    assert sees(worse_visibility(one, other), minimum_sm) == both


@given(one=ceilings, other=ceilings, visibility=visibilities)
def test_the_worse_ceiling_never_has_a_better_known_category(
    one: Ceiling, other: Ceiling, visibility: Visibility
) -> None:
    merged = category(worse_ceiling(one, other), visibility)
    known = [c for c in (category(one, visibility), category(other, visibility)) if c is not Category.UNKNOWN]
    assert all(rank(merged) <= rank(c) for c in known)


@given(one=ceilings, other=ceilings)
def test_order_does_not_matter_for_what_is_known(one: Ceiling, other: Ceiling) -> None:
    here, there = worse_ceiling(one, other), worse_ceiling(other, one)
    assert type(here) is type(there)
    assert getattr(here, "at_best_ft_agl", None) == getattr(there, "at_best_ft_agl", None)


@given(ceiling=ceilings, visibility=visibilities)
def test_doubt_leaves_nothing_known_but_lifr(ceiling: Ceiling, visibility: Visibility) -> None:
    doubted = category(doubted_ceiling(ceiling, "X"), doubted_visibility(visibility, "X"))
    assert doubted in {Category.UNKNOWN, Category.LIFR}
    assert (doubted is Category.LIFR) <= (category(ceiling, visibility) is Category.LIFR)


def test_known_lifr_value_survives_unknown() -> None:
    """interface.md: an unknown ceiling may carry the lowest value known of it."""
    merged = worse_ceiling(CeilingAt(ft_agl=300), UnknownCeiling(reason="no sky group"))
    assert merged == UnknownCeiling(reason="no sky group", at_best_ft_agl=300)
    assert category(merged, KnownVisibility(sm=10.0)) == "LIFR"


def test_none_below_wins_over_a_higher_ceiling() -> None:
    none = NoCeiling(none_below_ft=5000, evidence="NSC")
    assert worse_ceiling(none, CeilingAt(ft_agl=8000)) == none
    assert worse_ceiling(none, CeilingAt(ft_agl=5000)) == CeilingAt(ft_agl=5000)


def test_less_than_before_exactly_before_at_least() -> None:
    less, exactly, more = (
        KnownVisibility(sm=1.0, bound=bound) for bound in (Bound.LESS_THAN, Bound.EXACTLY, Bound.AT_LEAST)
    )
    assert worse_visibility(exactly, less) == less
    assert worse_visibility(more, exactly) == exactly


@pytest.mark.parametrize(("bound_sm", "name"), [(1.0, "LIFR"), (3.0, "IFR"), (5.0, "MVFR"), (6.0, "VFR")])
def test_less_than_a_limit_is_below_it(bound_sm: float, name: str) -> None:
    visibility = KnownVisibility(sm=bound_sm, bound=Bound.LESS_THAN)
    assert category(NoCeiling(none_below_ft=None, evidence="SKC"), visibility) == name


def test_none_below_a_low_height_proves_no_category() -> None:
    assert category(NoCeiling(none_below_ft=2000, evidence="X"), KnownVisibility(sm=10.0)) == "UNKNOWN"


def test_stronger_wind() -> None:
    calm, gusty = KnownWind(dir_deg_true=None, speed_kt=0), KnownWind(dir_deg_true=180, speed_kt=10, gust_kt=25)
    steady = KnownWind(dir_deg_true=90, speed_kt=20)
    assert worse_wind(calm, gusty) == gusty
    assert worse_wind(gusty, steady) == gusty
    assert worse_wind(steady, gusty) == gusty
    unknown = UnknownWind(reason="X")
    assert worse_wind(unknown, steady) == unknown
    assert worse_wind(steady, unknown) == unknown
