"""Random flights among the real airfields and stations of the world, past those that forecasts are at hand for."""

import random
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from refuge.aircraft.airframe import Aircraft
from refuge.airfield import Station
from refuge.files.aircraft import parse_aircraft
from refuge.files.minimums import load_minimums
from refuge.flight.minimums import FLOOR, STANDARD, Minimums
from refuge.options import RouteOptions
from refuge.weather.expected import states_of
from refuge.weather.sky import CeilingAt, KnownVisibility, NoCeiling
from refuge.world import World
from refuge.zulu import iso
from tests.core.flight.brute import forward
from tests.core.flight.memory import Memory

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = (ROOT / "fixtures" / "aircraft", ROOT / "fixtures" / "demo" / "aircraft")
FLEET = ("D40", "D41", "D43", "D45", "D48", "XA-GLASS", "XA-GYRO", "XA-PAIR")
YOUNGER = 4
"""The cycle is of 2022, the aircraft of 2026: their dates are put back, so that batteries are as old as written."""
_YEAR = re.compile(r"\b(20\d\d)(?=-\d\d-\d\d)")
LEAVES_IN_MIN = (0, 0, 0, 0, 5, 15, 60, 150, 240, 330, 420, 540, 660, 780)
MOST_TRIES = 40
UNUSUAL = ("PASY", "UHMM", "BGSF", "CYLT", "SAWH", "YPKG", "PHNL", "FYWB", "NFFN", "ENSB")
"""Near the antimeridian, far north and far south; the others come by chance."""

TELLING = ("LGRP", "EFJY", "LPMR", "LFBD", "EVRA", "KLCH", "LTBR", "RCFN", "KBIL", "KOAJ")
"""Where a verdict hangs on TEMPO, PROB, FM or BECMG, and little else bears."""


def fleet() -> dict[str, Aircraft]:
    """Return the aircraft of the fixtures, one of them with a climb besides."""
    found = {}
    for name in FLEET:
        path = next(folder / f"{name}.toml" for folder in FOLDERS if (folder / f"{name}.toml").exists())
        text = _YEAR.sub(lambda match: str(int(match[1]) - YOUNGER), path.read_text(encoding="utf-8"))
        found[name] = parse_aircraft(text, name)
    return found | {"climbs": replace(found["D41"], climb_ft_min=700.0, climb_tas_kt=80.0)}


def minimums() -> dict[str, Minimums]:
    """Return minimums that ask for more and less."""
    school = load_minimums(ROOT / "fixtures" / "demo" / "minimums" / "XS-SCHOOL.toml")
    return {"floor": FLOOR, "standard": STANDARD, "school": school}


def flights(world: World, now: datetime, number: int, seed: int) -> Iterator[RouteOptions]:
    """Yield flights of 40 to 150 NM past stations with forecasts, mostly by day."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    stations = world.places.stations
    told = sorted(name for name in world.weather.forecasts if name in stations)
    unusual = [name for name in UNUSUAL if name in stations]
    telling = [name for name in TELLING if name in told]
    sun = Memory(world.situation_between(), now)
    for _ in range(number):
        past = stations[chance.choice(chance.choices((told, unusual, telling), (6, 1, 3))[0])]
        leaves = _leaves(chance, past, now, sun)
        if chance.random() < 0.7:
            # Where it is fine something can spoil it; elsewhere all that differs is unknown.
            for _ in range(MOST_TRIES):
                if _fine(world, past.id, now + timedelta(minutes=leaves)):
                    break
                past = stations[chance.choice(told)]
                leaves = _leaves(chance, past, now, sun)
        start = forward((past.lat_deg, past.lon_deg), chance.uniform(0, 360), chance.uniform(0, 40))
        end = forward(start, chance.uniform(0, 360), chance.uniform(40, 150))
        if chance.random() < 0.3:
            end = past.lat_deg, past.lon_deg
        places = [f"{lat:.3f},{lon:.3f}" for lat, lon in (start, end)]
        if chance.random() < 0.5:
            places.insert(1, past.id)
        if chance.random() < 0.2:
            places.append(past.id)
        yield _flight(chance, past, places, now + timedelta(minutes=leaves))


def _leaves(chance: random.Random, past: Station, now: datetime, sun: Memory) -> int:
    """Return in how many minutes a flight leaves, so that it is by day there, mostly."""
    by_day = [
        minutes
        for minutes in LEAVES_IN_MIN
        if sun.is_day(past, now + timedelta(minutes=minutes), now + timedelta(minutes=minutes + 150))
    ]
    return chance.choice(by_day if by_day and chance.random() < 0.85 else LEAVES_IN_MIN)


def _fine(world: World, station: str, departs: datetime) -> bool:
    """Return whether what is forecast first of all is no ceiling under 3,000 ft, and 5 SM or more."""
    states = states_of(world.weather.forecasts.get(station, ()), departs, departs + timedelta(hours=2))
    said = [state.conditions for state in states if state.prevailing]
    return bool(said) and all(
        (isinstance(c.ceiling, NoCeiling) or (isinstance(c.ceiling, CeilingAt) and c.ceiling.ft_agl >= 3000))
        and isinstance(c.visibility, KnownVisibility)
        and c.visibility.sm >= 5
        for c in said
    )


def _flight(chance: random.Random, past: Station, places: list[str], departs: datetime) -> RouteOptions:
    lowest = max(1200.0, round(past.elevation_ft or 0.0, -2) + chance.choice((1100.0, 1300.0, 1500.0, 2500.0)))
    since = chance.choice((None, None, None, None, None, 3.0, 12.0))
    name = chance.choice((*FLEET, "D41", "D41", "D43", "climbs", "climbs", "XA-GLASS"))
    failures = ["alternator"] * 6 + ["all", "pump" if name in {"D43", "XA-GYRO"} else "display"]
    return RouteOptions(
        at=places[0], places=tuple(places), departs=iso(departs),
        aircraft=name, minimums=chance.choice(("floor", "floor", "floor", "standard", "school")),
        altitude=min(lowest + chance.choice((0.0, 500.0, 1000.0, 2500.0, 4500.0)), 17_000.0),
        lowest_safe=lowest if chance.random() < 0.97 else None,
        wind=chance.choice(("280/15", "090/35", "180/60", None)),
        oat_c=chance.choice((None, 15.0, 15.0, 15.0, 8.0, -5.0)), handheld=chance.random() < 0.5,
        torch=chance.random() < 0.9, fuel_min=chance.choice((None, 110.0, 150.0, 240.0, 300.0)),
        margin_min=chance.choice((None, None, 5.0, 30.0)), airborne=since is not None or chance.random() < 0.3,
        since_failure_min=since, failure=chance.choice(failures),
    )  # fmt: skip


def short_flight(world: World, end: str, departs: datetime) -> RouteOptions:
    """Return a flight over the last 20 NM to an airfield, 1,000 ft above the lowest height that is safe there."""
    there = world.places.airfields[end]
    lat, lon = forward((there.lat_deg, there.lon_deg), 270.0, 20.0)
    lowest = round(there.elevation_ft or 0.0, -2) + 1100.0
    return RouteOptions(
        at=f"{lat:.3f},{lon:.3f}", places=(f"{lat:.3f},{lon:.3f}", end), departs=iso(departs), aircraft="D41",
        minimums="floor", altitude=lowest + 1000.0, lowest_safe=lowest, wind="280/10", oat_c=15.0, torch=True,
        airborne=True,
    )  # fmt: skip
