"""From what a person names to what a question holds: files by id, the margin, the endurance of that flight."""

from datetime import datetime, timedelta
from pathlib import Path

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import Failure, FlightState
from refuge.aircraft.endurance import MARGIN_MIN, Endurance, endurance
from refuge.config import user_folder
from refuge.earth import Position
from refuge.files.aircraft import load_aircraft
from refuge.files.lookup import find_file
from refuge.files.minimums import load_minimums
from refuge.flight.minimums import Minimums
from refuge.packaged import packaged
from refuge.sun import is_day

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


def endurance_at(
    aircraft: Aircraft,
    at: Position,
    fails_at: datetime,
    failed: frozenset[Failure],
    *,
    oat_c: float | None,
    soak_c: float | None,
    torch: bool,
    fuel_min: float | None,
) -> Endurance:
    """Return the endurance of a failure at a place and time: dark if any of the next two hours is."""
    day = is_day(at.lat_deg, at.lon_deg, fails_at, fails_at + LOOKS_AHEAD)
    state = FlightState(
        on=fails_at.date(),
        failure=failed,
        oat_c=oat_c,
        soak_c=soak_c,
        night=not bool(day),
        torch=torch,
        fuel_min=fuel_min,
    )
    return endurance(aircraft, state)
