"""How the store is kept: the newest of each kind, the last runs of each feed, who leads, what is overdue."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from refuge.flight.evidence import STALE_AFTER_MIN
from refuge.store.engine import Store, reading
from refuge.store.leader import Leader, leader_of
from refuge.store.runs import GOOD, Newest, Outcome, Run, last_runs, newest_of_each
from refuge.weather.bulletin import Kind
from refuge.zulu import iso

STALE_AFTER: dict[Kind, timedelta] = {
    Kind.METAR: timedelta(minutes=20),
    Kind.TAF: timedelta(minutes=60),
    Kind.WINDS: timedelta(hours=8),
    Kind.GUIDANCE: timedelta(hours=3),
}
"""So long after the last receipt something is wrong. Of the world's stations some report every few minutes, and
some forecast comes every hour, and all guidance; winds aloft are made every six hours (all: common practice)."""
OVERDUE_AFTER: dict[str, timedelta] = {
    "stations": timedelta(days=2, hours=1),
    "metar": timedelta(minutes=16),
    "taf": timedelta(minutes=32),
    "winds": timedelta(hours=3, minutes=10),
    **dict.fromkeys(("lav", "lev", "nbh", "nbs"), timedelta(hours=3, minutes=10)),
    "brief": timedelta(hours=28),
}
"""So long after its last good run a feed is overdue: three runs missed, of stations two; a brief, due daily at
least, after a day, the hour that clocks may be changed by, and its grace."""
_PARTLY_IS_GOOD = ("brief",)
"""A brief in which a row cannot be used was made: its warning names the row, and it is not overdue."""
_REFUSED_IS_NEWS = 0.1
"""Of a world's cycle a few texts cannot be read; where it is a tenth, the source or the decoder has changed. Of
the list of stations an eighth has no position or reports nothing: that is no news."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedStatus:
    """One feed: its last run, its last good one, and when it is overdue after that."""

    feed: str
    last: Run
    last_good_at: datetime | None
    overdue_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """All of it, as of ``now``; feeds that never ran here are not in ``feeds``."""

    now: datetime
    store: str
    leader: Leader | None
    newest: tuple[Newest, ...]
    feeds: tuple[FeedStatus, ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return what somebody should look at; no ages, so that the same state gives the same words."""
        found = [_newest_warning(each, self.now) for each in self.newest]
        found += [_feed_warning(each, self.now) for each in self.feeds]
        if self.leader is None and self.feeds:
            found.append("no worker leads: nothing is collected")
        return tuple(each for each in found if each)

    @property
    def has_fresh_report(self) -> bool:
        """Return whether the newest report is young enough to answer from: a stale one counts as none."""
        reports = [each.of for each in self.newest if each.kind is Kind.METAR]
        return any(of is not None and self.now - of <= timedelta(minutes=STALE_AFTER_MIN) for of in reports)


def status_of(engine: Store, now: datetime) -> Status:
    """Return how the store is kept, as of `now`."""
    with reading(engine) as conn:
        newest, last, good = newest_of_each(conn, now), last_runs(conn), last_runs(conn, outcomes=GOOD)
        partly = last_runs(conn, outcomes=(*GOOD, Outcome.PARTIAL))
    good |= {name: run for name, run in partly.items() if name in _PARTLY_IS_GOOD}
    feeds = []
    for feed in sorted(last, key=lambda name: list(OVERDUE_AFTER).index(name) if name in OVERDUE_AFTER else 99):
        good_at = good[feed].started_at if feed in good else None
        after = OVERDUE_AFTER.get(feed)
        overdue_at = good_at + after if good_at and after else None
        feeds.append(FeedStatus(feed=feed, last=last[feed], last_good_at=good_at, overdue_at=overdue_at))
    return Status(
        now=now,
        store=engine.url.render_as_string(hide_password=True),
        leader=leader_of(engine),
        newest=tuple(newest),
        feeds=tuple(feeds),
    )


def stale_at(newest: Newest) -> datetime | None:
    """Return when the newest of a kind turns stale; ``None`` where there is none."""
    return newest.received_at + STALE_AFTER[newest.kind] if newest.received_at else None


def status_json(status: Status) -> dict[str, object]:
    """Return the status as JSON values: instants, no ages."""
    leader = status.leader
    return {
        "store": status.store,
        "leader": None if leader is None else {"worker": leader.worker, "since": iso(leader.since)},
        "newest": [
            {
                "kind": each.kind.value,
                "received": _iso(each.received_at),
                "of": _iso(each.of),
                "stale_at": _iso(stale_at(each)),
            }
            for each in status.newest
        ],
        "feeds": [
            {
                "feed": each.feed,
                "last": _run_json(each.last),
                "last_good": _iso(each.last_good_at),
                "overdue_at": _iso(each.overdue_at),
            }
            for each in status.feeds
        ],
        "warnings": list(status.warnings),
    }


def _run_json(run: Run) -> dict[str, object]:
    names = ("fetched", "new", "changed", "known", "refused", "late_median_s", "late_max_s")
    return {
        "worker": run.worker,
        "started": iso(run.started_at),
        "ended": _iso(run.ended_at),
        "outcome": run.outcome.value,
        **{name: None if run.tally is None else getattr(run.tally, name) for name in names},
        "error": run.error,
    }


def _newest_warning(newest: Newest, now: datetime) -> str | None:
    turns = stale_at(newest)
    if turns is None:
        return f"{newest.kind}: none in the store"
    return f"{newest.kind}: nothing new since {_iso(newest.received_at)}: stale" if turns <= now else None


def _feed_warning(feed: FeedStatus, now: datetime) -> str | None:
    since = f"since {iso(feed.last_good_at)}" if feed.last_good_at else "ever"
    if feed.overdue_at is None or feed.overdue_at <= now:
        return f"{feed.feed}: no good run {since}: overdue"
    if feed.last.outcome in (Outcome.FAILED, Outcome.PARTIAL, Outcome.INTERRUPTED):
        return f"{feed.feed}: last run {feed.last.outcome}: {feed.last.error}"
    tally = feed.last.tally
    if tally and feed.feed != "stations" and tally.refused > tally.fetched * _REFUSED_IS_NEWS:
        return f"{feed.feed}: {tally.refused} of {tally.fetched} could not be read"
    return None


def _iso(instant: datetime | None) -> str | None:
    return iso(instant) if instant else None
