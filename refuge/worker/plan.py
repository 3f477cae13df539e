"""When each feed is fetched: often enough for a decision, seldom enough for the service.

The service makes its caches anew every minute (METAR), every ten minutes (TAF) and daily (stations),
wants no address asked more than once a minute, and a hundred requests a minute at most (its published
limits; data/README.md).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

from refuge.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One feed's times.

    ``cron`` are the fields of a cron trigger, in UTC; ``every`` is what they come to. Each run is
    delayed by up to ``jitter_s``, so that not all the world's workers ask at once. A run that is late
    by less than ``grace_s`` is still made: late data are better than none.
    """

    feed: str
    every: timedelta
    cron: Mapping[str, str]
    jitter_s: int
    grace_s: int


PLAN = (
    Planned(
        feed="stations", every=timedelta(days=1), cron={"hour": "3", "minute": "17"}, jitter_s=1200, grace_s=43_200
    ),
    Planned(feed="metar", every=timedelta(minutes=5), cron={"minute": "1-59/5"}, jitter_s=30, grace_s=240),
    Planned(feed="taf", every=timedelta(minutes=10), cron={"minute": "4-59/10"}, jitter_s=60, grace_s=540),
    Planned(feed="winds", every=timedelta(hours=1), cron={"minute": "12"}, jitter_s=120, grace_s=3000),
)
"""Stations first: who is there before what they say."""
BETWEEN_SAME_S = 61.0
"""Between two requests to one path (see above), winds aloft being six of them."""


def planned(names: str | None) -> tuple[Planned, ...]:
    """Return the plan of the feeds named, comma between them; of all for ``None``.

    Raises
    ------
    InputError
        If one is no feed, or none is named.
    """
    if names is None:
        return PLAN
    wanted = [name.strip() for name in names.split(",") if name.strip()]
    known = [each.feed for each in PLAN]
    for name in wanted:
        if name not in known:
            raise InputError("no feed of that name", where=name, remedy=f"name {', '.join(known)}")
    if not wanted:
        raise InputError("no feed is named", where="--feeds", remedy=f"name {', '.join(known)}")
    return tuple(each for each in PLAN if each.feed in wanted)
