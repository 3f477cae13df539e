"""Aircraft files: TOML filled in from a flight manual, checked, and turned into an `Aircraft`."""

from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints

from refuge.aircraft import airframe, network
from refuge.aircraft.parts import Chemistry, Function, SourceKind
from refuge.errors import InputError
from refuge.files.compass_card import CompassCardTable
from refuge.files.toml import Strict, checked, parse_toml, read_toml

REMEDY = "fixtures/aircraft/template.toml explains each key"

Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
Name = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]*$")]


class FigureTable(Strict):
    """``{value = 110, basis = "65 % power, 6,000 ft", source = "flight manual 5-12"}``."""

    value: float
    basis: Words
    source: Words


class MinutesTable(Strict):
    """``{value = 30, from = "shed", shed_by_min = 5, basis = "...", source = "..."}``."""

    value: float = Field(ge=0)
    counts_from: Literal["failure", "shed"] = Field(alias="from")
    shed_by_min: float | None = Field(default=None, ge=0)
    unshed_ratio: float | None = Field(default=None, ge=1)
    basis: Words
    source: Words


class CheckTable(Strict):
    """``{percent = 92, on = 2026-02-01, source = "work order"}``."""

    percent: float = Field(ge=0, le=150)
    on: date
    source: Words


class CapacityTable(Strict):
    """``{value_ah = 24, rate_h = 1, ...}``: understood, and not computed yet."""

    value_ah: float = Field(gt=0)
    rate_h: float = Field(gt=0)
    basis: Words
    source: Words


class SourceTable(Strict):
    """One ``[source.NAME]``."""

    kind: SourceKind
    minutes: MinutesTable | None = None
    capacity: CapacityTable | None = None
    chemistry: Chemistry | None = None
    in_service: date | None = None
    check: CheckTable | None = None
    ready: bool | None = None


class BusTable(Strict):
    """One ``[bus.NAME]``."""

    fed_by: list[Name]


class LoadTable(Strict):
    """One ``[load.NAME]``; ``fed_by = "nothing"`` is a load that needs no supply."""

    fed_by: list[Name] | Literal["nothing"]
    gives: list[Function]
    own_light: bool = False
    primary_display: bool = False
    shed: bool = False
    amps: FigureTable | None = None


class AircraftFile(Strict):
    """The whole file."""

    id: Name
    name: Words
    cruise_tas_kt: FigureTable
    descent_ft_min: FigureTable
    fuel_reserve_min: FigureTable | None = None
    recognition_min: FigureTable | None = None
    warning_light: bool
    approved_for_icing: bool
    alternate_static: bool
    engine_electric: bool
    fuel_feed_electric: bool
    compass_card: CompassCardTable | None = None
    source: dict[Name, SourceTable]
    bus: dict[Name, BusTable] = Field(default_factory=dict)
    load: dict[Name, LoadTable]


def load_aircraft(path: Path) -> airframe.Aircraft:
    """Return the aircraft that a file describes.

    Raises
    ------
    InputError
        If the file cannot be read or used: every fault, with its key and what to do.
    """
    return _checked_aircraft(read_toml(path), str(path))


def parse_aircraft(text: str, where: str) -> airframe.Aircraft:
    """Return the aircraft that the text of such a file, from `where`, describes.

    Raises
    ------
    InputError
        As `load_aircraft` does.
    """
    return _checked_aircraft(parse_toml(text, where), where)


def _checked_aircraft(content: dict[str, Any], where: str) -> airframe.Aircraft:
    tables = checked(AircraftFile, content, where=where, remedy=REMEDY)
    _refuse_capacities(tables, where)
    try:
        return _aircraft(tables)
    except InputError as exc:
        raise InputError(exc.what, where=where, remedy=exc.remedy) from exc


def _refuse_capacities(tables: AircraftFile, where: str) -> None:
    bare = [name for name, source in tables.source.items() if source.capacity and source.minutes is None]
    if bare:
        raise InputError(
            f"source.{' and source.'.join(bare)}: a capacity in Ah is not computed yet",
            where=where,
            remedy="give `minutes`, the published duration of the flight manual",
        )


def _aircraft(tables: AircraftFile) -> airframe.Aircraft:
    figures = {
        key: figure
        for key in ("cruise_tas_kt", "descent_ft_min", "fuel_reserve_min", "recognition_min")
        if (figure := getattr(tables, key)) is not None
    }
    reserve, recognition = tables.fuel_reserve_min, tables.recognition_min
    return airframe.Aircraft(
        id=tables.id,
        name=tables.name,
        cruise_tas_kt=tables.cruise_tas_kt.value,
        descent_ft_min=tables.descent_ft_min.value,
        fuel_reserve_min=airframe.FUEL_RESERVE_MIN if reserve is None else reserve.value,
        recognition_given_min=None if recognition is None else recognition.value,
        warning_light=tables.warning_light,
        approved_for_icing=tables.approved_for_icing,
        alternate_static=tables.alternate_static,
        engine_electric=tables.engine_electric,
        fuel_feed_electric=tables.fuel_feed_electric,
        network=_network(tables),
        compass_card=None if tables.compass_card is None else tables.compass_card.card(),
        provenance={
            key: airframe.Provenance(basis=figure.basis, source=figure.source) for key, figure in figures.items()
        },
    )


def _network(tables: AircraftFile) -> network.Network:
    return network.Network(
        sources={name: _source(name, table) for name, table in tables.source.items()},
        buses={name: network.Bus(id=name, fed_by=tuple(table.fed_by)) for name, table in tables.bus.items()},
        loads={name: _load(name, table) for name, table in tables.load.items()},
    )


def _source(name: str, table: SourceTable) -> network.Source:
    minutes, check = table.minutes, table.check
    return network.Source(
        id=name,
        kind=table.kind,
        duration=None
        if minutes is None
        else network.Duration(
            minutes=minutes.value,
            counts_from=minutes.counts_from,
            shed_by_min=minutes.shed_by_min,
            unshed_ratio=minutes.unshed_ratio,
            basis=minutes.basis,
            source=minutes.source,
        ),
        chemistry=table.chemistry,
        in_service=table.in_service,
        check=None
        if check is None
        else network.CapacityCheck(percent=check.percent, on=check.on, source=check.source),
        ready=table.ready,
    )


def _load(name: str, table: LoadTable) -> network.Load:
    return network.Load(
        id=name,
        fed_by=() if table.fed_by == "nothing" else tuple(table.fed_by),
        gives=tuple(table.gives),
        own_light=table.own_light,
        primary_display=table.primary_display,
        shed=table.shed,
    )
