"""Station guidance as NOAA publishes it: one file a run, of thousands of stations, read as a stream.

Paths as used in public code (data/README.md, 'Station guidance'): the National Blend in an open
bucket and on NOMADS, LAMP on NOMADS. A run appears some time after its hour, so the newest that is
there is asked for; only blocks of stations that somebody wants are kept.
"""

from collections.abc import Callable, Container, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial

from refuge.errors import AbsentError, FeedError, InputError
from refuge.feeds.feed import Fetched, Validators
from refuge.feeds.http import HttpSettings, stream
from refuge.feeds.inflate import MAX_BYTES
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.guidance import PRODUCTS, Product
from refuge.weather.guidance_split import GuidanceSplitter

NOMADS = "https://nomads.ncep.noaa.gov"
BUCKET = "https://noaa-nbm-grib2-pds.s3.amazonaws.com"
_LAMP = "/pub/data/nccf/com/lmp/prod/lmp.{run:%Y%m%d}/lmp.t{run:%H}30z.{name}.ascii"
_BLEND = "blend.{run:%Y%m%d}/{run:%H}/text/blend_{name}.t{run:%H}z"
_LAMP_NAMES: Mapping[Product, str] = {"LAV": "lavtxt", "LEV": "lavtxt_ext"}
_BLEND_NAMES: Mapping[Product, str] = {"NBH": "nbhtx", "NBS": "nbstx"}
_BLEND_ON_NOMADS = "/pub/data/nccf/com/blend/prod/"
LOOKS_BACK_H = 4
"""Runs asked for: runs come every hour, and appear within two (from memory)."""
SETTINGS = HttpSettings(deadline_s=300.0, max_packed_bytes=MAX_BYTES)
"""For one file of tens of megabytes, sent unpacked."""
MAX_KEPT_CHARS = 128 * 1024 * 1024
"""Blocks held at once: 9,000 stations come to 30 MB."""


GoOn = Callable[[], bool]
"""Says whether to go on."""


def _always() -> bool:
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidanceFeed:
    """One product, asked for now; `wanted` are the stations to keep, all for ``None``.

    ``base_url`` names another service that has NOMADS's paths. ``received_at`` is the receipt of all.
    ``go_on`` is asked before each request and each piece of an answer: a file takes minutes.
    """

    product: Product
    received_at: datetime
    wanted: Container[str] | None = None
    base_url: str | None = None
    settings: HttpSettings = SETTINGS
    go_on: GoOn = _always

    @property
    def name(self) -> str:
        """Return the address of the service."""
        return self.base_url or (NOMADS if self.product in _LAMP_NAMES else BUCKET)

    def fetch(self, kind: Kind, since: Mapping[str, Validators]) -> Fetched:
        """Return the wanted blocks of the newest run that is there, unless it was had by `since` (see `Feed`)."""
        if kind is not Kind.GUIDANCE:
            raise FeedError(f"has no {kind}", where=self.name)
        failed: FeedError | None = None
        for addresses in self._services():
            for address in addresses:
                _check_told(self.go_on, address)
                try:
                    return self._fetched(address, since)
                except AbsentError as exc:
                    failed = failed or exc
                except FeedError as exc:
                    failed = exc
                    break
        if failed is None:
            raise FeedError("no run was asked for", where=self.name)
        if isinstance(failed, AbsentError):
            what = f"none of the last {LOOKS_BACK_H} runs of {self.product} is there"
            raise FeedError(what, where=failed.where or self.name, remedy=failed.remedy) from failed
        raise failed

    def _services(self) -> Iterator[list[str]]:
        """Yield for each service the addresses of its newest runs, newest first."""
        made = self.received_at.replace(minute=0, second=0, microsecond=0)
        runs = [made - timedelta(hours=back) for back in range(LOOKS_BACK_H)]
        root = (self.base_url or NOMADS).rstrip("/")
        if name := _LAMP_NAMES.get(self.product):
            half = timedelta(minutes=30)
            yield [root + _LAMP.format(run=run, name=name) for run in runs if run + half <= self.received_at]
            return
        name = _BLEND_NAMES[self.product]
        if not self.base_url:
            yield [f"{BUCKET}/{_BLEND.format(run=run, name=name)}" for run in runs]
        yield [root + _BLEND_ON_NOMADS + _BLEND.format(run=run, name=name) for run in runs]

    def _fetched(self, address: str, since: Mapping[str, Validators]) -> Fetched:
        sink, validators = stream(
            address, fresh=partial(_Blocks, self.wanted, address, self.go_on), since=since, settings=self.settings
        )
        if sink is None:
            return Fetched(unchanged=True)
        blocks = sink.finished()
        if not sink.any_header:
            raise FeedError("no station's block in it", where=address, remedy="check the address")
        return Fetched(
            bulletins=tuple(
                Bulletin(kind=Kind.GUIDANCE, raw=raw, source=address, received_at=self.received_at)
                for raw in blocks
            ),
            validators=(replace(validators, url=address),),
        )


def guidance_feed(
    name: str,
    *,
    received_at: datetime,
    wanted: Container[str] | None,
    base_url: str | None,
    settings: HttpSettings,
    go_on: GoOn = _always,
) -> GuidanceFeed:
    """Return the feed of the product of this name, in capitals or not.

    Raises
    ------
    InputError
        If there is no such product.
    """
    product = next((each for each in PRODUCTS if each == name.upper()), None)
    if product is None:
        raise InputError("no product of guidance", where=name, remedy=f"name {', '.join(PRODUCTS)}")
    return GuidanceFeed(
        product=product, received_at=received_at, wanted=wanted, base_url=base_url, settings=settings, go_on=go_on
    )


def _check_told(go_on: GoOn, address: str) -> None:
    if not go_on():
        raise FeedError("told to stop before all had come", where=address)


class _Blocks:
    """Takes a file piece by piece, and keeps the blocks that are wanted."""

    _LONGEST_LINE = 1 << 16

    def __init__(self, wanted: Container[str] | None, address: str, go_on: GoOn) -> None:
        self._splitter = GuidanceSplitter(wanted)
        self._address = address
        self._go_on = go_on
        self._rest = ""
        self._kept: list[str] = []
        self._kept_chars = 0
        self.any_header = False

    def feed(self, piece: bytes) -> None:
        """Take the next piece; a line may go on in the one after it."""
        _check_told(self._go_on, self._address)
        text = self._rest + piece.decode("ascii", errors="replace")
        *lines, self._rest = text.split("\n")
        if len(self._rest) > self._LONGEST_LINE:
            raise FeedError("a line without end", where=self._address, remedy="check the address")
        self._lines(text, lines)

    def finished(self) -> list[str]:
        """Return the blocks, the last one too."""
        self._lines(self._rest, [self._rest])
        if (last := self._splitter.close()) is not None:
            self._keep(last)
        return self._kept

    def _lines(self, text: str, lines: list[str]) -> None:
        self.any_header = self.any_header or "GUIDANCE" in text
        for block in self._splitter.push_all(lines):
            self._keep(block)

    def _keep(self, block: str) -> None:
        self._kept.append(block)
        self._kept_chars += len(block)
        if self._kept_chars > MAX_KEPT_CHARS:
            raise FeedError(
                f"more than {MAX_KEPT_CHARS:,} characters of wanted stations",
                where=self._address,
                remedy="import fewer airfields",
            )
