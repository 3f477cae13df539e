"""When each feed is fetched: often enough for a decision, seldom enough for the service.

The service makes its caches anew every minute (METAR), every ten minutes (TAF) and daily (stations),
wants no address asked more than once a minute, and a hundred requests a minute at most (its published
limits; data/README.md). Station guidance is made every hour: LAMP at half past, there some twenty minutes later,
the National Blend on the hour, there an hour later (both from memory; what is not there yet is the run before).
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
GUIDANCE = tuple(
    Planned(feed=product, every=timedelta(hours=1), cron={"minute": minute}, jitter_s=180, grace_s=3000)
    for product, minute in (("lav", "50"), ("lev", "55"), ("nbh", "22"), ("nbs", "32"))
)
"""Only where it is named: tens of megabytes an hour, which most stores need not have."""
TOGETHER = "guidance"
BETWEEN_SAME_S = 61.0
"""Between two requests to one path (see above), winds aloft being six of them."""


def planned(names: str | None) -> tuple[Planned, ...]:
    """Return the plan of the feeds named, comma between them; of all but guidance for ``None``.

    Raises
    ------
    InputError
        If one is no feed, or none is named.
    """
    if names is None:
        return PLAN
    wanted = {name.strip() for name in names.split(",") if name.strip()}
    known = [each.feed for each in (*PLAN, *GUIDANCE)]
    remedy = f"name {', '.join(known)}, or {TOGETHER} for the last four"
    for name in sorted(wanted - {*known, TOGETHER}):
        raise InputError("no feed of that name", where=name, remedy=remedy)
    if not wanted:
        raise InputError("no feed is named", where="--feeds", remedy=remedy)
    if TOGETHER in wanted:
        wanted |= {each.feed for each in GUIDANCE}
    return tuple(each for each in (*PLAN, *GUIDANCE) if each.feed in wanted)
