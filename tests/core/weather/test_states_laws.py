"""Laws of the states, and a plain minute-by-minute evaluation that shares no code with them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import chain, combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from refuge.weather.category import Category, category
from refuge.weather.expected import expected, states
from refuge.weather.reports import Forecast, Group, GroupKind
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

DAY = datetime(2024, 2, 28, tzinfo=UTC)  # the validity runs through a leap day and a month's end
VALID_H = (6, 36)
SKC = NoCeiling(none_below_ft=None, evidence="SKC")
NSC = NoCeiling(none_below_ft=5000, evidence="NSC")

ceilings: st.SearchStrategy[Ceiling] = st.one_of(
    st.sampled_from((100, 400, 500, 900, 1000, 2500, 3000, 3100, 8000)).map(lambda ft: CeilingAt(ft_agl=ft)),
    st.sampled_from((SKC, NSC)),
    st.just(UnknownCeiling(reason="BKN///")),
)
visibilities: st.SearchStrategy[Visibility] = st.one_of(
    st.sampled_from((0.25, 0.75, 1.0, 2.0, 3.0, 5.0, 6.0)).map(lambda sm: KnownVisibility(sm=sm)),
    st.just(KnownVisibility(sm=6.0, bound=Bound.AT_LEAST)),
    st.just(UnknownVisibility(reason="////")),
)


def hour(number: float) -> datetime:
    return DAY + timedelta(hours=number)


@st.composite
def changes(draw: st.DrawFn, kinds: Sequence[GroupKind] = ("BECMG", "TEMPO", "PROB", "INTER")) -> Group:
    first = draw(st.integers(VALID_H[0], VALID_H[1] - 1))
    return Group(
        kind=draw(st.sampled_from(kinds)),
        start=hour(first),
        end=hour(draw(st.integers(first + 1, min(first + 6, VALID_H[1])))),
        ceiling=draw(st.none() | ceilings),
        visibility=draw(st.none() | visibilities),
        unread=draw(st.sampled_from(((), (), (), (), ("XYZ",)))),
    )


@st.composite
def forecasts(draw: st.DrawFn) -> Forecast:
    base = Group(
        kind="BASE",
        start=hour(VALID_H[0]),
        end=hour(VALID_H[1]),
        ceiling=draw(ceilings),
        visibility=draw(visibilities),
        weather=(),
    )
    minutes = draw(st.lists(st.integers(VALID_H[0] * 60 + 1, VALID_H[1] * 60 - 1), max_size=2, unique=True))
    groups = [base]
    for start in [None, *sorted(minutes)]:
        if start is not None:
            groups.append(replace(base, kind="FM", start=hour(start / 60), ceiling=draw(ceilings)))
        groups += draw(st.lists(changes(), max_size=3))
    return Forecast(
        raw="",
        station="XAAA",
        issued_at=hour(5),
        valid_from=hour(VALID_H[0]),
        valid_to=hour(VALID_H[1]),
        groups=tuple(groups),
    )


windows = st.tuples(st.integers(5 * 60, 37 * 60), st.integers(0, 150)).map(
    lambda pair: (hour(pair[0] / 60), hour((pair[0] + pair[1]) / 60))
)


def goodness(answer: Category) -> int:
    """Return how good a category is to a decision: LIFR and UNKNOWN serve nobody alike."""
    return (Category.LIFR, Category.IFR, Category.MVFR, Category.VFR).index(
        Category.LIFR if answer is Category.UNKNOWN else answer
    )


def adverse(forecast: Forecast, window: tuple[datetime, datetime]) -> Category:
    merged = expected([forecast], "XAAA", *window).adverse
    return category(merged.ceiling, merged.visibility)


# --- the plain evaluation: elements as bare numbers, one minute after the other ----------------------


@dataclass(frozen=True)
class Sky:
    """Ceiling in ft (inf: none, nan never), visibility in SM; a doubt makes either unknown."""

    ft: float
    sm: float
    ft_unknown: bool
    sm_unknown: bool

    def category(self) -> str:
        known_ft = not self.ft_unknown
        known_sm = not self.sm_unknown
        if (known_ft and self.ft < 500) or (known_sm and self.sm < 1):
            return "LIFR"
        if self.ft_unknown or self.sm_unknown:
            return "UNKNOWN"
        if self.ft < 1000 or self.sm < 3:
            return "IFR"
        return "MVFR" if self.ft <= 3000 or self.sm <= 5 else "VFR"


def scalar(group: Group, before: Sky) -> Sky:
    ft, ft_unknown = before.ft, before.ft_unknown
    if group.ceiling is not None:
        ft_unknown = isinstance(group.ceiling, UnknownCeiling)
        ft = group.ceiling.ft_agl if isinstance(group.ceiling, CeilingAt) else float("inf")
    sm, sm_unknown = before.sm, before.sm_unknown
    if group.visibility is not None:
        sm_unknown = isinstance(group.visibility, UnknownVisibility)
        sm = float("inf")
        if isinstance(group.visibility, KnownVisibility):
            sm = 6.1 if group.visibility.bound is Bound.AT_LEAST else group.visibility.sm
    if group.unread:
        ft_unknown = ft_unknown or ft >= 500
        sm_unknown = sm_unknown or sm >= 1
    return Sky(ft=ft, sm=sm, ft_unknown=ft_unknown, sm_unknown=sm_unknown)


def subsets(many: Sequence[Group]) -> Iterator[tuple[Group, ...]]:
    return chain.from_iterable(combinations(many, size) for size in range(len(many) + 1))


def at_minute(forecast: Forecast, now: datetime, *, together: bool) -> tuple[set[str], set[str]]:
    """Return the categories that may hold at one minute: prevailing, and all.

    `together` lets any number of fluctuations be up at once, instead of one.
    """
    assert forecast.valid_from is not None
    assert forecast.valid_to is not None
    if not forecast.valid_from <= now < forecast.valid_to:
        return set(), {"UNKNOWN"}
    here = max(
        (number for number, g in enumerate(forecast.groups) if g.kind in ("BASE", "FM") and g.start <= now),
        key=lambda number: forecast.groups[number].start,
    )
    part = forecast.groups[here]
    sky = scalar(part, Sky(ft=0, sm=0, ft_unknown=True, sm_unknown=True))
    rest = [
        g
        for n, g in enumerate(forecast.groups)
        if g.kind not in ("BASE", "FM") and (n > here or g.start >= part.start)
    ]
    for change in sorted((g for g in rest if g.kind == "BECMG" and part.start < g.end <= now), key=lambda g: g.end):
        sky = scalar(change, sky)
    prevailing = {sky.category()}
    everything = set(prevailing)
    passing = [g for g in rest if g.kind != "BECMG" and g.start <= now < g.end]
    for come in subsets([g for g in rest if g.kind == "BECMG" and g.start <= now < g.end]):
        becoming = sky
        for change in come:
            becoming = scalar(change, becoming)
        for up in subsets(passing):
            if len(up) > 1 and not together:
                continue
            under = becoming
            for change in up:
                under = scalar(change, under)
            everything.add(under.category())
    for number, group in enumerate(forecast.groups):
        if group.unread:  # it may have been a group, in force from this part on until the next FM
            start = [g.start for g in forecast.groups[: number + 1] if g.kind in ("BASE", "FM")][-1]
            ends = [g.start for g in forecast.groups[number + 1 :] if g.kind == "FM"]
            if start <= now and not (ends and now >= ends[0]):
                everything.add(scalar(replace(group, ceiling=None, visibility=None), sky).category())
    return prevailing, everything


def minute_by_minute(
    forecast: Forecast, window: tuple[datetime, datetime], *, together: bool = False
) -> tuple[set[str], set[str]]:
    prevailing: set[str] = set()
    everything: set[str] = set()
    now = window[0]
    while now <= window[1]:
        some, more = at_minute(forecast, now, together=together)
        prevailing |= some
        everything |= more
        now += timedelta(minutes=1)
    return prevailing, everything


@settings(max_examples=60, deadline=None)
@given(forecasts(), windows)
def test_the_states_are_those_that_a_plain_evaluation_finds_minute_by_minute(
    forecast: Forecast, window: tuple[datetime, datetime]
) -> None:
    found = states(forecast, *window)
    prevailing, everything = minute_by_minute(forecast, window)
    if window[0] < window[1] == forecast.valid_to and not any(state.outside for state in found):
        everything = minute_by_minute(forecast, (window[0], window[1] - timedelta(minutes=1)))[1]
    assert {
        str(category(s.conditions.ceiling, s.conditions.visibility)) for s in found if s.prevailing
    } == prevailing
    assert {str(category(s.conditions.ceiling, s.conditions.visibility)) for s in found} == everything


@settings(max_examples=40, deadline=None)
@given(forecasts(), windows)
def test_fluctuations_that_come_together_are_no_worse_than_each_alone(
    forecast: Forecast, window: tuple[datetime, datetime]
) -> None:
    """So one at a time is enough: ceiling and visibility are checked each by itself."""
    everything = minute_by_minute(forecast, window, together=True)[1]
    worst = min(goodness(Category(name)) for name in everything)
    assert (
        min(goodness(category(s.conditions.ceiling, s.conditions.visibility)) for s in states(forecast, *window))
        == worst
    )


@given(forecasts(), windows)
def test_merged_is_as_good_as_the_worst_state(forecast: Forecast, window: tuple[datetime, datetime]) -> None:
    """Merging element by element hides nothing, and makes nothing up for a decision."""
    answer = expected([forecast], "XAAA", *window)
    worst = min(goodness(category(s.conditions.ceiling, s.conditions.visibility)) for s in answer.states)
    assert goodness(adverse(forecast, window)) == worst
    for state in answer.states:
        if isinstance(state.conditions.ceiling, UnknownCeiling):
            assert isinstance(answer.adverse.ceiling, UnknownCeiling)
        if isinstance(state.conditions.visibility, UnknownVisibility):
            assert isinstance(answer.adverse.visibility, UnknownVisibility)


@given(forecasts(), changes(("TEMPO", "PROB", "INTER")), st.data(), windows)
def test_adding_a_fluctuation_never_improves(
    forecast: Forecast, more: Group, data: st.DataObject, window: tuple[datetime, datetime]
) -> None:
    place = data.draw(st.integers(1, len(forecast.groups)))
    added = replace(forecast, groups=(*forecast.groups[:place], more, *forecast.groups[place:]))
    assert goodness(adverse(added, window)) <= goodness(adverse(forecast, window))
    before, after = (expected([f], "XAAA", *window) for f in (forecast, added))
    assert after.prevailing == before.prevailing
    assert after.complete == before.complete


def worse(group: Group, how: str) -> Group:
    """Return the group with one element worse or unknown, or with a token that nothing reads."""
    if how == "low" and group.ceiling is not None:
        return replace(group, ceiling=CeilingAt(ft_agl=100))
    if how == "foggy" and group.visibility is not None:
        return replace(group, visibility=KnownVisibility(sm=0.25))
    if how == "no ceiling known" and group.ceiling is not None:
        return replace(group, ceiling=UnknownCeiling(reason="////"))
    if how == "no visibility known" and group.visibility is not None:
        return replace(group, visibility=UnknownVisibility(reason="////"))
    return replace(group, unread=("XYZ",))


@given(
    forecasts(),
    st.data(),
    st.sampled_from(("low", "foggy", "no ceiling known", "no visibility known", "unread")),
    windows,
)
def test_making_a_group_worse_or_unreadable_never_improves(
    forecast: Forecast, data: st.DataObject, how: str, window: tuple[datetime, datetime]
) -> None:
    place = data.draw(st.integers(0, len(forecast.groups) - 1))
    groups = list(forecast.groups)
    groups[place] = worse(groups[place], how)
    assert goodness(adverse(replace(forecast, groups=tuple(groups)), window)) <= goodness(adverse(forecast, window))


@given(forecasts(), windows, st.integers(0, 90), st.integers(0, 90))
def test_a_larger_window_never_improves(
    forecast: Forecast, window: tuple[datetime, datetime], earlier_min: int, later_min: int
) -> None:
    larger = (window[0] - timedelta(minutes=earlier_min), window[1] + timedelta(minutes=later_min))
    if window[0] == window[1] == forecast.valid_to == larger[1]:
        return  # the last instant alone has no forecast; a window up to it is whole (test_states)
    before, after = (expected([forecast], "XAAA", *w) for w in (window, larger))
    assert goodness(adverse(forecast, larger)) <= goodness(adverse(forecast, window))
    assert after.complete <= before.complete


@given(forecasts(), forecasts(), windows, st.integers(0, 24))
def test_a_cancellation_never_improves(
    older: Forecast, newer: Forecast, window: tuple[datetime, datetime], issued: int
) -> None:
    newer = replace(newer, issued_at=hour(5.5))
    gone = replace(newer, issued_at=hour(5.5 + issued), cancelled=True, groups=())
    answer = expected([older, newer, gone], "XAAA", *window)
    assert not answer.complete
    assert category(answer.adverse.ceiling, answer.adverse.visibility) is Category.UNKNOWN
