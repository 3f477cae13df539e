"""Tables of comma-separated text, read so that one bad line never loses its neighbours."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from operator import itemgetter

import pandas as pd

from refuge.errors import InputError
from refuge.gazetteer.packed import plain
from refuge.gazetteer.report import Tally

COLUMNS = {
    "airports": ("id", "ident", "type", "name", "latitude_deg", "longitude_deg", "elevation_ft", "iso_country"),
    "runways": (
        "id",
        "airport_ref",
        "length_ft",
        "width_ft",
        "surface",
        "lighted",
        "closed",
        "le_ident",
        "he_ident",
    ),
    "countries": ("code", "name", "continent"),
}
"""The columns by which a table is recognised, whatever its file is called."""
OPTIONAL = {
    "airports": ("icao_code", "gps_code", "local_code", "scheduled_service"),
    "runways": ("airport_ident", "le_heading_degT"),
    "countries": (),
}
"""Columns that older or cut tables may lack; they read as empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """The tables of one source as text; ``None`` where there was no such file."""

    airports: pd.DataFrame
    runways: pd.DataFrame | None = None
    countries: pd.DataFrame | None = None


def read_tables(files: Iterable[tuple[str, bytes]], tally: Tally) -> Tables:
    """Return the tables found among named files, each recognised by its header.

    Raises
    ------
    InputError
        If a file is none of the tables, a table comes twice, or there is no airports table.
    """
    found: dict[str, pd.DataFrame] = {}
    for name, data in files:
        lines = lines_of(plain(data, where=name))
        kind = table_kind(data, where=name)
        if kind is None:
            raise InputError(
                "not a table of airports, runways or countries",
                where=name,
                remedy="the first line must name OurAirports' columns (id, ident, type, name, ...)",
            )
        if kind in found:
            raise InputError(f"a second table of {kind}", where=name, remedy="give one file of each kind")
        found[kind] = frame_of(lines, kind, (*COLUMNS[kind], *OPTIONAL[kind]), tally)
    if "airports" not in found:
        raise InputError("there is no table of airports among the files", remedy="add airports.csv")
    return Tables(airports=found["airports"], runways=found.get("runways"), countries=found.get("countries"))


def table_kind(data: bytes, *, where: str) -> str | None:
    """Return which table a file holds (a key of `COLUMNS`), by its header; ``None`` if none of them."""
    header = set(next(csv.reader(lines_of(plain(data, where=where)[:10_000])[:1]), []))
    return next((kind for kind, columns in COLUMNS.items() if set(columns) <= header), None)


def lines_of(data: bytes) -> list[str]:
    """Return the lines of a text file."""
    # Not splitlines(): it would also tear a cell at U+2028 and a few others.
    return data.decode("utf-8-sig", errors="replace").replace("\r\n", "\n").split("\n")


def frame_of(lines: list[str], kind: str, columns: Sequence[str], tally: Tally) -> pd.DataFrame:
    """Return these columns of a table as text, one row a line; columns that it lacks are empty."""
    header, lines = next(csv.reader(lines[:1]), []), lines[1:]
    wanted = [column for column in columns if column in header]
    cells = itemgetter(*(header.index(column) for column in wanted))
    # A line with an odd count of quotes would swallow the lines after it.
    whole = [line for line in lines if not line.count('"') % 2]
    rows, torn = [], [line for line in lines if line.count('"') % 2]
    for line, row in zip(whole, _split(whole), strict=True):
        if len(row) == len(header):
            rows.append(cells(row))
        elif line.strip():
            torn.append(line)
    tally.add("dropped", f"damaged line of the {kind} table", [line[:40] for line in torn])
    frame = pd.DataFrame(rows, columns=wanted, dtype=object)
    for column in columns:
        if column not in frame:
            frame[column] = ""
    return frame


def _split(lines: list[str]) -> Iterator[list[str]]:
    """Yield the cells of each line; a line beyond what ``csv`` takes has none."""
    reader = csv.reader(lines)
    while True:
        try:
            yield next(reader)
        except StopIteration:
            return
        except csv.Error:
            yield []
