"""A whole flight by brute force: each minute, each airfield, in plain scalar Python.

It imports nothing of refuge.flight. What a report or forecast says comes from refuge.weather, how long the
instruments last from refuge.aircraft; the sun and local hours have tests of their own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from refuge.airfield import Airfield, Runway, Station
from refuge.local_hours import evening_end, open_through, zone_of
from refuge.weather.conditions import Conditions
from refuge.weather.sky import CeilingAt, NoCeiling, UnknownCeiling
from tests.core.flight.memory import WGS84, Atlas, Memory, lie
from tests.core.flight.oracle import Asked, Need, Oracle, V
from tests.core.flight.upper_winds import UpperWinds, Wind

if TYPE_CHECKING:
    from refuge.aircraft.endurance import Endurance
    from refuge.flight.minimums import Limits
    from refuge.flight.situation import Situation
    from refuge.flight.track import RouteQuestion

Point = tuple[float, float]
HORIZON_MIN, HORIZON_NM = 120.0, 150.0


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


@dataclass(frozen=True)
class Turn:
    """Where and when the aircraft turns if the supply fails at a minute, and what is left then."""

    at: Point
    after: float
    when: datetime
    recognition: float
    lasts: Endurance


@dataclass(frozen=True)
class Arrival:
    """When one would be at an airfield: earliest overhead, latest break-out, latest landing, the window."""

    way: Way
    break_out: float
    early: datetime
    late: datetime
    landed: datetime
    start: datetime
    end: datetime
    night: bool
    radius: float


@dataclass(frozen=True)
class Said:
    """What the weather of an airfield and a window comes to."""

    weather: V
    area: V
    break_out: V
    unsaid: bool
    freezing: bool
    base: float
    warmths: tuple[float | None, ...]
    evidence: frozenset[str]


class Brute:
    """One flight in one situation."""

    def __init__(
        self,
        asked: RouteQuestion,
        situation: Situation,
        memory: Memory | None = None,
        fields: Atlas[Airfield] | None = None,
    ) -> None:
        self.asked, self.situation, self.question = asked, situation, asked.question
        self.memory = memory or Memory(situation, asked.question.now)
        self.fields = fields or Atlas(situation.airfields)
        self.winds = UpperWinds(situation, asked.question, self.memory)
        self.departs = asked.departs
        self.pieces = self.fly()
        self.total = self.pieces[-1].ends
        self.minutes = max(1, math.ceil(self.total - 1e-9))

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
        aircraft, clock = self.question.aircraft, [0.0]
        for _, _, length, _ in bare:
            clock.append(clock[-1] + length / aircraft.cruise_tas_kt * 60)
        for _ in range(2):
            after = [0.0]
            for i, (_, middle, length, course) in enumerate(bare):
                wind = self.winds.level(middle, self.departs + timedelta(minutes=clock[i]))
                climbs = after[-1] < self.climb_min
                gs = triangle(course, (climbs and aircraft.climb_tas_kt) or aircraft.cruise_tas_kt, wind)
                assert gs is not None or length == 0
                after.append(after[-1] + (60 * length / gs if gs and length else 0.0))
            clock = after
        return [
            Piece(*start, course, length, clock[i], clock[i + 1])
            for i, (start, _, length, course) in enumerate(bare)
        ]

    @property
    def climb_min(self) -> float:
        rate, ground = self.question.aircraft.climb_ft_min, self.asked.waypoints[0].elevation_ft
        if rate is None or ground is None or self.asked.airborne:
            return 0.0
        return max(self.question.altitude_ft - ground, 0.0) / rate

    def position(self, minute: float) -> Point:
        if minute >= self.total:
            last = self.asked.waypoints[-1].at
            return last.lat_deg, last.lon_deg
        piece = next(p for p in reversed(self.pieces) if p.begins <= minute)
        share = (minute - piece.begins) / (piece.ends - piece.begins)
        return forward((piece.lat, piece.lon), piece.course, share * piece.length)

    def turn(self, minute: int) -> Turn:
        """The aircraft flies on until recognition, or the destination; the clock runs from the failure."""
        lasts = max((b for b in self.asked.blocks if b.from_min <= minute), key=lambda b: b.from_min).endurance
        since = self.asked.since_failure_min
        if since is None:
            recognition, after = lasts.recognition_min, minute + lasts.recognition_min
        else:
            recognition = max(lasts.recognition_min, since + minute)
            after = recognition - since
        return Turn(self.position(after), after, self.departs + timedelta(minutes=after), recognition, lasts)

    # --- one minute, one airfield ----------------------------------------------------------------

    def budget(self, turn: Turn) -> float | None:
        if turn.lasts.information_min is None:
            return None
        return min(turn.lasts.information_min - turn.recognition - self.question.margin_min, HORIZON_MIN)

    def candidates(self, minute: int) -> Iterator[Airfield]:
        """Yield every airfield that may be reached in time: all the wind behind the aircraft, and to spare."""
        turn = self.turn(minute)
        budget = self.budget(turn)
        if budget is not None and turn.lasts.dependable:
            fastest = self.question.aircraft.cruise_tas_kt + self.winds.strongest_kt
            for _, field in self.fields.roughly(*turn.at, min(fastest * max(budget, 0.0) / 60, HORIZON_NM) + 1):
                yield field

    def meets(self, minute: int, field: Airfield) -> float | None:
        """The minutes to break-out if the airfield is a refuge at this minute."""
        turn = self.turn(minute)
        if self.question.lowest_safe_ft_amsl is None:
            return None
        way = self.way(turn, field)
        if self.reach(turn, way, self.break_out(way, field)) is not V.MEETS:
            return None
        arrival = self.arrival(turn, way, field)
        met = (
            self.light(field, arrival) is V.MEETS
            and self.runway(field, night=arrival.night) is V.MEETS
            and (said := self.said(field, arrival)).weather is V.MEETS
            and said.area is V.MEETS
            and said.break_out is V.MEETS
            and self.icing(field, said, turn) is V.MEETS
        )
        return arrival.break_out if met else None

    def verdicts(self, minute: int, field: Airfield) -> dict[str, V]:
        """Every check of a pair, in three values."""
        turn = self.turn(minute)
        way = self.way(turn, field)
        arrival = self.arrival(turn, way, field)
        said = self.said(field, arrival)
        return {
            "reach": self.reach(turn, way, arrival.break_out),
            "weather": said.weather,
            "area": said.area,
            "break_out": said.break_out,
            "icing": self.icing(field, said, turn),
            "light": self.light(field, arrival),
            "runway": self.runway(field, night=arrival.night),
        }

    def evidence(self, minute: int, field: Airfield) -> frozenset[str]:
        """The stations that the verdict on a pair rests on."""
        turn = self.turn(minute)
        return self.said(field, self.arrival(turn, self.way(turn, field), field)).evidence

    def reach(self, turn: Turn, way: Way, break_out: float) -> V:
        budget, lasts = self.budget(turn), turn.lasts.information_min
        if lasts is not None and lasts < turn.recognition:
            return V.MISSES
        if budget is None or not way.known:
            return V.UNKNOWN
        if break_out > budget or way.distance > HORIZON_NM:
            return V.MISSES
        return V.MEETS if turn.lasts.dependable else V.UNKNOWN

    def break_out(self, way: Way, field: Airfield) -> float:
        q = self.question
        down_to = q.lowest_safe_ft_amsl if q.lowest_safe_ft_amsl is not None else field.elevation_ft or 0.0
        return way.latest + max(q.altitude_ft - down_to, 0.0) / q.aircraft.descent_ft_min

    def arrival(self, turn: Turn, way: Way, field: Airfield) -> Arrival:
        q, break_out = self.question, self.break_out(way, field)
        early, late = turn.when + timedelta(minutes=way.earliest), turn.when + timedelta(minutes=break_out)
        landed = late + timedelta(minutes=10 + q.slip_min)
        pad = timedelta(minutes=timing((late - q.now) / timedelta(minutes=1) + q.slip_min))
        start = max(q.now, early - pad)
        return Arrival(
            way, break_out, early, late, landed, start, max(start, landed + pad),
            night=not self.memory.is_day(field, early, landed), radius=self.radius(turn, way),
        )  # fmt: skip

    def radius(self, turn: Turn, way: Way) -> float:
        """The error radius: it grows with what is flown without navigation."""
        navigation = turn.lasts.functions["navigation"]
        blind = 0.0
        if navigation.state != "not_limited":
            left = 0.0
            if navigation.state == "until":
                left = max(0.0, (navigation.end_min or 0.0) - turn.recognition)
            blind = max(way.latest - left, 0.0)
        flown = way.distance * (blind / way.latest if way.latest > 0 else 0.0)
        return max(3.0, 0.1 * flown) + 10 * blind / 60

    def limits(self, *, night: bool) -> Limits:
        found = self.question.minimums.night if night else self.question.minimums.day
        assert found != "not planned"
        return found

    def way(self, turn: Turn, field: Airfield) -> Way:
        """The worse of the winds that may blow: slowest counts for the latest, fastest for the earliest."""
        at, there = turn.at, (field.lat_deg, field.lon_deg)
        track, distance = inverse(at, there)
        legs = [(track, at, distance)] if self.question.wind is not None else []
        if not legs:
            places = [forward(at, track, distance * k / 12) for k in range(13)]
            for k in range(0, 12, 2):
                course = inverse(places[k], places[k + 2])[0] if distance > 0 else track
                legs.append((course, places[k + 1], distance / 6))
        found = [self.flown(legs, number, turn.when) for number in range(self.winds.number(turn.when))]
        return Way(
            latest=max(f[0] for f in found), earliest=min(f[1] for f in found), nominal=max(f[2] for f in found),
            distance=distance, known=all(f[3] for f in found),
        )  # fmt: skip

    def flown(
        self, legs: list[tuple[float, Point, float]], number: int, when: datetime
    ) -> tuple[float, float, float, bool]:
        tas, known = self.question.aircraft.cruise_tas_kt, True
        latest = earliest = nominal = 0.0
        for course, middle, length in legs:
            wind = self.winds.at(middle, when, number)
            known &= wind.known
            if length > 0:
                gs, error = triangle(course, tas, wind), max(0.05 * math.hypot(wind.east, wind.north), 10.0)
                nominal += math.inf if gs is None else 60 * length / gs
                latest += math.inf if gs is None or gs <= error else 60 * length / (gs - error)
                earliest += math.inf if gs is None else 60 * length / (gs + error)
        return latest, earliest, nominal, known

    # --- the checks beside the weather -----------------------------------------------------------

    def light(self, field: Airfield, arrival: Arrival) -> V:
        if not arrival.night:
            return V.MEETS
        radio = V.MEETS if self.question.handheld else V.MISSES
        own = {"dusk_to_dawn": V.MEETS, "radio": radio, "none": V.MISSES, "unknown": V.UNKNOWN}.get(field.lights)
        if own is None:
            own = self.until(field, radio, arrival)
        if field.tower is None:
            return own
        lit: bool | None = any(r.lighted and not r.closed for r in field.runways or ()) or None
        if field.lights != "unknown":
            lit = field.lights != "none"
        hours = field.tower.hours
        manned = None
        if hours is not None:
            manned = open_through(hours, zone_of(field.time_zone), arrival.early, arrival.landed)
        if manned is False or lit is False:
            return own
        return max(own, V.MEETS if manned and lit else V.UNKNOWN)

    def until(self, field: Airfield, radio: V, arrival: Arrival) -> V:
        """Lights that burn until an hour: what comes after it counts beyond."""
        detail, zone = field.lights_detail, zone_of(field.time_zone)
        after = {"radio": radio, "none": V.MISSES, "unknown": V.UNKNOWN}[detail.after]
        if detail.until_local is None or zone is None:
            return max(V.UNKNOWN, after)
        assert abs(field.lat_deg) < 60, "where the sun may not set, other rules hold"
        return V.MEETS if arrival.landed <= evening_end(detail.until_local, zone, arrival.early) else after

    def runway(self, field: Airfield, *, night: bool) -> V:
        wanted = self.question.minimums
        assert wanted.max_crosswind_kt is None
        runways = field.runways or ()
        if runways and all(r.closed or r.surface == "water" for r in runways):
            return V.MISSES
        private = V.MEETS
        if wanted.no_private:
            private = {True: V.MISSES, False: V.MEETS, None: V.UNKNOWN}[field.private]
        if not wanted.hard_surface and wanted.runway_length_ft is None:
            return private
        best = max((self.suits(r, night=night) for r in runways), default=V.UNKNOWN)
        return min(private, best)

    def suits(self, r: Runway, *, night: bool) -> V:
        wanted, found = self.question.minimums, [V.MEETS]
        if r.closed or r.surface == "water":
            return V.MISSES
        if wanted.hard_surface:
            found.append(V.MEETS if r.surface == "hard" else V.UNKNOWN if r.surface == "unknown" else V.MISSES)
        if wanted.runway_length_ft is not None:
            lengths = [end.landing_ft for end in r.ends] if r.ends else [r.length_ft]
            known = [ft for ft in (*lengths, r.length_ft) if ft is not None]
            if any(ft < wanted.runway_length_ft for ft in known):
                found.append(V.MISSES)
            elif None in lengths:
                found.append(V.UNKNOWN)
        if night:
            found.append({True: V.MEETS, False: V.MISSES, None: V.UNKNOWN}[r.lighted])
        return min(found)

    def icing(self, field: Airfield, said: Said, turn: Turn) -> V:
        if said.freezing:
            return V.MISSES
        found = V.MEETS
        if said.base < self.question.altitude_ft:
            # The cruise leads to the way down, which is at the field: both may ice.
            places = (turn.at, (field.lat_deg, field.lon_deg))
            found = min(self.in_cloud(field, said, self.winds.temperature(at, turn.when)) for at in places)
        return min(found, V.UNKNOWN) if said.unsaid else found

    def in_cloud(self, field: Airfield, said: Said, aloft: float | None) -> V:
        """Cloud between +2 and -20 C ices, from the lowest base up to the cruising level."""
        q = self.question
        if q.aircraft.approved_for_icing:
            return V.MEETS
        aloft = aloft if q.oat_c is None else q.oat_c
        rise = max(q.altitude_ft - (field.elevation_ft or 0.0), 1.0)
        warm = [c for c in said.warmths if c is not None]
        if not warm or len(warm) < len(said.warmths):
            return V.MISSES if aloft is not None and -20.0 <= aloft <= 2.0 else V.UNKNOWN
        if aloft is None:  # air is no colder than the dry adiabat makes it
            safe = field.elevation_ft is not None and min(warm) - 0.003 * rise > 2.0
            return V.MEETS if safe else V.UNKNOWN
        share = 1.0 if field.elevation_ft is None else (q.altitude_ft - said.base) / rise
        ends = [aloft, *(aloft + (c - aloft) * share for c in (min(warm), max(warm)))]
        return V.MEETS if min(ends) > 2.0 or max(ends) < -20.0 else V.MISSES

    # --- the weather -------------------------------------------------------------------------------

    def said(self, field: Airfield, arrival: Arrival) -> Said:
        """What the weather comes to; windows that lie alike to all that changes are answered alike."""
        around = max(20.0, arrival.radius)
        bearing, kept = self.bearing(field, around), self.memory.kept
        key = (
            "said", field.id, len(self.memory.near(field, around)),
            # The ground in the corridor, of 4 NM or the error radius.
            len(self.memory.near(field, max(4.0, arrival.radius))), arrival.night, self.limits(night=arrival.night),
            self.question.lowest_safe_ft_amsl, *lie(bearing[0], arrival.start), *lie(bearing[0], arrival.end),
            lie(bearing[1], arrival.late)[0],
            lie(bearing[1], arrival.late + timedelta(minutes=self.question.slip_min))[0],
        )  # fmt: skip
        if key not in kept:
            kept[key] = self.asked_anew(field, arrival)
        found = kept[key]
        assert isinstance(found, Said)
        return found

    def bearing(self, field: Airfield, around: float) -> tuple[list[datetime], list[datetime]]:
        """Return when what the stations around a field say changes, and when a report is too old to say it."""
        near, now = self.memory.near(field, max(around, 30.0)), self.question.now
        key = ("bearing", field.id, len(near))
        if key not in self.memory.kept:
            # Each of these may borrow a forecast from 30 NM farther away.
            who = {s.id: s for _, near_by in near for _, s in self.memory.near(near_by, 30.0)}
            who |= {s.id: s for _, s in near}
            hours, seen = [timedelta(hours=1), timedelta(hours=2)], self.situation.observations
            old = {now + hour for hour in hours}
            old |= {min(seen[s].observed_at, now) + hour for s in who if s in seen for hour in hours}
            changes = {at for s in who.values() for at in self.memory.changes(s)}
            self.memory.kept[key] = sorted(changes), sorted(old)
        found = self.memory.kept[key]
        assert isinstance(found, tuple)
        return found

    def oracle(self, field: Airfield, arrival: Arrival) -> Oracle:
        return Oracle(
            self.situation,
            self.question.now,
            Asked(
                field=field, start=arrival.start, end=arrival.end, latest=arrival.late, night=arrival.night,
                radius_nm=arrival.radius, limits=self.limits(night=arrival.night), late_by=self.question.slip_min,
            ),
            self.memory,
        )  # fmt: skip

    def asked_anew(self, field: Airfield, arrival: Arrival) -> Said:
        oracle, lowest = self.oracle(field, arrival), self.question.lowest_safe_ft_amsl
        reports, forecasts = oracle.stations()
        assert not any(oracle.guided(s) for s in forecasts), "guidance is not read here"
        own, unsaid = self.told(oracle, reports, forecasts)
        unsaid |= any(oracle.need(s, s).doubt_ceiling for s in (*reports, *forecasts))
        low = oracle.low_stations()
        heard = [s for s in low if self.situation.hearing[s.id].reports]
        around, _ = self.told(oracle, heard, [t for s in low for t in oracle.speaks_for(s)])
        ground = field.elevation_ft or 0.0
        # Cloud of any amount ices; one whose height nobody tells may begin at the ground.
        base = min((height(s, ground) + min(base_over(c.ceiling), lowest_cloud(c)) for s, c in own), default=ground)
        if unsaid:
            base = min(base, ground)
        # The way down may lie over any station of the area; what is not known there is the area's matter.
        for s, c in around:
            untold = isinstance(c.ceiling, UnknownCeiling) and not c.ceiling.obscured
            base = min(base, height(s, ground) + min(math.inf if untold else base_over(c.ceiling), lowest_cloud(c)))
        fresh = [oracle.fresh(s) for s in reports]
        return Said(
            weather=oracle.weather(),
            area=oracle.area(),
            break_out=V.UNKNOWN if lowest is None else oracle.break_out(lowest),
            unsaid=unsaid,
            freezing=any(freezes(word) for _, c in own + around for word in c.weather),
            base=base,
            warmths=tuple(None if seen is None else seen.temperature_c for seen in fresh),
            evidence=frozenset(s.id for s in (*reports, *forecasts)) | oracle.area_evidence(),
        )

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
            inside, whole = self.memory.foretold(s, start, end)
            said += [(s, state) for state in inside]
            unsaid |= not whole
        return said, unsaid

    # --- in sight --------------------------------------------------------------------------------

    def visual(self, minute: int) -> bool:
        """Whether the aircraft is in sight at a minute, until a failure then is noticed or it has landed."""
        until = max(min(self.turn(minute).after, self.total), minute)
        return all(self.in_sight(min(minute + k, until)) for k in range(math.ceil(until - minute) + 1))

    def in_sight(self, minute: float) -> bool:
        """Whether every station within 20 NM gives a base 500 ft above the aircraft, and the floor's visibility."""
        q = self.question
        lat, lon = self.position(minute)
        when = self.departs + timedelta(minutes=minute)
        pad = timedelta(minutes=timing((when - q.now) / timedelta(minutes=1) + q.slip_min))
        start = max(q.now, when - pad)
        end = max(start, when + timedelta(minutes=q.slip_min) + pad)
        here = Airfield(id="here", name="here", lat_deg=lat, lon_deg=lon, elevation_ft=None, country="")
        night = not self.memory.is_day(here, start, end)
        oracle = Oracle(
            self.situation, q.now,
            Asked(field=here, start=start, end=end, latest=when, night=night, radius_nm=20,
                  limits=self.limits(night=False), late_by=q.slip_min),
            self.memory,
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
        if aircraft.climb_ft_min is not None and first is not None and not self.asked.airborne:
            height = min(height, first + aircraft.climb_ft_min * minute)
        if last is not None:
            height = min(height, last + aircraft.descent_ft_min * (self.total - minute))
        return height


def timing(ahead_min: float) -> float:
    return 30.0 if ahead_min <= 120 else 45.0 if ahead_min <= 240 else 60.0


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


def freezes(word: str) -> bool:
    """Freezing rain or drizzle, or ice pellets."""
    return ("FZ" in word and word[-2:] in {"RA", "DZ", "UP"}) or "PL" in word


def lowest_cloud(said: Conditions) -> float:
    """The lowest cloud group, above the station."""
    return min((float(layer.base_ft_agl or 0) for layer in said.layers), default=math.inf)


def base_over(ceiling: object) -> float:
    """The lowest cloud that a ceiling leaves possible, above the station; the ground where nobody knows."""
    if isinstance(ceiling, CeilingAt):
        return float(ceiling.ft_agl)
    if isinstance(ceiling, NoCeiling):
        return math.inf if ceiling.none_below_ft is None else float(ceiling.none_below_ft)
    return 0.0
