"""Fetch, decode, store: the way of every bulletin into the store."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby

from refuge.errors import FeedError, InputError
from refuge.feeds.awc import AwcFeed
from refuge.feeds.feed import Feed, Validators
from refuge.feeds.guidance import SETTINGS, guidance_feed
from refuge.store.engine import Reader, Store, reading, writing
from refuge.store.feeds import keep_validators, kept_validators
from refuge.store.guidance import wanted_stations
from refuge.store.identity import digest_of
from refuge.store.places import refresh_stations
from refuge.store.raws import StoredBulletin, bulletins_after
from refuge.store.records import record_text
from refuge.store.rows import Decoded, Refusal
from refuge.store.write import add_bulletins, add_unusable, known_digests, replace_decoded
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.guidance_head import GuidanceHead, guidance_head
from refuge.weather.metar import decode_observation
from refuge.weather.record import DECODER_VERSION
from refuge.weather.reports import Forecast, Levels, Observation, Unreadable
from refuge.weather.taf import decode_forecast
from refuge.weather.winds_aloft import decode_levels

_NAMED = re.compile(r"(?<!\S)([A-Z][A-Z0-9]{3})\s+\d{6}Z")
"""The station of a report or forecast, before the time that it bears."""
CHUNK = 500
"""Bulletins between two words on progress; and the fewest in one transaction where more are to come."""

Progress = Callable[[int], None]
"""Told how many bulletins more are done."""
Also = Callable[[Reader], None]
"""What else belongs into the transaction."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IngestCounts:
    """What became of the bulletins handed over.

    ``refused`` are new texts that could not be read, kept with the reason; they are not in ``new``.
    """

    new: int = 0
    known: int = 0
    refused: int = 0

    def __add__(self, other: "IngestCounts") -> "IngestCounts":
        return IngestCounts(
            new=self.new + other.new, known=self.known + other.known, refused=self.refused + other.refused
        )


def ingest(
    engine: Store,
    bulletins: Iterable[Bulletin],
    *,
    now: datetime,
    progress: Progress | None = None,
    also: Also | None = None,
) -> IngestCounts:
    """Decode and store the bulletins that the store has not yet; return what became of them.

    One that cannot be read is kept as refused and costs the others nothing. Corrections and
    amendments are rows of their own: which one counts is decided when they are read. Whatever was
    received at one instant is one cycle and gets in as a whole or not at all, so that no reader
    finds a part of it; `also` is done in the last transaction.

    Raises
    ------
    InputError
        If a receipt is later than `now`: an answer as of `now` would never see it.
    """
    counts = IngestCounts()
    cycles = _cycles(bulletins, now)
    for number, cycle in enumerate(cycles, start=1):
        counts += _ingest_cycle(engine, cycle, progress, also if number == len(cycles) else None)
    if also and not cycles:
        with writing(engine) as conn:
            also(conn)
    return counts


def _cycles(bulletins: Iterable[Bulletin], now: datetime) -> list[list[Bulletin]]:
    """Return the bulletins in parts that never divide those of one receipt; small ones are put together."""
    cycles: list[list[Bulletin]] = [[]]
    for received_at, same in groupby(bulletins, key=lambda bulletin: bulletin.received_at):
        if len(cycles[-1]) >= CHUNK:
            cycles.append([])
        cycles[-1] += same
        if received_at > now:
            raise InputError(
                f"a bulletin was received at {received_at.isoformat()}, after now",
                where=cycles[-1][-1].source,
                remedy="check the clock, or --now",
            )
    return cycles if cycles[0] else []


def _ingest_cycle(
    engine: Store, cycle: list[Bulletin], progress: Progress | None, also: Also | None
) -> IngestCounts:
    by_digest: dict[str, Bulletin] = {}
    for bulletin in map(_storable, cycle):
        by_digest.setdefault(digest_of(bulletin), bulletin)
    with reading(engine) as conn:
        known = known_digests(conn, by_digest)
    # Decoding needs no lock, so none is held meanwhile.
    decoded: dict[str, tuple[Bulletin, Decoded]] = {}
    for done, (digest, bulletin) in enumerate(by_digest.items(), start=1):
        if digest not in known:
            decoded[digest] = bulletin, decode(bulletin)
        if progress and done % CHUNK == 0:
            progress(CHUNK)
    with writing(engine) as conn:
        new = add_bulletins(conn, decoded, decoder=str(DECODER_VERSION))
        if also:
            also(conn)
    if progress:
        progress(len(cycle) - len(by_digest) // CHUNK * CHUNK)
    refused = sum(isinstance(decoded[digest][1], Refusal) for digest in new)
    return IngestCounts(new=len(new) - refused, known=len(cycle) - len(new), refused=refused)


def _storable(bulletin: Bulletin) -> Bulletin:
    """Return it without NUL, which no database keeps in a text and no report has in it."""
    return replace(bulletin, raw=bulletin.raw.replace("\x00", " ")) if "\x00" in bulletin.raw else bulletin


def decode(bulletin: Bulletin) -> Decoded:
    """Return what the present decoder makes of a bulletin."""
    try:
        value = _decode(bulletin)
    except Exception as exc:  # noqa: BLE001 - a fault of the decoder in one report must not lose its neighbours
        # Its station is kept: what nobody could read may be worse than the older report, and must hide it.
        named = _NAMED.search(bulletin.raw)
        error = f"the decoder failed: {type(exc).__name__}: {exc}"
        return Refusal(error=error, station=named[1] if named else None)
    return Refusal(error=value.error, station=value.station) if isinstance(value, Unreadable) else value


def _decode(bulletin: Bulletin) -> Observation | Forecast | Levels | GuidanceHead | Unreadable:
    match bulletin.kind:
        case Kind.METAR:
            return decode_observation(bulletin.raw, received_at=bulletin.received_at)
        case Kind.TAF:
            return decode_forecast(bulletin.raw, received_at=bulletin.received_at)
        case Kind.WINDS:
            return decode_levels(bulletin.raw, received_at=bulletin.received_at)
        case Kind.GUIDANCE:
            return guidance_head(bulletin.raw, received_at=bulletin.received_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class Collected:
    """What one feed brought.

    ``unchanged``: it had nothing newer; ``errors``: parts of it that failed; ``notes``: what one should know.
    """

    fetched: int
    counts: IngestCounts
    unchanged: bool = False
    errors: tuple[FeedError, ...] = ()
    notes: tuple[str, ...] = ()


def collect(engine: Store, feed: Feed, kind: Kind, *, now: datetime, progress: Progress | None = None) -> Collected:
    """Fetch what a feed has of one kind, and store it; what it last answered is kept after that.

    Raises
    ------
    FeedError
        If the feed failed as a whole.
    """
    fetched = feed.fetch(kind, _since(engine))
    unusable = IngestCounts()

    def finish(conn: Reader) -> None:
        nonlocal unusable
        refused = add_unusable(conn, [(_storable(piece.bulletin), piece.error) for piece in fetched.unusable])
        unusable = IngestCounts(refused=refused, known=len(fetched.unusable) - refused)
        keep_validators(conn, [(v.url, v.etag, v.last_modified) for v in fetched.validators])

    counts = ingest(engine, fetched.bulletins, now=now, progress=progress, also=finish)
    return Collected(
        fetched=len(fetched.bulletins) + len(fetched.unusable),
        counts=counts + unusable,
        unchanged=fetched.unchanged,
        errors=fetched.errors,
    )


def collect_guidance(
    engine: Store,
    name: str,
    *,
    now: datetime,
    base_url: str | None,
    contact: str,
    go_on: Callable[[], bool] = lambda: True,
    progress: Progress | None = None,
) -> Collected:
    """Fetch one product of station guidance, and store what it says of the stations and airfields of the store.

    Raises
    ------
    FeedError
        If the feed failed, or the store knows no place to keep any for.
    """
    with reading(engine) as conn:
        wanted = wanted_stations(conn)
    if not wanted:
        raise FeedError(
            "no station and no airfield is known to keep guidance for",
            where=name,
            remedy="run first: refuge collect stations, or refuge import airfields",
        )
    feed = guidance_feed(
        name,
        received_at=now,
        wanted=wanted,
        base_url=base_url,
        settings=replace(SETTINGS, contact=contact),
        go_on=go_on,
    )
    return collect(engine, feed, Kind.GUIDANCE, now=now, progress=progress)


def collect_stations(engine: Store, feed: AwcFeed, *, now: datetime) -> Collected:
    """Fetch the list of stations, put it in place of the one in the store, and join the airfields to it anew.

    ``refused`` counts those that were left out: without a position, or neither reporting nor
    forecast. The reasons are kept with the import.

    Raises
    ------
    FeedError
        If the feed failed, or what it sent is no list of stations.
    """
    from refuge.gazetteer.stations import read_stations  # its neighbours need pandas
    from refuge.joining import join_stored  # needs the geodesic, which reports do not

    content, validators = feed.fetch_stations(_since(engine))
    if content is None:
        return Collected(fetched=0, counts=IngestCounts(), unchanged=True)
    try:
        stations, report = read_stations(content, where=validators.url)
    except InputError as exc:
        raise FeedError(exc.what, where=validators.url, remedy="try again later") from exc
    if not stations:
        raise FeedError("a list without one usable station", where=validators.url, remedy="try again later")
    read = sum(count for _, count in report.read)
    reasons = {f"{finding.outcome}: {finding.reason}": finding.count for finding in report.findings}
    refresh_stations(engine, stations, source=validators.url, imported_at=now, counts={"read": read} | reasons)
    join_stored(engine, None, imported_at=now)
    with writing(engine) as conn:
        keep_validators(conn, [(validators.url, validators.etag, validators.last_modified)])
    return Collected(
        fetched=read,
        counts=IngestCounts(new=len(stations), refused=read - len(stations)),
        notes=tuple(f"{reason}: {count:,}" for reason, count in reasons.items()),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RedecodeCounts:
    """What decoding anew changed. ``refused`` are those that the present decoder cannot read."""

    decoded: int = 0
    changed: int = 0
    refused: int = 0


def redecode(engine: Store, *, progress: Progress | None = None) -> RedecodeCounts:
    """Decode every stored bulletin anew with the present decoder; the raw texts and receipts stay."""
    decoded = changed = refused = last = 0
    while True:
        with reading(engine) as conn:
            chunk = bulletins_after(conn, last, limit=CHUNK)
        if not chunk:
            return RedecodeCounts(decoded=decoded, changed=changed, refused=refused)
        values = [(stored, decode(stored.bulletin)) for stored in chunk]
        with writing(engine) as conn:
            replace_decoded(
                conn,
                [(stored.id, stored.bulletin, value) for stored, value in values],
                decoder=str(DECODER_VERSION),
            )
        last = chunk[-1].id
        decoded += len(chunk)
        changed += sum(_differs(stored, value) for stored, value in values)
        refused += sum(isinstance(value, Refusal) for _, value in values)
        if progress:
            progress(len(chunk))


def _differs(stored: StoredBulletin, value: Decoded) -> bool:
    return stored.record != (None if isinstance(value, Refusal) else record_text(value))


def _since(engine: Store) -> dict[str, Validators]:
    with reading(engine) as conn:
        kept = kept_validators(conn)
    return {url: Validators(url=url, etag=etag, last_modified=modified) for url, etag, modified in kept}
