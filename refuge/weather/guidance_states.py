"""The states of the weather that guidance allows in a window, in the manner of `refuge.weather.states`.

Guidance speaks of instants. Between two of them the worse of both counts, element by element. LAMP's
ceiling and visibility given precipitation make a state of their own where precipitation is likely
enough, or where nobody knows. The Blend's height and distance are one value out of many that are
possible: `counted` lets them count only while the chance of less than the minimums is small.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise

from refuge.weather.conditions import Conditions
from refuge.weather.guidance import Guidance, Product
from refuge.weather.guidance_hours import Chance, GuidanceHour, chance_of_less, hours_of
from refuge.weather.sky import Ceiling, Visibility
from refuge.weather.states import State, nothing_known
from refuge.weather.worse import doubted_ceiling, doubted_visibility, worse_ceiling, worse_visibility, worse_wind

LIMIT_PERCENT = 10
"""The chance of less than the minimums must be below it (method.md, section 4, by issue 6)."""
FAMILIES: Mapping[str, tuple[Product, Product]] = {"LAMP": ("LAV", "LEV"), "National Blend": ("NBH", "NBS")}
"""What speaks first, and what goes on from where it ends."""
_WIDEST = timedelta(hours=3)
"""Hours further apart say nothing of the time between them: NBS has three."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidanceState:
    """One possible state with the chances that go with it, the worst of the hours that it lies between.

    ``deterministic`` marks values out of many that are possible (the Blend): `counted` must judge
    them. A chance that one of the hours lacks is not among ``ceiling_chances`` or
    ``visibility_chances``, and ``None`` in the others: not known, never none.
    """

    state: State
    product: Product | None
    based_on: datetime | None
    deterministic: bool
    ceiling_chances: tuple[tuple[float, int], ...] = ()
    visibility_chances: tuple[tuple[float, int], ...] = ()
    wet_percent: int | None = None
    thunder_percent: int | None = None
    freezing_percent: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hour:
    """One hour and the block that gives it."""

    hour: GuidanceHour
    block: Guidance


def guidance_states(
    blocks: Sequence[Guidance],
    start: datetime,
    end: datetime,
    *,
    unreadable: Sequence[str] = (),
    limit_percent: int = LIMIT_PERCENT,
) -> tuple[GuidanceState, ...]:
    """Return every state that one station's guidance allows between `start` and `end`, both included.

    `blocks` are the newest of each product. Where LAMP and the Blend both speak, the states of both
    are there. If neither speaks of the whole window, or the newest block of a product is among
    those that could not be read (`unreadable`, in words), one state more is unknown and ``outside``.
    """
    found: list[GuidanceState] = []
    whole = False
    for family in FAMILIES.values():
        hours = _timeline(blocks, family)
        found.extend(_states(hours, start, end, limit_percent))
        whole = whole or _covers(hours, start, end)
    reasons = list(unreadable) if whole else [*unreadable, _why_not(blocks, start, end)]
    found.extend(_nothing(reason, start, end) for reason in reasons)
    return tuple(found)


def counted(
    found: GuidanceState,
    *,
    ceiling_ft: float | None,
    visibility_sm: float | None,
    limit_percent: int = LIMIT_PERCENT,
) -> State:
    """Return the state as these minimums may use it; ``None`` is a minimum that is not set.

    A deterministic ceiling or visibility counts only where the chance of less than its minimum is
    known to be below the limit. Otherwise it is unknown, and its value the best that it may be.
    """
    if not found.deterministic:
        return found.state
    conditions = found.state.conditions
    ceiling: Ceiling = conditions.ceiling
    visibility: Visibility = conditions.visibility
    if ceiling_ft is not None and (why := _too_likely(found.ceiling_chances, ceiling_ft, limit_percent)):
        ceiling = doubted_ceiling(ceiling, f"{found.state.label}: {why} a ceiling below {ceiling_ft:,.0f} ft")
    if visibility_sm is not None and (why := _too_likely(found.visibility_chances, visibility_sm, limit_percent)):
        visibility = doubted_visibility(
            visibility, f"{found.state.label}: {why} a visibility below {visibility_sm:g} SM"
        )
    return replace(found.state, conditions=replace(conditions, ceiling=ceiling, visibility=visibility))


def _too_likely(known: Sequence[tuple[float, int]], minimum: float, limit_percent: int) -> str | None:
    chance: Chance = chance_of_less(known, minimum)
    if chance.at_most is not None and chance.at_most < limit_percent:
        return None
    if chance.at_least >= limit_percent:
        return f"{chance.at_least} per cent chance or more of"
    return "nobody knows the chance of" if chance.at_most is None else f"{chance.at_most} per cent chance of"


def _timeline(blocks: Sequence[Guidance], family: tuple[Product, Product]) -> list[_Hour]:
    """Return the hours of one family: those of the first product, then those that the second has after them."""
    hours: list[_Hour] = []
    for product in family:
        own = [block for block in blocks if block.product == product]
        if own:
            newest = max(own, key=lambda block: block.based_on)
            last = hours[-1].hour.at if hours else None
            hours += [_Hour(hour=h, block=newest) for h in hours_of(newest) if last is None or h.at > last]
    return hours


def _covers(hours: Sequence[_Hour], start: datetime, end: datetime) -> bool:
    if not hours or start < hours[0].hour.at or end > hours[-1].hour.at:
        return False
    return all(
        b.hour.at - a.hour.at <= _WIDEST for a, b in pairwise(hours) if a.hour.at < end and b.hour.at > start
    )


def _states(hours: Sequence[_Hour], start: datetime, end: datetime, limit_percent: int) -> Iterator[GuidanceState]:
    touching = [
        (a, b)
        for a, b in pairwise(hours)
        if a.hour.at < end and b.hour.at > start and b.hour.at - a.hour.at <= _WIDEST
    ]
    # An instant that is an hour of the guidance; and the ends of what it speaks of.
    alone = [h for h in hours if start <= h.hour.at <= end and not any(h in pair for pair in touching)]
    for one, other in [*touching, *((h, h) for h in alone)]:
        base = _between(one, other)
        yield base
        if one.hour.ceiling_if_wet is not None and (base.wet_percent is None or base.wet_percent >= limit_percent):
            yield _if_wet(base, one.hour, other.hour)


def _between(one: _Hour, other: _Hour) -> GuidanceState:
    a, b = one.hour, other.hour
    label = f"{one.block.product} of {one.block.based_on:%d%H%M}Z for {_span(a.at, b.at)}"
    conditions = Conditions(
        ceiling=worse_ceiling(a.ceiling, b.ceiling),
        visibility=worse_visibility(a.visibility, b.visibility),
        wind=worse_wind(a.wind, b.wind),
        weather=tuple(dict.fromkeys((*(a.weather or ()), *(b.weather or ())))),
    )
    return GuidanceState(
        state=State(
            conditions=conditions,
            label=label,
            start=a.at,
            end=b.at if b.at > a.at else a.at + timedelta(minutes=1),
            prevailing=True,
            groups=(label,),
        ),
        product=one.block.product,
        based_on=min(one.block.based_on, other.block.based_on),
        deterministic=one.block.product in FAMILIES["National Blend"],
        ceiling_chances=_worst_chances(a.ceiling_chances, b.ceiling_chances),
        visibility_chances=_worst_chances(a.visibility_chances, b.visibility_chances),
        wet_percent=_worst_percent(a.wet_percent, b.wet_percent),
        thunder_percent=_worst_percent(a.thunder_percent, b.thunder_percent),
        freezing_percent=_worst_percent(a.freezing_percent, b.freezing_percent),
    )


def _if_wet(base: GuidanceState, a: GuidanceHour, b: GuidanceHour) -> GuidanceState:
    """Return the state if it precipitates: never better than the base."""
    conditions = base.state.conditions
    ceiling, visibility = conditions.ceiling, conditions.visibility
    for hour in (a, b):
        if hour.ceiling_if_wet is not None and hour.visibility_if_wet is not None:
            ceiling = worse_ceiling(ceiling, hour.ceiling_if_wet)
            visibility = worse_visibility(visibility, hour.visibility_if_wet)
    label = f"{base.state.label} if it precipitates"
    state = replace(
        base.state,
        conditions=replace(conditions, ceiling=ceiling, visibility=visibility),
        label=label,
        groups=(*base.state.groups, label),
        prevailing=False,
    )
    return replace(base, state=state)


def _worst_chances(
    one: Iterable[tuple[float, int]], other: Iterable[tuple[float, int]]
) -> tuple[tuple[float, int], ...]:
    others = dict(other)
    return tuple((limit, max(percent, others[limit])) for limit, percent in one if limit in others)


def _worst_percent(one: int | None, other: int | None) -> int | None:
    return None if one is None or other is None else max(one, other)


def _nothing(reason: str, start: datetime, end: datetime) -> GuidanceState:
    state = nothing_known(reason, start, end)
    return GuidanceState(state=state, product=None, based_on=None, deterministic=False)


def _why_not(blocks: Sequence[Guidance], start: datetime, end: datetime) -> str:
    if not blocks:
        return "no guidance for this station"
    names = ", ".join(f"{b.product} of {b.based_on:%d%H%M}Z for {_span(b.times[0], b.times[-1])}" for b in blocks)
    return f"no guidance for all of {_span(start, end)}: there is {names}"


def _span(start: datetime, end: datetime) -> str:
    return f"{start:%d%H%M}Z" if start == end else f"{start:%d%H%M}/{end:%d%H%M}Z"
