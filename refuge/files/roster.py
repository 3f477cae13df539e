"""A roster: one flight a line of a CSV file, with the aircraft that may fly it."""

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from refuge.errors import InputError
from refuge.flight.briefing import BadRow

REQUIRED = ("flight", "from", "to", "departs", "aircraft", "minimums")
NUMBERS = ("altitude_ft", "lowest_safe_ft", "oat_c", "soak_c", "fuel_min", "margin_min")
OPTIONAL = ("via", "wind", "failure", *NUMBERS)
FLAGS = ("torch", "handheld")
REMEDY = f"columns {', '.join(REQUIRED)}; and, where wanted, {', '.join((*OPTIONAL, *FLAGS))}"
_OTHER_MARKS = {";": "semicolons", "\t": "tabs", "|": "upright strokes"}
_YES, _NO = {"yes", "true", "1", "x"}, {"", "no", "false", "0"}


@dataclass(frozen=True, slots=True, kw_only=True)
class RosterRow:
    """One flight of a roster: its cells by column, and the aircraft that may fly it."""

    line: int
    cells: Mapping[str, str]
    aircraft: tuple[str, ...]

    @property
    def places(self) -> tuple[str, ...]:
        """Return the places of the way in order; those between are parted by semicolons."""
        return tuple(place for _, place in self.named_places)

    @property
    def named_places(self) -> tuple[tuple[str, str], ...]:
        """Return the same, each with the column that it stands in."""
        via = (place.strip() for place in self.cells["via"].split(";"))
        between = (("via", place) for place in via if place)
        return ("from", self.cells["from"]), *between, ("to", self.cells["to"])

    def number(self, column: str) -> float | None:
        """Return the number of a cell, ``None`` where it is empty.

        Raises
        ------
        InputError
            If it is no number.
        """
        text = self.cells[column]
        if not text:
            return None
        try:
            return float(text)
        except ValueError as exc:
            raise InputError(f"{text!r} is no number", where=column, remedy="write a plain number") from exc

    def flag(self, column: str) -> bool:
        """Return whether a cell says yes.

        Raises
        ------
        InputError
            If it says neither yes nor no.
        """
        text = self.cells[column].lower()
        if text not in _YES | _NO:
            raise InputError(f"{text!r} is neither yes nor no", where=column, remedy="write yes or no")
        return text in _YES


def load_roster(path: Path) -> list[RosterRow | BadRow]:
    """Return the rows of a roster file, good and bad, in their order.

    Raises
    ------
    InputError
        If the file cannot be read, lacks a column, or has no row.
    """
    return list(parse_roster(_text(path), str(path)))


def load_heading(path: Path) -> None:
    """Refuse a roster file that can be none, whatever rows it will have: it is read anew when it is wanted.

    Raises
    ------
    InputError
        If the file cannot be read, or lacks a column.
    """
    for _ in _read(_text(path), str(path)):
        pass


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as exc:
        raise InputError("it is no UTF-8", where=str(path), remedy="save it as CSV in UTF-8") from exc
    except OSError as exc:
        raise InputError(f"cannot be read: {exc.strerror}", where=str(path), remedy="name a CSV file") from exc


def parse_roster(text: str, where: str) -> Iterator[RosterRow | BadRow]:
    """Yield the rows of a roster's text, good and bad.

    Raises
    ------
    InputError
        If a column is missing, unknown or there twice, the text is no CSV, or it has no row at all.
    """
    none = True
    for row in _read(text, where):
        none = False
        yield row
    if none:
        raise InputError("the roster has no flight", where=where, remedy="write a row for each flight")


def _read(text: str, where: str) -> Iterator[RosterRow | BadRow]:
    try:
        yield from _rows(csv.DictReader(io.StringIO(text, newline=""), restkey=""), where)
    except csv.Error as exc:
        raise InputError(f"it is no CSV: {exc}", where=where, remedy=REMEDY) from exc


def _rows(reader: "csv.DictReader[str]", where: str) -> Iterator[RosterRow | BadRow]:
    columns = [name.strip() for name in reader.fieldnames or ()]
    reader.fieldnames = columns
    _check_heading(columns, where)
    seen: dict[tuple[str, ...], int] = {}
    for raw in reader:
        if not any(raw.values()):
            continue
        row = _row(raw, reader.line_num)
        if isinstance(row, RosterRow):
            first = seen.setdefault(tuple(row.cells.values()), row.line)
            if first != row.line:
                row = BadRow(
                    line=row.line, flight=row.cells["flight"], reason=f"the same as line {first}: left out"
                )
        yield row


def _check_heading(columns: list[str], where: str) -> None:
    missing = [name for name in REQUIRED if name not in columns]
    unknown = [name for name in columns if name not in {*REQUIRED, *OPTIONAL, *FLAGS}]
    twice = [name for name in (*REQUIRED, *OPTIONAL, *FLAGS) if columns.count(name) > 1]
    faults = [
        *(f"no column {name}" for name in missing),
        *(f"unknown column {name!r}" for name in unknown),
        *(f"column {name} is there twice" for name in twice),
    ]
    for mark, said in _OTHER_MARKS.items():
        if missing and len(columns) < len(REQUIRED) and any(mark in name for name in columns):
            faults = [f"columns are separated by commas: this file seems to use {said}"]
    if faults:
        raise InputError("; ".join(faults), where=where, remedy=REMEDY)


def _row(raw: Mapping[str, str | list[str] | None], line: int) -> RosterRow | BadRow:
    flight = str(raw.get("flight") or "").strip()
    cells = {name: str(raw.get(name) or "").strip() for name in (*REQUIRED, *OPTIONAL, *FLAGS)}
    empty = [name for name in REQUIRED if not cells[name]]
    faults = ["it has not as many cells as the heading"] if "" in raw or None in raw.values() else []
    if empty:
        faults.append(f"nothing stands under {', '.join(empty)}")
    if faults:
        return BadRow(line=line, flight=flight, reason="; ".join(faults))
    return RosterRow(line=line, cells=cells, aircraft=tuple(dict.fromkeys(cells["aircraft"].split())))
