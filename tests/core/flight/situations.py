"""Small worlds for tests: airfields, stations, reports and forecasts around one place, and a question."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Literal

from pyproj import Geod

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.endurance import Endurance
from refuge.aircraft.network import Network
from refuge.aircraft.parts import FUNCTIONS, Function, Load, Source
from refuge.aircraft.timeline import FunctionEnd
from refuge.airfield import Airfield, Runway, Station
from refuge.earth import Position
from refuge.flight.minimums import FLOOR, Minimums
from refuge.flight.question import Question, Wind
from refuge.flight.situation import Guided, Hearing, Situation
from refuge.weather.conditions import Conditions
from refuge.weather.guidance import Guidance
from refuge.weather.reports import Forecast, Group, GroupKind, Observation
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)
from refuge.weather.wind import KnownWind, UnknownWind

Lights = Literal["dusk_to_dawn", "radio", "none", "unknown"]
LIGHTS: tuple[Lights, ...] = ("dusk_to_dawn", "radio", "none", "unknown")
WGS84 = Geod(ellps="WGS84")
NOW = datetime(2024, 2, 29, 18, 0, tzinfo=UTC)
"""Noon over the middle of North America, on a leap day."""
HERE = Position(lat_deg=40.0, lon_deg=-100.0)

SKC = NoCeiling(none_below_ft=None, evidence="SKC")
CLR = NoCeiling(none_below_ft=12000, evidence="CLR")
CAVOK = NoCeiling(none_below_ft=5000, evidence="CAVOK")
NSC = NoCeiling(none_below_ft=5000, evidence="NSC")
NO_SKY = UnknownCeiling(reason="no sky sensor")
HIDDEN = UnknownCeiling(reason="VV///", obscured=True)
NO_VISIBILITY = UnknownVisibility(reason="////")
P6SM = KnownVisibility(sm=6.0, bound=Bound.AT_LEAST)
CALM = KnownWind(dir_deg_true=None, speed_kt=0.0)
LASTS = FunctionEnd(state="not_limited")
STILL = Wind(dir_deg_true=0.0, speed_kt=0.0)
HEARD = Hearing(reports=True, forecasts=True, ever_ceiling=True, ever_visibility=True)
REPORTS_ONLY = replace(HEARD, forecasts=False)
GUIDED = Hearing(reports=True, forecasts=False, ever_ceiling=True, ever_visibility=True, guidance=True)
FORECASTS_ONLY = Hearing(reports=False, forecasts=True, ever_ceiling=False, ever_visibility=False)


def minutes(number: float) -> timedelta:
    return timedelta(minutes=number)


def at(bearing_deg: float, distance_nm: float, start: Position = HERE) -> Position:
    """Return the point this far from `start`."""
    lon, lat, _ = WGS84.fwd(start.lon_deg, start.lat_deg, bearing_deg, distance_nm * 1852.0)
    return Position(lat_deg=lat, lon_deg=lon)


def apart_nm(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Return the distance of two points."""
    return float(WGS84.inv(lon1, lat1, lon2, lat2)[2]) / 1852.0


def airfield(
    name: str,
    where: Position,
    *,
    station: str | None = None,
    elevation_ft: float | None = 1000.0,
    lights: Lights = "dusk_to_dawn",
    runways: tuple[Runway, ...] | None = None,
) -> Airfield:
    return Airfield(
        id=name,
        name=name,
        lat_deg=where.lat_deg,
        lon_deg=where.lon_deg,
        elevation_ft=elevation_ft,
        country="US",
        station_id=station,
        lights=lights,
        runways=runways,
    )


def station(name: str, where: Position, *, elevation_ft: float | None = 1000.0, country: str = "US") -> Station:
    return Station(
        id=name,
        name=name,
        lat_deg=where.lat_deg,
        lon_deg=where.lon_deg,
        elevation_ft=elevation_ft,
        country=country,
        reports=True,
        forecasts=True,
    )


def conditions(
    ceiling: Ceiling | int = SKC,
    visibility: Visibility | float = P6SM,
    weather: tuple[str, ...] = (),
    wind: KnownWind | UnknownWind = CALM,
) -> Conditions:
    """Return conditions; numbers are feet and statute miles."""
    return Conditions(
        ceiling=CeilingAt(ft_agl=ceiling) if isinstance(ceiling, int) else ceiling,
        visibility=KnownVisibility(sm=visibility) if isinstance(visibility, float) else visibility,
        wind=wind,
        weather=weather,
    )


def report(
    name: str,
    said: Conditions,
    *,
    age_min: float = 20.0,
    now: datetime = NOW,
    temperature_c: float | None = 20.0,
    dew_point_c: float | None = 5.0,
    nosig: bool = False,
    trend: tuple[Group, ...] = (),
    nil: bool = False,
) -> Observation:
    return Observation(
        raw=f"{name} made up",
        kind="METAR",
        station=name,
        observed_at=now - minutes(age_min),
        body=said,
        adverse=said,
        temperature_c=temperature_c,
        dew_point_c=dew_point_c,
        nosig=nosig,
        trend=trend,
        nil=nil,
    )


def group(
    kind: GroupKind,
    start_h: float,
    end_h: float,
    said: Conditions | None = None,
    *,
    ceiling: Ceiling | None = None,
    visibility: Visibility | None = None,
    weather: tuple[str, ...] | None = None,
    now: datetime = NOW,
) -> Group:
    """Return one group; hours count from `now`."""
    return Group(
        kind=kind,
        start=now + timedelta(hours=start_h),
        end=now + timedelta(hours=end_h),
        ceiling=ceiling if said is None else said.ceiling,
        visibility=visibility if said is None else said.visibility,
        weather=weather if said is None else said.weather,
    )


def forecast(
    name: str,
    said: Conditions,
    *changes: Group,
    from_h: float = -6.0,
    to_h: float = 18.0,
    issued_h: float | None = None,
    now: datetime = NOW,
    cancelled: bool = False,
    nil: bool = False,
) -> Forecast:
    """Return a forecast whose validity and issue are given in hours from `now`."""
    base = group("BASE", from_h, to_h, said, now=now)
    return Forecast(
        raw=f"TAF {name} made up",
        station=name,
        issued_at=now + timedelta(hours=from_h - 0.5 if issued_h is None else issued_h),
        valid_from=now + timedelta(hours=from_h),
        valid_to=now + timedelta(hours=to_h),
        cancelled=cancelled,
        nil=nil,
        groups=() if cancelled or nil else (base, *changes),
    )


PITOT = Load(id="pitot", fed_by=(), gives=("airspeed", "altitude"))
AIRCRAFT = Aircraft(
    id="XA-TEST",
    name="made up",
    cruise_tas_kt=120.0,
    descent_ft_min=500.0,
    approved_for_icing=False,
    warning_light=True,
    alternate_static=True,
    engine_electric=False,
    fuel_feed_electric=False,
    network=Network(
        sources={"pump": Source(id="pump", kind="engine_drive")},
        buses={},
        loads={"gyro": Load(id="gyro", fed_by=("pump",), gives=("attitude",)), "pitot": PITOT},
    ),
)


def endurance(
    information_min: float | None = 120.0,
    *,
    navigation: FunctionEnd = LASTS,
    recognition_min: float = 5.0,
    dependable: bool = True,
) -> Endurance:
    functions: dict[Function, FunctionEnd] = {name: FunctionEnd(state="not_limited") for name in FUNCTIONS}
    functions["navigation"] = navigation
    return Endurance(
        information_min=information_min,
        nominal_min=information_min,
        limited_by="attitude",
        limited_why="made up",
        recognition_min=recognition_min,
        dependable=dependable,
        functions=functions,
        phases=(),
        assumptions=(),
        warnings=(),
    )


def question(
    *,
    where: Position = HERE,
    now: datetime = NOW,
    fails_in_min: float = 0.0,
    lasts: Endurance | None = None,
    aircraft: Aircraft = AIRCRAFT,
    minimums: Minimums = FLOOR,
    wind: Wind | None = STILL,
    altitude_ft: float = 5000.0,
    lowest_safe_ft_amsl: float | None = 2500.0,
    oat_c: float | None = 15.0,
    handheld: bool = False,
    margin_min: float = 15.0,
) -> Question:
    return Question(
        at=where,
        place="made up",
        now=now,
        fails_at=now + minutes(fails_in_min),
        failure="alternator",
        aircraft=aircraft,
        endurance=endurance() if lasts is None else lasts,
        minimums=minimums,
        margin_min=margin_min,
        altitude_ft=altitude_ft,
        wind=wind,
        lowest_safe_ft_amsl=lowest_safe_ft_amsl,
        oat_c=oat_c,
        handheld=handheld,
    )


def lamp(
    name: str,
    ceilings: str,
    visibilities: str,
    *,
    thunder: int = 0,
    freezing: int = 0,
    wet: int = 0,
    ran_min_ago: float = 30.0,
    now: datetime = NOW,
) -> Guided:
    """Return guidance in categories: one character an hour (8 and 7 the best), the last going on for 25 hours."""
    based_on = now - minutes(ran_min_ago)
    first = (based_on + timedelta(hours=1)).replace(minute=0)
    cells = {"CIG": ceilings.ljust(25, ceilings[-1]), "VIS": visibilities.ljust(25, visibilities[-1])}
    rows = {key: "".join(f"{each:>3}" for each in value) for key, value in cells.items()}
    rows |= {"CCG": rows["CIG"], "CVS": rows["VIS"], "OBV": "  N" * 25}
    rows |= {key: f"{value:>3}" * 25 for key, value in (("LP1", thunder), ("POZ", freezing), ("PPO", wet))}
    return _guided(name, product="LAV", version=None, based_on=based_on, first=first, rows=rows)


def blend(
    name: str,
    ceiling: int,
    visibility: int,
    chances: tuple[int, int],
    *,
    thunder: int = 0,
    ran_min_ago: float = 30.0,
    now: datetime = NOW,
) -> Guided:
    """Return guidance in values (hundreds of feet, tenths of miles; -88 unlimited) with chances of MVC and MVV."""
    based_on = (now - minutes(ran_min_ago)).replace(minute=0)
    values = {
        "CIG": ceiling, "VIS": visibility, "MVC": chances[0], "IFC": chances[0], "LIC": chances[0],
        "MVV": chances[1], "IFV": chances[1], "LIV": chances[1], "T01": thunder, "P01": 0, "PZR": 0, "PPL": 0,
        "WDR": 27, "WSP": 5, "GST": 5, "TMP": 60, "DPT": 30,
    }  # fmt: skip
    rows = {key: f"{value:>3}" * 25 for key, value in values.items()}
    return _guided(
        name, product="NBH", version="5.0", based_on=based_on, first=based_on + timedelta(hours=1), rows=rows
    )


def _guided(
    name: str,
    *,
    product: Literal["LAV", "NBH"],
    version: str | None,
    based_on: datetime,
    first: datetime,
    rows: dict[str, str],
) -> Guided:
    block = Guidance(
        raw=f"{name} {product} made up", station=name, product=product, version=version, based_on=based_on,
        times=tuple(first + timedelta(hours=h) for h in range(25)), rows=rows,
    )  # fmt: skip
    return Guided(blocks=(block,))


def situation(
    airfields: Sequence[Airfield],
    stations: Sequence[Station] = (),
    *,
    reports: Sequence[Observation] = (),
    forecasts: Sequence[Forecast] = (),
    guidance: dict[str, Guided] | None = None,
    hearing: dict[str, Hearing] | None = None,
    now: datetime = NOW,
) -> Situation:
    """Return a situation; without `hearing` each station was heard in what is given of it."""
    by_station: dict[str, list[Forecast]] = {}
    for one in forecasts:
        by_station.setdefault(one.station, []).append(one)
    reporting = {one.station for one in reports}
    heard = {
        place.id: Hearing(
            reports=place.id in reporting,
            forecasts=place.id in by_station,
            ever_ceiling=place.id in reporting,
            ever_visibility=place.id in reporting,
            guidance=place.id in (guidance or {}),
        )
        for place in stations
    }
    return Situation(
        read_at=now,
        airfields=tuple(airfields),
        stations={place.id: place for place in stations},
        observations={one.station: one for one in reports},
        forecasts={name: tuple(found) for name, found in by_station.items()},
        guidance=guidance or {},
        hearing=heard if hearing is None else hearing,
    )
