"""What many asks of one situation share: who lies near, what a station foretells. It saves time, nothing more.

What is kept hangs on places, and on how instants lie to those at which something changes: two windows that lie
alike to all of these are answered alike.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Generic, Protocol, TypeVar

from pyproj import Geod

from refuge.airfield import Station
from refuge.sun import is_day
from refuge.weather.conditions import Conditions
from refuge.weather.expected import states_of
from refuge.weather.guidance_states import GuidanceState, guidance_states

if TYPE_CHECKING:
    from refuge.flight.situation import Situation

WGS84 = Geod(ellps="WGS84")
FAR_NM = 62.0
"""No area of a field in reach is larger; a larger one is looked for anew."""
NM_PER_RAD = 3420.0
"""No radian of a great circle on WGS84 is shorter (59.7 NM a degree)."""
J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)
SUNRISE_DEG, CLOSE_CALL_DEG = -0.833, 0.2


def apart_nm(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Return the distance of two points."""
    return float(WGS84.inv(lon1, lat1, lon2, lat2)[2]) / 1852.0


class Place(Protocol):
    """Something that lies somewhere."""

    @property
    def lat_deg(self) -> float: ...
    @property
    def lon_deg(self) -> float: ...


P = TypeVar("P", bound=Place)
Vector = tuple[float, float, float]


def unit(lat_deg: float, lon_deg: float) -> Vector:
    """Return the unit vector of a position."""
    lat, lon = math.radians(lat_deg), math.radians(lon_deg)
    return math.cos(lat) * math.cos(lon), math.cos(lat) * math.sin(lon), math.sin(lat)


class Atlas(Generic[P]):
    """Places by their degree of latitude, so that those near a point are found among few."""

    def __init__(self, places: Iterable[P]) -> None:
        self.bands: dict[int, list[tuple[Vector, P]]] = defaultdict(list)
        for place in places:
            self.bands[math.floor(place.lat_deg)].append((unit(place.lat_deg, place.lon_deg), place))

    def roughly(self, lat_deg: float, lon_deg: float, within_nm: float) -> list[tuple[Vector, P]]:
        """Return every place within the distance, and some a little beyond, with its unit vector."""
        angle = min(1.01 * within_nm / NM_PER_RAD + 1e-4, math.pi)
        x, y, z = unit(lat_deg, lon_deg)
        least, widest = math.cos(angle), math.degrees(angle)
        found = []
        for band in range(math.floor(lat_deg - widest), math.floor(lat_deg + widest) + 1):
            found += [
                (v, place) for v, place in self.bands.get(band, ()) if v[0] * x + v[1] * y + v[2] * z >= least
            ]
        return found

    def near(self, lat_deg: float, lon_deg: float, within_nm: float) -> list[tuple[float, P]]:
        """Return the places within the distance, with it, the nearest first."""
        found = [
            (apart_nm(lat_deg, lon_deg, place.lat_deg, place.lon_deg), i, place)
            for i, (_, place) in enumerate(self.roughly(lat_deg, lon_deg, within_nm))
        ]
        return [(nm, place) for nm, _, place in sorted(found, key=lambda one: one[:2]) if nm <= within_nm]


class Memory:
    """What is worked out once for one situation as of one instant."""

    def __init__(self, situation: Situation, now: datetime) -> None:
        self.situation, self.now = situation, now
        self.heard = [
            s
            for s in situation.stations.values()
            if (h := situation.hearing.get(s.id)) is not None and (h.reports or h.forecasts or h.guidance)
        ]
        self.atlas = Atlas(self.heard)
        self._near: dict[tuple[float, float], list[tuple[float, Station]]] = {}
        self._changes: dict[str, list[datetime]] = {}
        self._foretold: dict[tuple[object, ...], tuple[list[Conditions], bool]] = {}
        self._guidance: dict[str, list[GuidanceState]] = {}
        self.kept: dict[tuple[object, ...], object] = {}

    def near(self, place: Place, within_nm: float) -> list[tuple[float, Station]]:
        """Return the stations that were ever heard within a distance, with it, the nearest first."""
        if within_nm > FAR_NM:
            return self.atlas.near(place.lat_deg, place.lon_deg, within_nm)
        key = place.lat_deg, place.lon_deg
        if key not in self._near:
            self._near[key] = self.atlas.near(*key, FAR_NM)
        found = self._near[key]
        return found[: bisect_right(found, within_nm, key=lambda one: one[0])]

    def foretold(self, s: Station, start: datetime, end: datetime) -> tuple[list[Conditions], bool]:
        """Return what the forecasts of a station allow in a window, and whether they speak of all of it."""
        changes = self.changes(s)
        key = s.id, *lie(changes, start), *lie(changes, end)
        if key not in self._foretold:
            states = states_of(self.situation.forecasts.get(s.id, ()), start, end)
            inside = [state.conditions for state in states if not state.outside]
            self._foretold[key] = inside, len(inside) == len(states)
        return self._foretold[key]

    def changes(self, s: Station) -> list[datetime]:
        """Return the instants at which something that a station says may change, in order."""
        if s.id not in self._changes:
            found: set[datetime | None] = set()
            for forecast in self.situation.forecasts.get(s.id, ()):
                found |= {forecast.issued_at, forecast.valid_from, forecast.valid_to}
                found |= {at for group in forecast.groups for at in (group.start, group.end)}
            seen = self.situation.observations.get(s.id)
            if seen is not None and seen.trend:
                found |= {seen.observed_at, seen.observed_at + timedelta(hours=2)}
                found |= {at for group in seen.trend for at in (group.start, group.end)}
            found |= {at for one in self.guidance(s) for at in (one.state.start, one.state.end, one.based_on)}
            self._changes[s.id] = sorted(at for at in found if at is not None)
        return self._changes[s.id]

    def guidance(self, s: Station) -> list[GuidanceState]:
        """Return every state of a station's guidance, whoever asks."""
        if s.id not in self._guidance:
            known = self.situation.guidance.get(s.id)
            first, last = self.now - timedelta(hours=2), self.now + timedelta(hours=100)
            whole = () if known is None or not known.blocks else guidance_states(known.blocks, first, last)
            self._guidance[s.id] = [state for state in whole if state.product is not None]
        return self._guidance[s.id]

    def is_day(self, place: Place, start: datetime, end: datetime) -> bool:
        """Return whether the sun is up through a window; close calls and nights between are refuge.sun's."""
        first, last = sun(place, start), sun(place, end)
        least = min(first[0], last[0])
        if least < SUNRISE_DEG - CLOSE_CALL_DEG:
            return False
        over_midnight = end - start > timedelta(hours=6) or last[1] < first[1]
        if least > SUNRISE_DEG + CLOSE_CALL_DEG and not over_midnight:
            return True
        return bool(is_day(place.lat_deg, place.lon_deg, start, end))


def sun(place: Place, at: datetime) -> tuple[float, float]:
    """Return the sun's altitude and its hour angle (degrees, from midnight), good to a tenth of a degree (USNO)."""
    n = (at - J2000) / timedelta(days=1)
    g = math.radians((357.528 + 0.9856003 * n) % 360)
    longitude = math.radians((280.460 + 0.9856474 * n + 1.915 * math.sin(g) + 0.020 * math.sin(2 * g)) % 360)
    tilt = math.radians(23.439)
    right = math.degrees(math.atan2(math.cos(tilt) * math.sin(longitude), math.cos(longitude)))
    declination = math.asin(math.sin(tilt) * math.sin(longitude))
    hour = (15 * (18.697374558 + 24.06570982441908 * n) + place.lon_deg - right + 180) % 360
    lat = math.radians(place.lat_deg)
    up, across = math.sin(lat) * math.sin(declination), math.cos(lat) * math.cos(declination)
    sine = up - across * math.cos(math.radians(hour))
    return math.degrees(math.asin(max(-1.0, min(1.0, sine)))), hour


def lie(instants: list[datetime], at: datetime) -> tuple[int, int]:
    """Return how an instant lies to others: how many are before it, and how many not after it."""
    return bisect_left(instants, at), bisect_right(instants, at)
