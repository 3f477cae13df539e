"""From what a person names to what a question holds: files by id, the margin, the endurance of that flight."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TypeVar

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import Failure, FlightState, failure_text, parse_failure
from refuge.aircraft.endurance import MARGIN_MIN, Endurance, endurance, left_after
from refuge.airfield import Airfield
from refuge.ask import Weather, level_temperature, place_of, weather_as_of
from refuge.config import user_folder
from refuge.earth import Position
from refuge.errors import InputError
from refuge.files.aircraft import load_aircraft, parse_aircraft
from refuge.files.lookup import find_file
from refuge.files.minimums import load_minimums, parse_minimums
from refuge.flight.compass import Heading
from refuge.flight.minimums import Minimums, beyond_reports
from refuge.flight.question import Carried, Question, Wind
from refuge.flight.wind_fields import LevelTemperature
from refuge.options import Options, at_least_zero, finite, parse_heading, parse_wind, read_as
from refuge.packaged import packaged
from refuge.store.documents import DocumentKind, document
from refuge.store.engine import Reader, reading
from refuge.store.guidance import guided_stations
from refuge.store.hearing import hearing_as_of
from refuge.store.opening import opened_store
from refuge.sun import is_day
from refuge.weather.bulletin import Bulletin
from refuge.zulu import iso, parse_instant

Kept = Callable[[DocumentKind, str], str | None]
"""The text of a document that the store keeps under this kind and id, if it does."""
_Party = TypeVar("_Party", Aircraft, Minimums)

DEMO_STORE = "refuge-demo"
"""A store of this name finds the demo's aircraft and minimums by id; no other does."""
DEMO_SOURCE = "invented for the demo"
LOOKS_AHEAD = timedelta(hours=2)
LONGEST_AGO = timedelta(hours=3)
"""A failure before that is a slip in the date: planning looks 2 h ahead, and no window begins before now."""
HIGHEST_FT = 30_000.0
"""No single-engine aircraft that this is for cruises higher (a proposal)."""
LOWEST_CRUISE_FT = 500.0
"""Nobody cruises lower in cloud (a proposal): ``6.000`` is six feet, where six thousand are meant."""
LEAST_CLEARANCE_FT = 100.0
"""A lowest safe height below is the same slip: charts count in hundreds (common practice, no source)."""
MOST_FUEL_MIN = 1440.0
"""A day of fuel: more is a slip of the pen."""
ASSUMED_ALTITUDE_FT = 10_000.0
"""Where no level is given: high, since a longer way down and colder air never help."""


def load_parties(
    aircraft: str, minimums: str, store: str | None, kept: Kept = lambda _kind, _name: None
) -> tuple[Aircraft, Minimums]:
    """Return the aircraft and the minimums that files or ids name; `kept` knows the store's documents.

    Raises
    ------
    InputError
        If there is no such file or id, or what it holds cannot be used.
    """
    return named_aircraft(aircraft, store, kept), named_minimums(minimums, store, kept)


def named_aircraft(name: str, store: str | None, kept: Kept) -> Aircraft:
    """Return the aircraft that a file or an id names; see `load_parties`."""
    return _party("aircraft", name, store, kept=kept, load=load_aircraft, parse=parse_aircraft)


def named_minimums(name: str, store: str | None, kept: Kept) -> Minimums:
    """Return the minimums that a file or an id names; see `load_parties`."""
    return _party("minimums", name, store, kept=kept, load=load_minimums, parse=parse_minimums)


def _party(
    kind: DocumentKind,
    name: str,
    store: str | None,
    *,
    kept: Kept,
    load: Callable[[Path], _Party],
    parse: Callable[[str, str], _Party],
) -> _Party:
    """Return what a file of this path holds, else the document of this id, else the file of this id."""
    if not Path(name).is_file() and (text := kept(kind, name)) is not None:
        return parse(text, f"{kind} {name} of the store")
    return load(find_file(name, kind=kind, folders=party_folders(kind, store)))


def party_folders(kind: DocumentKind, store: str | None) -> list[Path]:
    """Return where ids of aircraft or minimums are looked up: the user's files, and the demo's for its store."""
    found = [user_folder() / kind]
    if is_demo_store(store):
        found.append(packaged("demo") / kind)
    return found


def is_demo_store(store: str | None, airfields: Iterable[Airfield] = ()) -> bool:
    """Return whether a store is the demo's, by its name or by airfields of it."""
    named = store is not None and Path(store).name.startswith(DEMO_STORE)
    return named or any(field.source == DEMO_SOURCE for field in airfields)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parties:
    """Every aircraft and every minimums that an id names, and why others of them cannot be used."""

    aircraft: Mapping[str, Aircraft]
    minimums: Mapping[str, Minimums]
    unusable_aircraft: Mapping[str, str]
    unusable_minimums: Mapping[str, str]

    def pair(self, aircraft: str, minimums: str) -> tuple[Aircraft, Minimums]:
        """Return the aircraft and the minimums of these ids.

        Raises
        ------
        InputError
            If there is none of an id, or it cannot be used.
        """
        return self.aircraft_of(aircraft), self.minimums_of(minimums)

    def aircraft_of(self, name: str) -> Aircraft:
        """Return the aircraft of an id; see `pair`."""
        return _usable("aircraft", self.aircraft, self.unusable_aircraft, name)

    def minimums_of(self, name: str) -> Minimums:
        """Return the minimums of an id; see `pair`."""
        return _usable("minimums", self.minimums, self.unusable_minimums, name)


def _usable(kind: DocumentKind, known: Mapping[str, _Party], unusable: Mapping[str, str], name: str) -> _Party:
    if name in known:
        return known[name]
    where = f"--{kind}"
    if name in unusable:
        raise InputError(f"{name!r} cannot be used: {unusable[name]}", where=where, remedy="mend its file")
    raise InputError(f"no {kind} of id {name!r}", where=where, remedy=f"name one that /v1/{kind} lists")


def parties_by_id(store: str | None, documents: Mapping[str, Mapping[str, str]]) -> Parties:
    """Return what ids name: the documents of a store, then the files of the folders; the first of an id counts."""
    aircraft, bad_aircraft = _by_id("aircraft", store, documents, load=load_aircraft, parse=parse_aircraft)
    minimums, bad_minimums = _by_id("minimums", store, documents, load=load_minimums, parse=parse_minimums)
    return Parties(
        aircraft=aircraft, minimums=minimums, unusable_aircraft=bad_aircraft, unusable_minimums=bad_minimums
    )


def _by_id(
    kind: DocumentKind,
    store: str | None,
    documents: Mapping[str, Mapping[str, str]],
    *,
    load: Callable[[Path], _Party],
    parse: Callable[[str, str], _Party],
) -> tuple[dict[str, _Party], dict[str, str]]:
    read: dict[str, Callable[[], _Party]] = {
        name: partial(parse, text, name) for name, text in documents[kind].items()
    }
    for folder in party_folders(kind, store):
        for path in sorted(folder.glob("*.toml")):
            read.setdefault(path.stem, partial(load, path))
    found: dict[str, _Party] = {}
    unusable: dict[str, str] = {}
    for name, party in read.items():
        try:
            found[name] = party()
        except InputError as exc:
            unusable[name] = exc.what
    return found, unusable


def question_of(
    asked: Options,
    parties: tuple[Aircraft, Minimums],
    *,
    now: datetime,
    position: Callable[[str], Position],
    level: Callable[[Position, float, datetime], LevelTemperature | None],
) -> Question:
    """Return the question that the options ask, with the endurance worked out: the same for every door.

    `position` knows places by name, `level` the temperature over a place, at a height and time.

    Raises
    ------
    InputError
        If an option cannot be used; it names the option.
    """
    fails_at = _fails_at(asked, now)
    aircraft, minimums = parties
    margin, said = margin_of(minimums, at_least_zero(asked.margin_min, "--margin"))
    failed, at = read_as("--failure", parse_failure, asked.failure), read_as("--at", position, asked.at)
    lowest, given = finite(asked.lowest_safe, "--lowest-safe"), finite(asked.altitude, "--altitude")
    altitude, carried = altitude_of(given, lowest), carried_of(asked, aircraft)
    known = level(at, altitude, fails_at) if carried.oat_c is None else None
    endurance, notes = endurance_at(aircraft, at, fails_at, failed=failed, carried=carried, level=known)
    left, ago = left_after(endurance, (now - fails_at) / timedelta(minutes=1))
    return Question(
        at=at, place=asked.at, now=now, fails_at=fails_at, failure=failure_text(failed), aircraft=aircraft,
        endurance=left, minimums=minimums, margin_min=margin, altitude_ft=altitude,
        altitude_given=given is not None, wind=_wind(asked), lowest_safe_ft_amsl=lowest, oat_c=carried.oat_c,
        handheld=asked.handheld, carried=carried, heading=_heading(asked),
        notes=(*minimums.said, *beyond_reports(minimums), *said, *ago, *notes),
    )  # fmt: skip


def _fails_at(asked: Options, now: datetime) -> datetime:
    if asked.fails is None:
        return now
    fails_at = read_as("--fails", parse_instant, asked.fails)
    if now - fails_at > LONGEST_AGO:
        hours = (now - fails_at) / timedelta(hours=1)
        raise InputError(
            f"{iso(fails_at)} is {hours:,.1f} h before {iso(now)}: every arrival is past", where="--fails",
            remedy="give a failure to come, or ask as of then with --now",
        )  # fmt: skip
    return fails_at


def question_in_store(
    asked: Options, store: str | None, conn: Reader, *, now: datetime, files: Weather | None = None
) -> Question:
    """Return the question that the options ask of an open store; with `files` the weather is theirs."""
    return question_of(
        asked,
        load_parties(asked.aircraft, asked.minimums, store, partial(document, conn)),
        now=now,
        position=partial(place_of, conn),
        level=partial(level_temperature, conn, now=now, files=files),
    )


def _fuel_min(given: float | None) -> float | None:
    fuel = at_least_zero(given, "--fuel-min")
    if fuel is not None and fuel > MOST_FUEL_MIN:
        raise InputError(f"{fuel:,.0f} min of fuel cannot be", where="--fuel-min", remedy="give minutes at cruise")
    return fuel


def carried_of(asked: Options, aircraft: Aircraft) -> Carried:
    """Return what is aboard, how warm it is and when shedding begins, as the options say.

    Raises
    ------
    InputError
        If a figure cannot be, or something is shed before anybody has noticed.
    """
    shed = at_least_zero(asked.shed_min, "--shed-min")
    if shed is not None and shed < aircraft.recognition_min:
        raise InputError(
            f"{shed:g} min after the failure nobody has noticed it yet", where="--shed-min",
            remedy=f"give {aircraft.recognition_min:g} or more, or leave it out",
        )  # fmt: skip
    return Carried(
        oat_c=finite(asked.oat_c, "--oat"),
        soak_c=finite(asked.soak_c, "--soak"),
        fuel_min=_fuel_min(asked.fuel_min),
        shed_min=shed,
        torch=asked.torch,
    )


def _wind(asked: Options) -> Wind | None:
    if asked.wind is None:
        return None
    direction, speed = parse_wind(asked.wind)
    return Wind(dir_deg_true=direction, speed_kt=speed)


def _heading(asked: Options) -> Heading | None:
    if asked.heading is None:
        return None
    degrees, reference = parse_heading(asked.heading)
    return Heading(deg=degrees, reference=reference)


def weather_of_bulletins(bulletins: Iterable[Bulletin], now: datetime) -> Weather:
    """Return the weather that these bulletins give, as of `now`, by the way that every bulletin goes.

    They are taken into a store in memory, so that corrections, misdated and unreadable texts count as they
    do in a store that is kept.
    """
    # The feeds bring in the network library: a question to the store never needs it.
    from refuge.ingest import ingest

    with opened_store(":memory:") as engine:
        ingest(engine, (b for b in bulletins if b.received_at <= now), now=now)
        with reading(engine) as conn:
            names = {name for name, _ in hearing_as_of(conn, now)} | guided_stations(conn, now)
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
    """Return the cruising level to reckon with: the one given, else 10,000 ft or the lowest safe if higher.

    Raises
    ------
    InputError
        If a height is none that such an aircraft flies at, or the level lies below the lowest safe height.
    """
    if given_ft is not None and 0.0 <= given_ft < LOWEST_CRUISE_FT:
        raise InputError(
            f"{given_ft:g} ft is no cruising level", where="--altitude",
            remedy="give feet, without a separator for thousands",
        )  # fmt: skip
    if lowest_safe_ft is not None and 0.0 < lowest_safe_ft < LEAST_CLEARANCE_FT:
        raise InputError(
            f"{lowest_safe_ft:g} ft is no lowest safe height", where="--lowest-safe",
            remedy="give feet, without a separator for thousands",
        )  # fmt: skip
    for height_ft, option in ((given_ft, "--altitude"), (lowest_safe_ft, "--lowest-safe")):
        if height_ft is not None and not 0.0 <= height_ft <= HIGHEST_FT:
            raise InputError(
                f"{height_ft:,.0f} ft cannot be", where=option, remedy=f"give feet from 0 to {HIGHEST_FT:,.0f}"
            )
    if given_ft is None:
        return max(ASSUMED_ALTITUDE_FT, lowest_safe_ft or 0.0)
    if lowest_safe_ft is not None and given_ft < lowest_safe_ft:
        raise InputError(
            f"the cruising level, {given_ft:,.0f} ft, is below the lowest safe height, {lowest_safe_ft:,.0f} ft",
            where="--altitude",
            remedy="fly at or above the lowest safe height",
        )
    return given_ft


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
        shed_min=carried.shed_min,
    )
    return endurance(aircraft, state), notes
