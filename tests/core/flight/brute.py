"""A whole flight by brute force: each minute, each airfield, in plain scalar Python.

It imports nothing of refuge.flight. What a report or forecast says comes from refuge.weather, how long the
instruments last from refuge.aircraft; the sun and local hours have tests of their own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from pyproj import Geod

from refuge.airfield import Airfield, Station, ends_of
from refuge.local_hours import evening_end, open_through, zone_of
from refuge.sun import is_day
from refuge.weather.conditions import Conditions
from refuge.weather.expected import states_of
from refuge.weather.reports import LevelsAt
from refuge.weather.sky import CeilingAt, NoCeiling, UnknownCeiling
from refuge.weather.winds_aloft import Known, winds_at
from tests.core.flight.oracle import Asked, Need, Oracle, V, apart_nm

if TYPE_CHECKING:
    from refuge.flight.minimums import Limits
    from refuge.flight.situation import Situation
    from refuge.flight.track import RouteQuestion

WGS84 = Geod(ellps="WGS84")
Point = tuple[float, float]


@dataclass(frozen=True)
class Wind:
    """A wind at a point, and the temperature there where it is known."""

    east: float
    north: float
    known: bool
    celsius: float | None


@dataclass(frozen=True)
class Way:
    """From a turn to an airfield."""

    latest: float
    earliest: float
    nominal: float
    distance: float
    known: bool


@dataclass(frozen=True)
class Piece:
    """Some miles of the route: where they begin, on which course, when."""

    lat: float
    lon: float
    course: float
    length: float
    begins: float
    ends: float


class Brute:
    """One flight in one situation."""

    def __init__(self, asked: RouteQuestion, situation: Situation) -> None:
        self.asked, self.situation, self.question = asked, situation, asked.question
        self.departs = asked.departs
        self.pieces = self.fly()
        self.total = self.pieces[-1].ends
        self.minutes = max(1, math.ceil(self.total - 1e-9))

    # --- the wind ------------------------------------------------------------------------------

    def sites(self, when: datetime) -> list[tuple[Station, LevelsAt]]:
        usable = [b for b in self.situation.winds if b.use_from <= when < b.use_to]
        if not usable:
            return []
        newest = max(usable, key=lambda b: (b.based_on, -abs(b.valid_at - when)))
        assert len({(b.based_on, b.valid_at) for b in usable}) == 1, "two bulletins at a time are not read here"
        return [(self.situation.wind_sites[s.site], s) for s in newest.sites if s.site in self.situation.wind_sites]

    def wind(self, at: Point, when: datetime) -> Wind:
        """The wind at the level: the four nearest sites within 200 NM by 1 / distance squared."""
        given = self.question.wind
        winds, warmths = [], []
        for place, site in self.sites(when):
            found = winds_at([site], np.array([self.question.altitude_ft]))
            if found.wind_state[0, 0] != Known.KNOWN:
                continue
            d = apart_nm(*at, place.lat_deg, place.lon_deg)
            winds.append((d, float(found.east_kt[0, 0]), float(found.north_kt[0, 0])))
            if found.temperature_state[0, 0] == Known.KNOWN:
                warmths.append((d, float(found.temperature_c[0, 0])))
        near = [w for w in sorted(winds)[:4] if w[0] <= 200]
        warm = [w for w in sorted(warmths)[:4] if w[0] <= 200]
        celsius = None
        if warm:
            celsius = sum(c / max(d, 0.5) ** 2 for d, c in warm) / sum(1 / max(d, 0.5) ** 2 for d, _ in warm)
        if given is not None:
            # A wind by hand takes nothing from what is known of the temperature.
            return Wind(*parts(given.dir_deg_true, given.speed_kt), True, celsius)
        if not near:
            return Wind(0.0, 0.0, False, celsius)
        total = sum(1 / max(d, 0.5) ** 2 for d, _, _ in near)
        east = sum(e / max(d, 0.5) ** 2 for d, e, _ in near) / total
        north = sum(n / max(d, 0.5) ** 2 for d, _, n in near) / total
        return Wind(east, north, True, celsius)

    # --- the flight ----------------------------------------------------------------------------

    def fly(self) -> list[Piece]:
        points = [(w.at.lat_deg, w.at.lon_deg) for w in self.asked.waypoints]
        bare: list[tuple[Point, Point, float, float]] = []
        for one, two in pairwise(points):
            course, distance = inverse(one, two)
            n = max(1, math.ceil(distance / 5.0))
            for i in range(n):
                start = one if i == 0 else forward(one, course, distance * i / n)
                end = two if i == n - 1 else forward(one, course, distance * (i + 1) / n)
                bare.append(
                    (start, forward(one, course, distance * (i + 0.5) / n), distance / n, inverse(start, end)[0])
                )
        tas, clock = self.question.aircraft.cruise_tas_kt, [0.0]
        for _, _, length, _ in bare:
            clock.append(clock[-1] + length / tas * 60)
        for _ in range(2):
            after = [0.0]
            for i, (_, middle, length, course) in enumerate(bare):
                wind = self.wind(middle, self.departs + timedelta(minutes=clock[i]))
                gs = triangle(course, tas, wind)
                assert gs is not None
                after.append(after[-1] + 60 * length / gs)
            clock = after
        return [
            Piece(*start, course, length, clock[i], clock[i + 1])
            for i, (start, _, length, course) in enumerate(bare)
        ]

    def position(self, minute: float) -> Point:
        if minute >= self.total:
            last = self.asked.waypoints[-1].at
            return last.lat_deg, last.lon_deg
        piece = next(p for p in reversed(self.pieces) if p.begins <= minute)
        share = (minute - piece.begins) / (piece.ends - piece.begins)
        return forward((piece.lat, piece.lon), piece.course, share * piece.length)

    # --- one minute, one airfield ----------------------------------------------------------------

    def meets(self, minute: int, field: Airfield) -> float | None:
        """The minutes to break-out if the airfield is a refuge at this minute."""
        q = self.question
        block = max((b for b in self.asked.blocks if b.from_min <= minute), key=lambda b: b.from_min)
        lasts = block.endurance
        if lasts.information_min is None or not lasts.dependable:
            return None
        budget = min(lasts.information_min - lasts.recognition_min - q.margin_min, 120.0)
        turn = self.departs + timedelta(minutes=minute + lasts.recognition_min)
        at = self.position(minute + lasts.recognition_min)
        way = self.way(at, turn, field)
        down_to = q.lowest_safe_ft_amsl if q.lowest_safe_ft_amsl is not None else field.elevation_ft or 0.0
        break_out = way.latest + max(q.altitude_ft - down_to, 0.0) / q.aircraft.descent_ft_min
        if not way.known or break_out > budget or q.lowest_safe_ft_amsl is None:
            return None
        if field.elevation_ft is not None and q.lowest_safe_ft_amsl < field.elevation_ft + 1000:
            return None
        early, late = turn + timedelta(minutes=way.earliest), turn + timedelta(minutes=break_out)
        landed = late + timedelta(minutes=10 + q.slip_min)
        pad = timedelta(minutes=timing((late - q.now) / timedelta(minutes=1)))
        night = not bool(is_day(field.lat_deg, field.lon_deg, early, landed))
        if not self.lit(field, early, landed, night=night) or not self.runway(field, night=night):
            return None
        start = max(q.now, early - pad)
        navigation = lasts.functions["navigation"]
        blind = 0.0
        if navigation.state != "not_limited":
            left = (
                max(0.0, (navigation.end_min or 0.0) - lasts.recognition_min)
                if navigation.state == "until"
                else 0.0
            )
            blind = max(way.latest - left, 0.0)
        flown = way.distance * (blind / way.latest if way.latest > 0 else 0.0)
        limits = self.limits(night=night)
        oracle = Oracle(
            self.situation,
            q.now,
            Asked(
                field=field, start=start, end=max(start, landed + pad), latest=late, night=night,
                radius_nm=max(3.0, 0.1 * flown) + 10 * blind / 60, limits=limits,
            ),
        )  # fmt: skip
        if oracle.weather() is not V.MEETS or oracle.area() is not V.MEETS:
            return None
        if oracle.break_out(q.lowest_safe_ft_amsl) is not V.MEETS:
            return None
        return break_out if self.free_of_ice(oracle, self.wind(at, turn).celsius) else None

    def limits(self, *, night: bool) -> Limits:
        found = self.question.minimums.night if night else self.question.minimums.day
        assert found != "not planned"
        return found

    def way(self, at: Point, turn: datetime, field: Airfield) -> Way:
        there = (field.lat_deg, field.lon_deg)
        track, distance = inverse(at, there)
        steps = 1 if self.question.wind is not None else 6
        tas = self.question.aircraft.cruise_tas_kt
        nominal = latest = earliest = 0.0
        known = True
        for k in range(steps):
            wind = self.wind(forward(at, track, distance * (k + 0.5) / steps), turn)
            course = track
            if steps > 1 and distance > 0:
                course = inverse(
                    forward(at, track, distance * k / steps), forward(at, track, distance * (k + 1) / steps)
                )[0]
            gs = triangle(course, tas, wind)
            error = max(0.05 * math.hypot(wind.east, wind.north), 10.0)
            known &= wind.known
            if distance > 0:
                length = 60 * distance / steps
                nominal += math.inf if gs is None else length / gs
                latest += math.inf if gs is None or gs <= error else length / (gs - error)
                earliest += math.inf if gs is None else length / (gs + error)
        return Way(latest, earliest, nominal, distance, known)

    def lit(self, field: Airfield, start: datetime, end: datetime, *, night: bool) -> bool:
        if not night:
            return True
        detail, zone = field.lights_detail, zone_of(field.time_zone)
        radio = field.lights == "radio" and self.question.handheld
        if field.lights == "dusk_to_dawn" or radio:
            return True
        if field.lights == "until":
            if detail.after == "radio" and self.question.handheld:
                return True
            if detail.until_local is not None and zone is not None:
                return end <= evening_end(detail.until_local, zone, start)
            return False
        tower = field.tower
        return bool(
            tower is not None
            and tower.hours is not None
            and field.lights == "radio"
            and open_through(tower.hours, zone, start, end)
        )

    def runway(self, field: Airfield, *, night: bool) -> bool:
        wanted = self.question.minimums
        assert wanted.max_crosswind_kt is None
        assert not wanted.no_private
        if field.runways and all(r.closed or r.surface == "water" for r in field.runways):
            return False
        if not wanted.hard_surface and wanted.runway_length_ft is None:
            return True
        for r in field.runways or ():
            lengths = [end.landing_ft for end in ends_of(r)]
            long = wanted.runway_length_ft is None or all(
                ft is not None and ft >= wanted.runway_length_ft for ft in lengths
            )
            hard = not wanted.hard_surface or r.surface == "hard"
            if not r.closed and r.surface != "water" and long and hard and (not night or r.lighted):
                return True
        return False

    def free_of_ice(self, oracle: Oracle, aloft: float | None) -> bool:
        q, field = self.question, oracle.asked.field
        cruise_c = q.oat_c if q.oat_c is not None else aloft
        reports, forecasts = oracle.stations()
        said, unsaid = self.told(oracle, reports, forecasts)
        low = oracle.low_stations()
        heard = [s for s in low if self.situation.hearing[s.id].reports]
        around, _ = self.told(oracle, heard, [t for s in low for t in oracle.speaks_for(s)])
        if unsaid or any(
            ("FZ" in w and w[-2:] in {"RA", "DZ", "UP"}) or "PL" in w for _, c in said + around for w in c.weather
        ):
            return False
        ground = field.elevation_ft or 0.0
        # Cloud of any amount ices; one whose height nobody tells may begin at the ground.
        base = min((height(s, ground) + min(base_over(c.ceiling), lowest(c)) for s, c in said), default=ground)
        # The way down may lie over any station of the area; what is not known there is the area's matter.
        for s, c in around:
            untold = isinstance(c.ceiling, UnknownCeiling) and not c.ceiling.obscured
            base = min(base, height(s, ground) + min(math.inf if untold else base_over(c.ceiling), lowest(c)))
        if base >= q.altitude_ft:
            return True
        if q.aircraft.approved_for_icing:
            return True
        seen_c = [None if (o := oracle.fresh(s)) is None else o.temperature_c for s in reports]
        warm = [c for c in seen_c if c is not None]
        if not warm or len(warm) < len(seen_c):
            return False  # not known, or ices: in neither case a refuge
        if cruise_c is None:
            return min(warm) - 0.003 * max(q.altitude_ft - ground, 1.0) > 2.0
        share = (q.altitude_ft - base) / max(q.altitude_ft - ground, 1.0)
        at_base = [cruise_c + (c - cruise_c) * share for c in (min(warm), max(warm))]
        return min(*at_base, cruise_c) > 2.0 or max(*at_base, cruise_c) < -20.0

    def told(
        self, oracle: Oracle, reports: list[Station], forecasts: list[Station]
    ) -> tuple[list[tuple[Station, Conditions]], bool]:
        """What fresh reports and forecasts of stations say of the window, and whether one says nothing of it."""
        start, end = oracle.asked.start, oracle.asked.end
        said: list[tuple[Station, Conditions]] = []
        unsaid = False
        for s in reports:
            seen = oracle.fresh(s)
            unsaid |= seen is None
            if seen is not None:
                said += [(s, state) for state in oracle.report_states(seen, start, end)]
        for s in forecasts:
            states = states_of(self.situation.forecasts.get(s.id, ()), start, end)
            said += [(s, state.conditions) for state in states if not state.outside]
            unsaid |= any(state.outside for state in states)
        return said, unsaid

    # --- in sight --------------------------------------------------------------------------------

    def visual(self, minute: int) -> bool:
        """Whether the aircraft is in sight at a minute, until a failure then is noticed or it has landed."""
        block = max((b for b in self.asked.blocks if b.from_min <= minute), key=lambda b: b.from_min)
        until = max(min(minute + block.endurance.recognition_min, self.total), minute)
        return all(self.in_sight(min(minute + k, until)) for k in range(math.ceil(until - minute) + 1))

    def in_sight(self, minute: float) -> bool:
        """Whether every station within 20 NM gives a base 500 ft above the aircraft, and the floor's visibility."""
        q = self.question
        lat, lon = self.position(minute)
        when = self.departs + timedelta(minutes=minute)
        pad = timedelta(minutes=timing((when - q.now) / timedelta(minutes=1)))
        start = max(q.now, when - pad)
        end = max(start, when + timedelta(minutes=q.slip_min) + pad)
        night = not bool(is_day(lat, lon, start, end))
        here = Airfield(id="here", name="here", lat_deg=lat, lon_deg=lon, elevation_ft=None, country="")
        oracle = Oracle(
            self.situation, q.now,
            Asked(field=here, start=start, end=end, latest=when, night=night, radius_nm=20,
                  limits=self.limits(night=False)),
        )  # fmt: skip

        def need(s: Station) -> Need:
            above = -math.inf if s.elevation_ft is None else self.height(minute) + 500 - s.elevation_ft
            return Need(
                ceiling_ft=above, visibility_sm=5.0 if night else 3.0, doubt_ceiling=s.elevation_ft is None,
                doubt_visibility=False,
            )  # fmt: skip

        return (
            oracle.all_of(
                oracle.together(
                    [(s, need(s))] if self.situation.hearing[s.id].reports else [],
                    [(t, need(t)) for t in oracle.speaks_for(s)],
                )
                for s in oracle.near(here, 20)
            )
            is V.MEETS
        )

    def height(self, minute: float) -> float:
        aircraft, height = self.question.aircraft, self.question.altitude_ft
        first, last = self.asked.waypoints[0].elevation_ft, self.asked.waypoints[-1].elevation_ft
        assert aircraft.climb_ft_min is None or first is None
        if last is not None:
            height = min(height, last + aircraft.descent_ft_min * (self.total - minute))
        return height


def timing(ahead_min: float) -> float:
    return 30.0 if ahead_min <= 120 else 45.0 if ahead_min <= 240 else 60.0


def parts(from_deg: float, kt: float) -> Point:
    return -kt * math.sin(math.radians(from_deg)), -kt * math.cos(math.radians(from_deg))


def triangle(course: float, tas: float, wind: Wind) -> float | None:
    """The groundspeed on a course; none where the track cannot be held, or the wind wins."""
    c = math.radians(course)
    along = wind.east * math.sin(c) + wind.north * math.cos(c)
    across = wind.east * math.cos(c) - wind.north * math.sin(c)
    if abs(across) >= tas:
        return None
    gs = math.sqrt(tas**2 - across**2) + along
    return gs if gs > 0 else None


def inverse(one: Point, two: Point) -> tuple[float, float]:
    forward_deg, _, metres = WGS84.inv(one[1], one[0], two[1], two[0])
    return forward_deg % 360.0, metres / 1852.0


def forward(start: Point, course: float, nm: float) -> Point:
    lon, lat, _ = WGS84.fwd(start[1], start[0], course, nm * 1852.0)
    return lat, lon


def height(s: Station, ground: float) -> float:
    return ground if s.elevation_ft is None else s.elevation_ft


def lowest(said: Conditions) -> float:
    """The lowest cloud group, above the station."""
    return min((float(layer.base_ft_agl or 0) for layer in said.layers), default=math.inf)


def base_over(ceiling: object) -> float:
    """The lowest cloud that a ceiling leaves possible, above the station; the ground where nobody knows."""
    if isinstance(ceiling, CeilingAt):
        return float(ceiling.ft_agl)
    if isinstance(ceiling, NoCeiling):
        return math.inf if ceiling.none_below_ft is None else float(ceiling.none_below_ft)
    return 0.0
