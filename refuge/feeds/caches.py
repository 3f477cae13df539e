"""The weather service's cache files: rows of CSV, or elements of XML, one report each.

Only the raw text is decoded. The columns beside it were decoded by others (four columns share one
name, a variable wind is 0, bounds are lost); of them the station and the time are used, to check
that the text is whole and that its day of month means the day that the service says.
"""

import csv
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from xml.parsers import expat

from refuge.errors import FeedError, InputError
from refuge.feeds.feed import Fetched, Unusable
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.metar import past_instants
from refuge.zulu import iso, parse_instant

CSV_HEADER = "raw_text,station_id,"
_DDHHMMZ = re.compile(r"(?<!\S)(\d{2})(\d{2})(\d{2})Z(?!\S)")
_MISDATED = timedelta(hours=12)
"""More than any delay or slip between a text's own time and the column; less than the month that it may be off."""
_STATION_WITHIN_WORDS = 4
"""Before the station stand TAF or METAR, AMD or COR, at most twice."""


@dataclass(slots=True)
class _Sorted:
    """Rows taken and rows refused, in their order."""

    kind: Kind
    source: str
    received_at: datetime
    bulletins: list[Bulletin] = field(default_factory=list)
    unusable: list[Unusable] = field(default_factory=list)

    def take(self, raw: str, columns: Mapping[str, str], whole: str) -> None:
        """Take the report `raw`, or refuse the `whole` row that it stands in."""
        error = _fault(raw, columns, self.received_at)
        if error is None:
            self.bulletins.append(self._bulletin(raw))
        else:
            self.refuse(whole, error)

    def refuse(self, text: str, error: str) -> None:
        """Keep a piece that is no report, with the reason."""
        self.unusable.append(Unusable(bulletin=self._bulletin(text), error=error))

    def fetched(self) -> Fetched:
        return Fetched(bulletins=tuple(self.bulletins), unusable=tuple(self.unusable))

    def _bulletin(self, raw: str) -> Bulletin:
        return Bulletin(
            kind=self.kind, raw=raw.replace("\x00", " "), source=self.source, received_at=self.received_at
        )


def reports_from_csv(text: str, *, kind: Kind, source: str, received_at: datetime) -> Fetched:
    """Return the reports of a CSV cache; each line is read by itself, so that none spoils another.

    Lines before the header (the older form of the cache has five) say nothing of use.

    Raises
    ------
    FeedError
        If there is no header: this is something else.
    """
    lines = text.splitlines()
    start = next((n for n, line in enumerate(lines) if line.startswith(CSV_HEADER)), None)
    if start is None:
        raise FeedError(f"no line begins with {CSV_HEADER}", where=source, remedy="check the address")
    header = lines[start].split(",")
    rows = _Sorted(kind=kind, source=source, received_at=received_at)
    for line in lines[start + 1 :]:
        if not line.strip():
            continue
        cells = next(csv.reader([line]))
        if len(cells) == len(header):
            # Names that repeat lose all but one column here; none that is used repeats.
            rows.take(cells[0], dict(zip(header, cells, strict=True)), line)
        else:
            rows.refuse(line, f"{len(cells)} columns where the header has {len(header)}")
    return rows.fetched()


def reports_from_xml(content: bytes, *, kind: Kind, source: str, received_at: datetime) -> Fetched:
    """Return the reports of an XML cache; those before a damaged place are kept.

    Raises
    ------
    FeedError
        If the document declares a type or entities, or holds no data at all.
    """
    rows = _Sorted(kind=kind, source=source, received_at=received_at)
    reader = _XmlReader(tag=kind.value, take=lambda cells: rows.take(cells.get("raw_text", ""), cells, str(cells)))
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.CharacterDataHandler = reader.text
    parser.StartDoctypeDeclHandler = _refuse_doctype(source)
    try:
        for first in range(0, len(content), _XML_STEP):
            parser.Parse(content[first : first + _XML_STEP], False)  # noqa: FBT003 - expat takes no keyword
        parser.Parse(b"", True)  # noqa: FBT003
    except expat.ExpatError as exc:
        rows.refuse(f"XML document of {len(content)} bytes", f"damaged XML, read up to there: {exc}")
    if not reader.any_element:
        raise FeedError("no XML document", where=source, remedy="check the address")
    return rows.fetched()


_XML_STEP = 64 * 1024


@dataclass(slots=True)
class _XmlReader:
    """Gathers the direct children of each report element, and hands them over at its end."""

    tag: str
    take: Callable[[dict[str, str]], None]
    any_element: bool = False
    path: list[str] = field(default_factory=list)
    cells: dict[str, str] = field(default_factory=dict)

    def start(self, name: str, _attributes: dict[str, str]) -> None:
        self.any_element = True
        self.path.append(name)
        if name == self.tag:
            self.cells = {}

    def text(self, data: str) -> None:
        if len(self.path) > 1 and self.path[-2] == self.tag:
            self.cells[self.path[-1]] = self.cells.get(self.path[-1], "") + data

    def end(self, name: str) -> None:
        self.path.pop()
        if name == self.tag:
            self.take(self.cells)


def _refuse_doctype(source: str) -> Callable[[str, str | None, str | None, bool], None]:
    def refuse(_name: str, _system: str | None, _public: str | None, _internal: bool) -> None:  # noqa: FBT001
        raise FeedError("the XML declares a document type, which may hide entities: refused", where=source)

    return refuse


def _fault(raw: str, columns: Mapping[str, str], received_at: datetime) -> str | None:
    """Return why a row's text cannot be used, or ``None``."""
    words = raw.split()
    if not words:
        return "no raw text"
    station = columns.get("station_id", "").strip()
    if station and station not in words[:_STATION_WITHIN_WORDS]:
        return f"the row is of {station}, its text is not"
    stated = columns.get("observation_time") or columns.get("issue_time")
    match = _DDHHMMZ.search(raw)
    if not stated or match is None:
        return None
    try:
        told = parse_instant(stated)
    except InputError as exc:
        return f"the row's time: {exc.what}"
    read = past_instants(match, received_at)  # as the decoder will read it
    if read and abs(read[0] - told) > _MISDATED:
        return f"the row is of {iso(told)}; received at {iso(received_at)} its text would read as {iso(read[0])}"
    return None
