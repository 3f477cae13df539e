"""The worker's log of runs: what each feed brought, when, and how late; and what came new at an instant."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from statistics import median

from sqlalchemy import Column, Connection, Table, delete, func, insert, select, update

from refuge.store.rows import TABLE_OF
from refuge.store.schema import bulletins, forecasts, guidance, latest, levels, observations, runs
from refuge.weather.bulletin import Kind

_KEPT = timedelta(days=90)
"""Longer than anybody asks what went wrong; some 500 rows a day."""


class Outcome(StrEnum):
    """How a run ended."""

    RUNNING = "running"
    """It has not ended, or its worker died and none has taken over since."""
    OK = "ok"
    UNCHANGED = "unchanged"
    """The source had nothing newer: as good as ok."""
    PARTIAL = "partial"
    """Parts of the source failed; the others are stored."""
    FAILED = "failed"
    INTERRUPTED = "interrupted"
    """Its worker died; what it had not finished was undone, and is fetched again."""


GOOD = (Outcome.OK, Outcome.UNCHANGED)
_AS_OF: dict[Kind, Column[datetime]] = {
    Kind.METAR: observations.c.observed_at,
    Kind.TAF: forecasts.c.issued_at,
    Kind.WINDS: levels.c.based_on,
    Kind.GUIDANCE: guidance.c.based_on,
}
"""What a bulletin of each kind says that it is of."""
_SAME: dict[Kind, Sequence[str]] = {
    Kind.METAR: ("station", "observed_at"),
    Kind.TAF: ("station", "valid_to"),
    Kind.WINDS: ("product", "based_on", "valid_at"),
    Kind.GUIDANCE: ("station", "product", "based_on"),
}
"""Bulletins that agree in these speak of one thing: the later one corrects or amends the earlier."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """What a run brought, in numbers; lateness is receipt less time of observation, of what was new."""

    fetched: int = 0
    new: int = 0
    changed: int = 0
    known: int = 0
    refused: int = 0
    late_median_s: float | None = None
    late_max_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run of one feed; ``tally`` is ``None`` where it did not come so far."""

    id: int
    feed: str
    worker: str
    started_at: datetime
    ended_at: datetime | None
    outcome: Outcome
    tally: Tally | None
    error: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrivals:
    """Of the bulletins first received at an instant: how many replace an earlier one, and how late they were."""

    changed: int
    late_median_s: float | None
    late_max_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Newest:
    """The newest of one kind: the last receipt, and the latest time that one received is of."""

    kind: Kind
    received_at: datetime | None
    of: datetime | None


def begin_run(conn: Connection, feed: str, *, worker: str, started_at: datetime) -> int:
    """Note that a run begins; return its number. Runs of this feed from long ago are forgotten."""
    conn.execute(delete(runs).where(runs.c.feed == feed, runs.c.started_at < started_at - _KEPT))
    row = {"feed": feed, "worker": worker, "started_at": started_at, "outcome": Outcome.RUNNING}
    number: int = conn.execute(insert(runs).values(row).returning(runs.c.id)).scalar_one()
    return number


def end_run(
    conn: Connection,
    number: int,
    *,
    ended_at: datetime,
    outcome: Outcome,
    tally: Tally | None = None,
    error: str | None = None,
) -> None:
    """Note how a run ended."""
    counts = {} if tally is None else {name: getattr(tally, name) for name in Tally.__slots__}
    conn.execute(
        update(runs).where(runs.c.id == number).values(ended_at=ended_at, outcome=outcome, error=error, **counts)
    )


def close_interrupted(conn: Connection, *, ended_at: datetime) -> int:
    """Note of runs without an end that their worker died; return how many. Only the one that leads may ask."""
    done = conn.execute(
        update(runs)
        .where(runs.c.outcome == Outcome.RUNNING)
        .values(outcome=Outcome.INTERRUPTED, ended_at=ended_at, error="its worker ended before it did")
    )
    return done.rowcount


def last_runs(conn: Connection, *, outcomes: Sequence[Outcome] = tuple(Outcome)) -> dict[str, Run]:
    """Return for each feed its last run that had one of these outcomes."""
    newest = select(func.max(runs.c.id)).where(runs.c.outcome.in_(outcomes)).group_by(runs.c.feed)
    rows = conn.execute(select(runs).where(runs.c.id.in_(newest)).order_by(runs.c.feed)).mappings()
    return {
        row["feed"]: Run(
            id=row["id"],
            feed=row["feed"],
            worker=row["worker"],
            started_at=row["started_at"],
            ended_at=row["ended_at"],
            outcome=Outcome(row["outcome"]),
            tally=None if row["fetched"] is None else Tally(**{name: row[name] for name in Tally.__slots__}),
            error=row["error"],
        )
        for row in rows
    }


def tries_since(conn: Connection, feed: str, since: datetime) -> int:
    """Return how many runs of a feed began at an instant or later, however they ended."""
    count = select(func.count()).select_from(runs).where(runs.c.feed == feed, runs.c.started_at >= since)
    return conn.scalar(count) or 0


def arrivals(conn: Connection, kind: Kind, received_at: datetime) -> Arrivals:
    """Return what is to be said of the bulletins of this kind that were new at that receipt."""
    table = TABLE_OF[kind]
    came = (
        select(table.c.bulletin_id, _AS_OF[kind].label("of"))
        .join(bulletins, bulletins.c.id == table.c.bulletin_id)
        .where(bulletins.c.received_at == received_at, bulletins.c.kind == kind)
    )
    late_s = [(received_at - row.of).total_seconds() for row in conn.execute(came)]
    return Arrivals(
        changed=_replacing(conn, table, _SAME[kind], received_at),
        late_median_s=median(late_s) if late_s else None,
        late_max_s=max(late_s, default=None),
    )


def _replacing(conn: Connection, table: Table, same: Sequence[str], received_at: datetime) -> int:
    """Return how many rows received then speak of something of which an earlier row spoke already."""
    earlier = table.alias("earlier")
    spoke = (
        select(earlier.c.bulletin_id)
        .where(earlier.c.bulletin_id < table.c.bulletin_id, *(earlier.c[name] == table.c[name] for name in same))
        .exists()
    )
    new = bulletins.c.received_at == received_at
    statement = select(func.count()).select_from(table).join(bulletins, bulletins.c.id == table.c.bulletin_id)
    return conn.scalar(statement.where(new, spoke)) or 0


def newest_of_each(conn: Connection, now: datetime) -> list[Newest]:
    """Return the newest of each kind up to `now`; what is stamped later than that is not counted.

    Guidance only where there is any: a store need not have it.
    """
    found = []
    for kind in Kind:
        received_at = conn.scalar(
            select(bulletins.c.received_at)
            .where(bulletins.c.kind == kind, bulletins.c.received_at <= now)
            .order_by(bulletins.c.received_at.desc())
            .limit(1)
        )
        if received_at is None and kind is Kind.GUIDANCE:
            continue
        found.append(Newest(kind=kind, received_at=received_at, of=_newest_stamp(conn, kind, now)))
    return found


def _newest_stamp(conn: Connection, kind: Kind, now: datetime) -> datetime | None:
    if kind in (Kind.WINDS, Kind.GUIDANCE):
        table = TABLE_OF[kind]
        of = table.c.based_on
        newest = select(func.max(of)).where(table.c.received_at <= now, of <= now)
    else:
        of = latest.c.stamped_at
        newest = select(func.max(of)).where(latest.c.kind == kind, latest.c.received_at <= now, of <= now)
    stamp: datetime | None = conn.scalar(newest)
    return stamp
