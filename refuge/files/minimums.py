"""Minimums files: what a school and a pilot ask for, checked against the floor."""

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints

from refuge.errors import InputError
from refuge.files.toml import Strict, checked, parse_toml, read_toml
from refuge.flight.minimums import Minimums, Wanted, strictest

REMEDY = "fixtures/minimums/template.toml explains each key"

Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]


class LimitsTable(Strict):
    """``{ceiling_ft = 3000, visibility_sm = 6}``; either may be left out."""

    ceiling_ft: float | None = Field(default=None, gt=0)
    visibility_sm: float | None = Field(default=None, gt=0)


class SchoolTable(Strict):
    """``[school]``, or what a pilot may set too."""

    source: Words
    day: LimitsTable = LimitsTable()
    night: LimitsTable | Literal["not planned"] = LimitsTable()
    runway_length_ft: float | None = Field(default=None, gt=0)
    hard_surface: bool | None = None
    no_private: bool | None = None
    max_crosswind_kt: float | None = Field(default=None, ge=0)
    margin_min: float | None = Field(default=None, ge=0)


class PilotTable(SchoolTable):
    """``[pilot]``."""

    adverse: list[Words] = Field(default_factory=list)


class MinimumsFile(Strict):
    """The whole file."""

    id: Words
    school: SchoolTable | None = None
    pilot: PilotTable | None = None


def load_minimums(path: Path) -> Minimums:
    """Return the minimums that a file asks for, the floor and what was raised included.

    Raises
    ------
    InputError
        If the file cannot be read or used, or asks for less than the floor.
    """
    return _checked_minimums(read_toml(path), str(path))


def parse_minimums(text: str, where: str) -> Minimums:
    """Return the minimums that the text of such a file, from `where`, asks for.

    Raises
    ------
    InputError
        As `load_minimums` does.
    """
    return _checked_minimums(parse_toml(text, where), where)


def _checked_minimums(content: dict[str, Any], where: str) -> Minimums:
    tables = checked(MinimumsFile, content, where=where, remedy=REMEDY)
    try:
        return strictest(school=_wanted(tables.school), pilot=_wanted(tables.pilot), name=tables.id)
    except InputError as exc:
        raise InputError(exc.what, where=where, remedy=exc.remedy) from exc


def _wanted(table: SchoolTable | None) -> Wanted | None:
    if table is None:
        return None
    night = LimitsTable() if table.night == "not planned" else table.night
    return Wanted(
        day_ceiling_ft=table.day.ceiling_ft,
        day_visibility_sm=table.day.visibility_sm,
        night="not planned" if table.night == "not planned" else None,
        night_ceiling_ft=night.ceiling_ft,
        night_visibility_sm=night.visibility_sm,
        runway_length_ft=table.runway_length_ft,
        hard_surface=table.hard_surface,
        no_private=table.no_private,
        max_crosswind_kt=table.max_crosswind_kt,
        margin_min=table.margin_min,
        adverse=tuple(table.adverse) if isinstance(table, PilotTable) else (),
    )
