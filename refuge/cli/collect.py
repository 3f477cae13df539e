"""refuge collect: reports, forecasts, winds, guidance and stations into the store, feed by feed."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from refuge.cli.progress import counting
from refuge.errors import FeedError, InputError
from refuge.weather.bulletin import Kind
from refuge.zulu import iso, parse_instant

if TYPE_CHECKING:
    from refuge.ingest import Collected
    from refuge.store.engine import Store

_NAMED = {"metar": Kind.METAR, "taf": Kind.TAF, "winds": Kind.WINDS}
_STATIONS = "stations"
_ALL = (_STATIONS, *_NAMED)
_GUIDANCE = ("lav", "lev", "nbh", "nbs")
_TOGETHER = "guidance"
_KNOWN = (*_ALL, *_GUIDANCE, _TOGETHER)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What the options say, and the instant that counts as now."""

    now: datetime
    stamped: datetime | None
    base_url: str | None
    guidance_url: str | None
    contact: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outcome:
    """What became of one feed."""

    feed: str
    collected: "Collected | None"
    errors: tuple[FeedError | InputError, ...]

    def as_json(self) -> dict[str, object]:
        counts = self.collected.counts if self.collected else None
        return {
            "feed": self.feed,
            "state": self.state,
            "fetched": self.collected.fetched if self.collected else 0,
            "new": counts.new if counts else 0,
            "known": counts.known if counts else 0,
            "refused": counts.refused if counts else 0,
            "errors": [str(error) for error in self.errors],
            "notes": list(self.notes),
        }

    @property
    def notes(self) -> tuple[str, ...]:
        """What is not in the counts, in words."""
        if self.collected is None:
            return ()
        refused = self.collected.counts.refused
        if self.feed == _STATIONS or not refused:
            return self.collected.notes
        return (*self.collected.notes, f"{refused:,} could not be read: kept, with the reason, and not used")

    @property
    def state(self) -> str:
        if self.errors:
            return "failed"
        return "unchanged" if self.collected and self.collected.unchanged else "ok"


@click.command(epilog="Example: refuge collect metar taf --store ~/flying/refuge.sqlite")
@click.argument("feeds", nargs=-1, metavar="[FEED ...]")
@click.option(
    "--now", "now_text", metavar="T", help="The receipt to stamp, for replays, such as 2022-10-22T03:00Z."
)
@click.option(
    "--store", "store_text", envvar="REFUGE_STORE", metavar="URL", help="Where the store is: a URL or a file."
)
@click.option("--base-url", envvar="REFUGE_BASE_URL", metavar="URL", help="Another address of the service.")
@click.option("--guidance-url", envvar="REFUGE_GUIDANCE_URL", metavar="URL", help="The same for guidance.")
@click.option("--contact", envvar="REFUGE_CONTACT", default="", help="Your address, for the service's operator.")
@click.option("--json", "as_json", is_flag=True, help="Print the counts as JSON.")
def collect(
    *,
    feeds: tuple[str, ...],
    now_text: str | None,
    store_text: str | None,
    base_url: str | None,
    guidance_url: str | None,
    contact: str,
    as_json: bool,
) -> None:
    """Fetch reports, forecasts and winds into the store.

    FEED is stations, metar, taf or winds (all four if none is named), or the path of a file or
    folder of reports: text, cache files (CSV, XML, gzip or not), winds aloft, guidance. A file's reports count as
    received at --now, else at the file's own time. One feed that fails spoils no other; the exit code is then 4,
    or 2 where only files failed: one that holds no report at all, or cannot be read.

    Station guidance must be named: lav and lev (LAMP), nbh and nbs (National Blend), or guidance for all four:
    tens of megabytes an hour, of which the blocks of stations and airfields in the store are kept.
    """
    from refuge.store.opening import opened_store

    _check(feeds)
    stamped = parse_instant(now_text) if now_text else None
    asked = _Asked(
        now=stamped or datetime.now(UTC),
        stamped=stamped,
        base_url=base_url,
        guidance_url=guidance_url,
        contact=contact,
    )
    names = [each for name in feeds or _ALL for each in (_GUIDANCE if name == _TOGETHER else (name,))]
    with opened_store(store_text) as engine:
        outcomes = [outcome for name in names for outcome in _collected(engine, name, asked)]
    if as_json:
        rows = [outcome.as_json() for outcome in outcomes]
        click.echo(json.dumps({"now": iso(asked.now), "feeds": rows}, ensure_ascii=False))
    else:
        click.echo(_table(outcomes))
        for outcome in outcomes:
            for note in outcome.notes:
                click.echo(f"note: {outcome.feed}: {note}", err=True)
    failed = [outcome for outcome in outcomes if outcome.errors]
    if failed:
        # A file of one's own that cannot be used is bad input; a service that fails is not.
        of_input = all(isinstance(outcome.errors[0], InputError) for outcome in failed)
        raise (InputError if of_input else FeedError)(
            f"{len(failed)} of {len(outcomes)} feeds failed: " + "; ".join(str(o.errors[0]) for o in failed)
        )


def _check(names: tuple[str, ...]) -> None:
    """Refuse a name that is nothing, before anything is fetched."""
    for name in names:
        if name not in _KNOWN and not Path(name).exists():
            raise InputError(
                "no feed, and no such file or folder", where=name, remedy=f"name {', '.join(_KNOWN)}, or a path"
            )


def _collected(engine: "Store", name: str, asked: _Asked) -> Iterator[_Outcome]:
    from refuge.feeds.awc import BASE_URL, AwcFeed
    from refuge.feeds.folder import file_feed
    from refuge.feeds.http import HttpSettings
    from refuge.ingest import collect as collect_kind
    from refuge.ingest import collect_stations

    try:
        if name == _STATIONS or name in _NAMED:
            feed = AwcFeed(
                received_at=asked.now,
                base_url=asked.base_url or BASE_URL,
                settings=HttpSettings(contact=asked.contact),
            )
            with counting(name) as progress:
                if name == _STATIONS:
                    done = collect_stations(engine, feed, now=asked.now)
                else:
                    done = collect_kind(engine, feed, _NAMED[name], now=asked.now, progress=progress)
            yield _Outcome(feed=name, collected=done, errors=done.errors)
            return
        if name in _GUIDANCE:
            done = _guidance(engine, name, asked)
            yield _Outcome(feed=name, collected=done, errors=done.errors)
            return
        try:
            files = file_feed(Path(name), now=asked.now, received_at=asked.stamped)
        except InputError as exc:
            yield _Outcome(feed=name, collected=None, errors=(exc,))
            return
        for kind in Kind:
            with counting(f"{name} {kind}", len(files.fetch(kind, {}).bulletins)) as progress:
                done = collect_kind(engine, files, kind, now=asked.now, progress=progress)
            if done.fetched:
                yield _Outcome(feed=f"{name} {kind}", collected=done, errors=())
        if files.everything.errors:
            yield _Outcome(feed=name, collected=None, errors=files.everything.errors)
    except FeedError as exc:
        yield _Outcome(feed=name, collected=None, errors=(exc,))


def _guidance(engine: "Store", name: str, asked: _Asked) -> "Collected":
    from refuge.ingest import collect_guidance

    with counting(name) as progress:
        return collect_guidance(
            engine, name, now=asked.now, base_url=asked.guidance_url, contact=asked.contact, progress=progress
        )


def _table(outcomes: list[_Outcome]) -> str:
    width = max([len(outcome.feed) for outcome in outcomes] + [4])
    lines = [f"{'feed':<{width}}  {'fetched':>8}{'new':>8}{'known':>8}{'refused':>8}  state"]
    for outcome in outcomes:
        row = outcome.as_json()
        numbers = "".join(f"{row[name]:>8}" for name in ("fetched", "new", "known", "refused"))
        lines.append(f"{outcome.feed:<{width}}  {numbers}  {outcome.state}")
    return "\n".join(lines)
