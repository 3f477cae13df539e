"""refuge status: how old what the store holds is, how the last runs went, who collects."""

import json
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import click

from refuge.cli.options import instant_or_now, now_option, store_option
from refuge.errors import MissingDataError
from refuge.zulu import iso

if TYPE_CHECKING:
    from refuge.status import Status
    from refuge.store.runs import Run


@click.command(epilog="Example: refuge status --store refuge-demo.sqlite --now 2026-03-10T15:00Z")
@store_option
@now_option
@click.option("--json", "as_json", is_flag=True, help="Print as JSON: instants, no ages.")
def status(*, store: str | None, now: str | None, as_json: bool) -> None:
    """Say how old the data are, how the worker's last runs went, who leads, and what is overdue.

    `late` is how old reports were when they came, the median and the oldest of those that were new.
    Exit 0 while there is a report that is young enough to answer from (75 min), 3 if there is none.
    """
    from refuge.status import status_json, status_of
    from refuge.store.opening import existing_store

    with existing_store(store) as engine:
        found = status_of(engine, instant_or_now(now))
    click.echo(json.dumps(status_json(found), ensure_ascii=False) if as_json else _text(found))
    if not found.has_fresh_report:
        raise MissingDataError(
            "no report of the last 75 minutes is in the store", remedy="run refuge collect, or start refuge work"
        )


def _text(found: "Status") -> str:
    from refuge.status import stale_at

    leader = found.leader
    led = f"{leader.worker}, since {iso(leader.since)}" if leader else "nobody"
    lines = [f"store   {found.store}", f"leader  {led}", "", f"{'newest':<10}{'received':<21}{'age':>9}  of"]
    for each in found.newest:
        turns = stale_at(each)
        mark = "   STALE" if turns is not None and turns <= found.now else ""
        received, of = (iso(each.received_at) if each.received_at else "none"), iso(each.of) if each.of else "-"
        lines.append(f"{each.kind:<10}{received:<21}{_age(found.now, each.received_at):>9}  {of}{mark}")
    if found.feeds:
        columns = ("fetched", "new", "changed", "known", "refused")
        head = "".join(f"{name:>8}" for name in columns)
        lines += ["", f"{'last run':<10}{'ended':<21}{'age':>9}  {'outcome':<12}{head}  late median / max"]
        lines += [_run_line(found.now, each.last) for each in found.feeds]
    else:
        lines += ["", "no run of a worker: start one with refuge work, or collect with refuge collect"]
    lines += [f"warning: {text}" for text in found.warnings]
    return "\n".join(lines)


def _run_line(now: datetime, run: "Run") -> str:
    ended = iso(run.ended_at) if run.ended_at else "-"
    line = f"{run.feed:<10}{ended:<21}{_age(now, run.ended_at):>9}  {run.outcome:<12}"
    tally = run.tally
    if tally is None:
        return line.rstrip()
    counts = "".join(f"{n:>8,}" for n in (tally.fetched, tally.new, tally.changed, tally.known, tally.refused))
    if tally.late_median_s is None or tally.late_max_s is None:
        return f"{line}{counts}  -"
    return f"{line}{counts}  {_length(tally.late_median_s)} / {_length(tally.late_max_s)}"


def _age(now: datetime, instant: datetime | None) -> str:
    """Return how old something is; in a replay the store may have it from later than the time asked of."""
    if instant is None:
        return "-"
    return "later" if instant > now else _length((now - instant).total_seconds())


def _length(seconds: float) -> str:
    """Return a length of time, rounded down to its second largest unit; negative where clocks differ."""
    sign, whole = ("-" if seconds < 0 else ""), timedelta(seconds=int(abs(seconds)))
    hours, rest = divmod(whole.seconds, 3600)
    if whole.days:
        return f"{sign}{whole.days} d {hours} h"
    if hours:
        return f"{sign}{hours} h {rest // 60:02d}"
    return f"{sign}{rest // 60} min" if rest >= 120 else f"{sign}{rest} s"
