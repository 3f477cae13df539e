"""From what a person names to what a question holds: files by id, the margin, the endurance of that flight."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import Failure, FlightState
from refuge.aircraft.endurance import MARGIN_MIN, Endurance, endurance
from refuge.ask import Weather, weather_as_of
from refuge.config import user_folder
from refuge.earth import Position
from refuge.files.aircraft import load_aircraft
from refuge.files.lookup import find_file
from refuge.files.minimums import load_minimums
from refuge.flight.minimums import Minimums
from refuge.flight.wind_fields import LevelTemperature
from refuge.ingest import ingest
from refuge.packaged import packaged
from refuge.store.engine import reading
from refuge.store.hearing import hearing_as_of
from refuge.store.opening import opened_store
from refuge.sun import is_day
from refuge.weather.bulletin import Bulletin

DEMO_STORE = "refuge-demo"
"""A store of this name finds the demo's aircraft and minimums by id; no other does."""
LOOKS_AHEAD = timedelta(hours=2)
ASSUMED_ALTITUDE_FT = 10_000.0
"""Where no level is given: high, since a longer way down and colder air never help."""


def load_parties(aircraft: str, minimums: str, store: str | None) -> tuple[Aircraft, Minimums]:
    """Return the aircraft and the minimums that files or ids name.

    Raises
    ------
    InputError
        If there is no such file or id, or what it holds cannot be used.
    """
    return (
        load_aircraft(find_file(aircraft, kind="aircraft", folders=_folders("aircraft", store))),
        load_minimums(find_file(minimums, kind="minimums", folders=_folders("minimums", store))),
    )


def _folders(kind: str, store: str | None) -> list[Path]:
    found = [user_folder() / kind]
    if store is not None and Path(store).name.startswith(DEMO_STORE):
        found.append(packaged("demo") / kind)
    return found


def weather_of_bulletins(bulletins: Iterable[Bulletin], now: datetime) -> Weather:
    """Return the weather that these bulletins give, as of `now`, by the way that every bulletin goes.

    They are taken into a store in memory, so that corrections, misdated and unreadable texts count as they
    do in a store that is kept.
    """
    with opened_store(":memory:") as engine:
        ingest(engine, (b for b in bulletins if b.received_at <= now), now=now)
        with reading(engine) as conn:
            names = {name for name, _ in hearing_as_of(conn, now)}
            return weather_as_of(conn, now, names)


def margin_of(minimums: Minimums, wanted_min: float | None) -> tuple[float, tuple[str, ...]]:
    """Return the margin that counts and what to say of it: a pilot may want more, never less than the school."""
    least = minimums.margin_min
    if wanted_min is None:
        return (MARGIN_MIN if least is None else least), ()
    if least is not None and wanted_min < least:
        return least, (f"a margin of {wanted_min:g} min was asked for, the minimums keep {least:g}",)
    if wanted_min < MARGIN_MIN:
        return wanted_min, (f"a margin of {wanted_min:g} min is less than the usual {MARGIN_MIN:g}",)
    return wanted_min, ()


def altitude_of(given_ft: float | None, lowest_safe_ft: float | None) -> float:
    """Return the cruising level to reckon with: the one given, else 10,000 ft, and never below the lowest safe."""
    assumed = ASSUMED_ALTITUDE_FT if given_ft is None else given_ft
    return assumed if lowest_safe_ft is None else max(assumed, lowest_safe_ft)


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """What is aboard and how warm it is, as the person says; ``None`` is "not given"."""

    oat_c: float | None
    soak_c: float | None
    fuel_min: float | None
    torch: bool


def _said(level: LevelTemperature) -> str:
    return f"temperature at the level {level.celsius:+.0f} C: {level.source}"


def endurance_at(
    aircraft: Aircraft,
    at: Position,
    fails_at: datetime,
    *,
    failed: frozenset[Failure],
    carried: Carried,
    level: LevelTemperature | None,
) -> tuple[Endurance, tuple[str, ...]]:
    """Return the endurance of a failure at a place and time, and what is to be said of it.

    Dark if any of the next two hours is. Without a temperature by the pilot the one known at the
    level counts, or the coldest that it can be; where nobody knows it, pitot heat is taken to be needed.
    """
    oat_c = carried.oat_c
    notes: tuple[str, ...] = ()
    if oat_c is None and level is not None:
        oat_c, notes = (
            level.celsius,
            (f"temperature at the level: {level.source}" if level.at_least else _said(level),),
        )
    if oat_c is None:
        notes = ("the temperature at the level is not known: airspeed is taken to need pitot heat (give --oat)",)
    day = is_day(at.lat_deg, at.lon_deg, fails_at, fails_at + LOOKS_AHEAD)
    state = FlightState(
        on=fails_at.date(),
        failure=failed,
        oat_c=oat_c,
        soak_c=carried.soak_c,
        icing=oat_c is None,
        night=not bool(day),
        torch=carried.torch,
        fuel_min=carried.fuel_min,
    )
    return endurance(aircraft, state), notes
