"""Aircraft files: TOML filled in from a flight manual, checked, and turned into an `Aircraft`."""

from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints

from refuge.aircraft import airframe, parts
from refuge.aircraft.network import Network
from refuge.aircraft.parts import Chemistry, Function, SourceKind, TakeOver
from refuge.errors import InputError
from refuge.files import plausible
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


class TasTable(FigureTable):
    """A true airspeed, kt."""

    value: Annotated[float, plausible.TAS_KT]


class DescentTable(FigureTable):
    """A rate of descent, ft/min."""

    value: Annotated[float, plausible.DESCENT_FT_MIN]


class ClimbTable(FigureTable):
    """A rate of climb, ft/min."""

    value: Annotated[float, plausible.CLIMB_FT_MIN]


class ReserveTable(FigureTable):
    """Fuel that is not planned on, minutes."""

    value: Annotated[float, plausible.RESERVE_MIN]


class RecognitionTable(FigureTable):
    """The time to notice a failure and to shed, minutes."""

    value: Annotated[float, plausible.RECOGNITION_MIN]


class LandingTable(FigureTable):
    """How long the landing load is carried, minutes."""

    value: Annotated[float, plausible.LANDING_MIN]


class RatedTable(FigureTable):
    """The output of an alternator, A."""

    value: Annotated[float, plausible.RATED_A]


class MinutesTable(Strict):
    """``{value = 30, from = "shed", shed_by_min = 5, basis = "...", source = "..."}``."""

    value: Annotated[float, plausible.DURATION_MIN]
    counts_from: Literal["failure", "shed"] = Field(alias="from")
    shed_by_min: Annotated[float, plausible.SHED_BY_MIN] | None = None
    unshed_ratio: Annotated[float, plausible.UNSHED_RATIO] | None = None
    basis: Words
    source: Words


class CheckTable(Strict):
    """``{percent = 92, on = 2026-02-01, source = "work order"}``."""

    percent: float = Field(ge=0, le=150)
    on: date
    source: Words


class CapacityTable(Strict):
    """``{value_ah = 24, rate_h = 1, peukert = 1.15, basis = "...", source = "..."}``."""

    value_ah: Annotated[float, plausible.CAPACITY_AH]
    rate_h: Annotated[float, plausible.RATE_H]
    peukert: Annotated[float, plausible.PEUKERT] | None = None
    basis: Words
    source: Words


class ChargeTable(Strict):
    """``{percent = 95, basis = "...", source = "..."}``."""

    percent: float = Field(ge=0, le=100)
    basis: Words
    source: Words


class WarmingTable(Strict):
    """``{c_per_h = 10, up_to_c = 15, basis = "...", source = "..."}``."""

    c_per_h: Annotated[float, plausible.WARMING_C_PER_H]
    up_to_c: Annotated[float, plausible.WARMED_C]
    basis: Words
    source: Words


class AmpsTable(FigureTable):
    """``{value = 6.5, duty = 0.1, basis = "...", source = "..."}``: `duty` is the share of the time it is on."""

    value: Annotated[float, plausible.LOAD_A]
    duty: float = Field(default=1.0, gt=0, le=1)


class SourceTable(Strict):
    """One ``[source.NAME]``."""

    kind: SourceKind
    minutes: MinutesTable | None = None
    capacity: CapacityTable | None = None
    chemistry: Chemistry | None = None
    in_service: date | None = None
    check: CheckTable | None = None
    ready: bool | None = None
    charge: ChargeTable | None = None
    warming: WarmingTable | None = None
    rated_a: RatedTable | None = None


class FeederTable(Strict):
    """``{from = "standby_battery", takes_over = "by hand"}``."""

    name: Name = Field(alias="from")
    takes_over: TakeOver


class BusTable(Strict):
    """One ``[bus.NAME]``: a feeder that is a name alone takes over by itself."""

    fed_by: list[Name | FeederTable]


class LoadTable(Strict):
    """One ``[load.NAME]``; ``fed_by = "nothing"`` is a load that needs no supply."""

    fed_by: list[Name] | Literal["nothing"]
    gives: list[Function]
    own_light: bool = False
    primary_display: bool = False
    shed: bool = False
    landing: bool = False
    amps: AmpsTable | None = None


class ShedTable(Strict):
    """One ``[[shed]]``, in the order of the checklist."""

    loads: list[Name] = Field(min_length=1)
    by: Literal["pilot", "automatic"]
    after_min: float = Field(default=0.0, ge=0)
    source: Words


class AircraftFile(Strict):
    """The whole file."""

    id: Name
    name: Words
    cruise_tas_kt: TasTable
    descent_ft_min: DescentTable
    climb_ft_min: ClimbTable | None = None
    climb_tas_kt: TasTable | None = None
    fuel_reserve_min: ReserveTable | None = None
    recognition_min: RecognitionTable | None = None
    landing_min: LandingTable | None = None
    warning_light: bool
    approved_for_icing: bool
    alternate_static: bool
    engine_electric: bool
    fuel_feed_electric: bool
    compass_card: CompassCardTable | None = None
    source: dict[Name, SourceTable]
    bus: dict[Name, BusTable] = Field(default_factory=dict)
    load: dict[Name, LoadTable]
    shed: list[ShedTable] = Field(default_factory=list)


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
    try:
        return _aircraft(tables)
    except InputError as exc:
        raise InputError(exc.what, where=where, remedy=exc.remedy) from exc


def _aircraft(tables: AircraftFile) -> airframe.Aircraft:
    figures = {
        key: figure
        for key in (
            "cruise_tas_kt",
            "descent_ft_min",
            "climb_ft_min",
            "climb_tas_kt",
            "fuel_reserve_min",
            "recognition_min",
            "landing_min",
        )
        if (figure := getattr(tables, key)) is not None
    }
    reserve, recognition, landing = tables.fuel_reserve_min, tables.recognition_min, tables.landing_min
    return airframe.Aircraft(
        id=tables.id,
        name=tables.name,
        cruise_tas_kt=tables.cruise_tas_kt.value,
        descent_ft_min=tables.descent_ft_min.value,
        climb_ft_min=None if tables.climb_ft_min is None else tables.climb_ft_min.value,
        climb_tas_kt=None if tables.climb_tas_kt is None else tables.climb_tas_kt.value,
        fuel_reserve_min=airframe.FUEL_RESERVE_MIN if reserve is None else reserve.value,
        landing_min=airframe.LANDING_MIN if landing is None else landing.value,
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


def _network(tables: AircraftFile) -> Network:
    return Network(
        sources={name: _source(name, table) for name, table in tables.source.items()},
        buses={name: _bus(name, table) for name, table in tables.bus.items()},
        loads={name: _load(name, table) for name, table in tables.load.items()},
        sheds=tuple(
            parts.Shed(loads=tuple(table.loads), by=table.by, after_min=table.after_min, source=table.source)
            for table in tables.shed
        ),
    )


def _bus(name: str, table: BusTable) -> parts.Bus:
    named = [feeder for feeder in table.fed_by if isinstance(feeder, FeederTable)]
    return parts.Bus(
        id=name,
        fed_by=tuple(feeder.name if isinstance(feeder, FeederTable) else feeder for feeder in table.fed_by),
        takes_over={feeder.name: feeder.takes_over for feeder in named},
    )


def _figure(table: FigureTable | None) -> parts.Figure | None:
    return None if table is None else parts.Figure(value=table.value, basis=table.basis, source=table.source)


def _source(name: str, table: SourceTable) -> parts.Source:
    check, charge = table.check, table.charge
    return parts.Source(
        id=name,
        kind=table.kind,
        duration=None if table.minutes is None else _duration(table.minutes),
        capacity=None if table.capacity is None else _capacity(table.capacity),
        chemistry=table.chemistry,
        in_service=table.in_service,
        check=None
        if check is None
        else parts.CapacityCheck(percent=check.percent, on=check.on, source=check.source),
        ready=table.ready,
        charge=None
        if charge is None
        else parts.Figure(value=charge.percent, basis=charge.basis, source=charge.source),
        warming=None if table.warming is None else parts.Warming(**table.warming.model_dump()),
        rated_a=_figure(table.rated_a),
    )


def _duration(table: MinutesTable) -> parts.Duration:
    return parts.Duration(
        minutes=table.value,
        counts_from=table.counts_from,
        shed_by_min=table.shed_by_min,
        unshed_ratio=table.unshed_ratio,
        basis=table.basis,
        source=table.source,
    )


def _capacity(table: CapacityTable) -> parts.Capacity:
    return parts.Capacity(
        ah=table.value_ah,
        rate_h=table.rate_h,
        peukert=table.peukert,
        basis=table.basis,
        source=table.source,
    )


def _load(name: str, table: LoadTable) -> parts.Load:
    return parts.Load(
        id=name,
        fed_by=() if table.fed_by == "nothing" else tuple(table.fed_by),
        gives=tuple(table.gives),
        own_light=table.own_light,
        primary_display=table.primary_display,
        shed=table.shed,
        landing=table.landing,
        amps=_figure(table.amps),
        duty=1.0 if table.amps is None else table.amps.duty,
    )
