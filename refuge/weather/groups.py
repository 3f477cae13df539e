"""A change group of a forecast or trend, made from its tokens."""

from collections.abc import Sequence
from datetime import datetime

from refuge.weather.elements import gather
from refuge.weather.reports import Group, GroupKind


def group_of(
    tokens: Sequence[str],
    *,
    kind: GroupKind,
    start: datetime,
    end: datetime,
    probability: int | None = None,
    unread: Sequence[str] = (),
) -> Group:
    """Return the group that the tokens say; `unread` are tokens of it that were found unread before.

    What the group does not mention stays ``None``. Its visibility is the lowest it gives.
    """
    elements = gather(tokens)
    return Group(
        kind=kind,
        start=start,
        end=end,
        probability=probability,
        ceiling=elements.ceiling(),
        visibility=elements.lowest_visibility(),
        wind=elements.wind(),
        weather=elements.weather_groups(),
        layers=tuple(elements.layers),
        unread=(*unread, *elements.unread),
    )
