"""Bulletins from a file, or from every file of a folder: text, cache files, winds aloft, mixed."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import chain
from pathlib import Path

from refuge.errors import FeedError, InputError
from refuge.feeds.caches import CSV_HEADER, reports_from_csv, reports_from_xml
from refuge.feeds.feed import Fetched, Validators
from refuge.feeds.inflate import inflated
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.guidance_split import parted as guidance_parted
from refuge.weather.split import begins_report, is_forecast, split_reports
from refuge.weather.winds_aloft import split_winds

_WINDS = re.compile(r"^\s*DATA BASED ON \d{6}Z", re.MULTILINE)
_REPORT_LINE = re.compile(r"^\s*(?:(?:METAR|SPECI|TAF)\b|[A-Z][A-Z0-9]{3} \d{6}Z)", re.MULTILINE)
"""No line of a winds-aloft bulletin: its sites have three letters."""
_NAMED = re.compile(r"(?<![A-Z0-9])[A-Z][A-Z0-9]{3} \d{6}Z")
"""A station and a time, wherever in a damaged row they stand."""
_LOOK_BYTES = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class FileFeed:
    """What was read from a file or folder, as a feed; a file has no memory of what was taken before."""

    name: str
    everything: Fetched

    def fetch(self, kind: Kind, since: Mapping[str, Validators]) -> Fetched:  # noqa: ARG002 - see above
        """Return the bulletins of this kind (see `Feed`)."""
        return replace(
            self.everything,
            bulletins=tuple(b for b in self.everything.bulletins if b.kind is kind),
            unusable=tuple(u for u in self.everything.unusable if u.bulletin.kind is kind),
        )


def file_feed(path: Path, *, now: datetime, received_at: datetime | None = None) -> FileFeed:
    """Return the bulletins of a file, or of all files of a folder and its folders, hidden ones left out.

    The receipt is `received_at`, else the file's own time, `now` at the latest: what an old file
    says was known when it was written.

    Raises
    ------
    InputError
        If there is no such file or folder, no file in it, none that can be read, or no report in any.
        In a folder a file that cannot be read spoils no other: see ``Fetched.errors``.
    """
    if not path.exists():
        raise InputError("no such file or folder", where=str(path), remedy="check the path")
    files = [path] if path.is_file() else sorted(f for f in path.rglob("*") if f.is_file() and not _hidden(f, path))
    if not files:
        raise InputError("no file in this folder", where=str(path), remedy="check the path")
    parts: list[Fetched] = []
    errors: list[FeedError] = []
    for file in files:
        try:
            parts.append(read_file(file, received_at=received_at or min(_written_at(file), now)))
        except FeedError as exc:
            errors.append(exc)
    if not parts:
        raise InputError(errors[0].what, where=errors[0].where, remedy=errors[0].remedy) from errors[0]
    bulletins = tuple(chain.from_iterable(part.bulletins for part in parts))
    unusable = tuple(chain.from_iterable(part.unusable for part in parts))
    if not any(map(_like_report, chain(bulletins, (piece.bulletin for piece in unusable)))):
        raise InputError(
            "no report found", where=str(path),
            remedy="give reports or forecasts, such as KXYZ 101553Z ..., cache files, winds aloft or guidance",
        )  # fmt: skip
    return FileFeed(
        name=str(path), everything=Fetched(bulletins=bulletins, unusable=unusable, errors=tuple(errors))
    )


def _like_report(bulletin: Bulletin) -> bool:
    """Return whether a piece is a report or might have been one: that hides what is older, so it is kept."""
    if bulletin.kind in (Kind.WINDS, Kind.GUIDANCE):
        return True
    return begins_report(bulletin.raw) or _NAMED.search(bulletin.raw) is not None


def read_file(path: Path, *, received_at: datetime) -> Fetched:
    """Return the bulletins of one file, plain or gzip; what it holds is told by its content.

    Raises
    ------
    FeedError
        If it cannot be read, or is damaged as a whole.
    """
    try:
        content = path.read_bytes()
    except OSError as exc:
        raise FeedError(f"cannot be read: {exc.strerror}", where=str(path), remedy="check the permissions") from exc
    content = inflated(content, where=str(path))
    look = content[:_LOOK_BYTES].lstrip(b"\xef\xbb\xbf \r\n\t")
    if look.startswith(b"<"):
        kind = Kind.METAR if b"<METAR>" in look or b'name="metar' in look else Kind.TAF
        return reports_from_xml(content, kind=kind, source=str(path), received_at=received_at)
    if b"\x00" in look:
        raise FeedError("holds binary data, not bulletins", where=str(path), remedy="give text, CSV or XML")
    text = content.decode(errors="replace").removeprefix("\ufeff").replace("\x00", " ")
    if any(line.startswith(CSV_HEADER) for line in text[:_LOOK_BYTES].splitlines()):
        kind = Kind.TAF if ",issue_time," in text[:_LOOK_BYTES] else Kind.METAR
        return reports_from_csv(text, kind=kind, source=str(path), received_at=received_at)
    return Fetched(bulletins=tuple(bulletins_from_text(text, source=str(path), received_at=received_at)))


def bulletins_from_text(text: str, *, source: str, received_at: datetime) -> Iterator[Bulletin]:
    """Yield the bulletins of a text: winds aloft whole, guidance by station, the rest report by report."""
    others: list[str] = []
    for is_block, piece in guidance_parted(text):
        if is_block:
            yield Bulletin(kind=Kind.GUIDANCE, raw=piece, source=source, received_at=received_at)
        else:
            others.append(piece)
    winds, rest = _parted("\n\n".join(others))
    for raw in winds:
        yield Bulletin(kind=Kind.WINDS, raw=raw, source=source, received_at=received_at)
    for raw in split_reports(rest):
        kind = Kind.TAF if is_forecast(raw) else Kind.METAR
        yield Bulletin(kind=kind, raw=raw, source=source, received_at=received_at)


def _parted(text: str) -> tuple[list[str], str]:
    """Return the winds-aloft bulletins of a text, and what stands before, between and after them."""
    if not _WINDS.search(text):
        return [], text
    winds, rest = [], []
    left = text.replace("\r", "").replace("\x01", "").replace("\x03", "")
    for piece in split_winds(left):
        before, _, left = left.partition(piece.rstrip("\n"))
        report = _REPORT_LINE.search(piece)
        cut = report.start() if report else len(piece)
        winds.append(piece[:cut])
        rest += [before, piece[cut:]]
    return winds, "\n".join([*rest, left])


def _hidden(file: Path, root: Path) -> bool:
    return any(part.startswith(".") for part in file.relative_to(root).parts)


def _written_at(file: Path) -> datetime:
    return datetime.fromtimestamp(file.stat().st_mtime, UTC)
