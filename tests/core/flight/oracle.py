"""A second reading of method.md 4 and 5, one airfield and one window at a time, in plain Python.

It imports nothing of refuge.flight: types of question and situation are named for the type checker alone. The
states of a forecast come from refuge.weather, which has an evaluation of its own in tests/core/weather.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import IntEnum
from typing import TYPE_CHECKING

from refuge.airfield import Airfield, Station
from refuge.weather.conditions import Conditions
from refuge.weather.expected import states_of
from refuge.weather.guidance_states import GuidanceState, counted
from refuge.weather.reports import Forecast, Group, Observation
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    NoCeiling,
    Visibility,
)
from tests.core.flight.memory import Memory, apart_nm

if TYPE_CHECKING:
    from refuge.flight.minimums import Limits
    from refuge.flight.situation import Situation

NORTH_AMERICA = {"US", "CA", "PR", "GU", "VI", "AS", "MP"}


class V(IntEnum):
    MISSES = 0
    UNKNOWN = 1
    MEETS = 2


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One airfield, one window, what is required there; a planned flight may come `late_by` minutes late."""

    field: Airfield
    start: datetime
    end: datetime
    latest: datetime
    night: bool
    radius_nm: float
    limits: Limits
    late_by: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Step:
    """From one height to another; the same place needs no carrying."""

    low_ft: float | None
    high_ft: float | None
    same: bool

    @property
    def unknown(self) -> bool:
        return not self.same and (self.low_ft is None or self.high_ft is None)

    @property
    def climb_ft(self) -> float:
        if self.same or self.low_ft is None or self.high_ft is None:
            return 0.0
        return self.high_ft - self.low_ft


@dataclass(frozen=True, kw_only=True)
class Need:
    """What is required of one station: over it, in its own terms."""

    ceiling_ft: float
    visibility_sm: float | None  # None: only the ceiling is asked
    doubt_ceiling: bool
    doubt_visibility: bool


def ceiling_verdict(ceiling: Ceiling, required_ft: float) -> V:
    if isinstance(ceiling, CeilingAt):
        return V.MEETS if ceiling.ft_agl >= required_ft else V.MISSES
    if isinstance(ceiling, NoCeiling):
        return V.MEETS if ceiling.none_below_ft is None or ceiling.none_below_ft >= required_ft else V.UNKNOWN
    if ceiling.obscured:  # VV///: a ceiling exists, of the lowest category (decoding.md)
        return V.MEETS if required_ft <= 0 else V.MISSES
    return V.MISSES if ceiling.at_best_ft_agl is not None and ceiling.at_best_ft_agl < required_ft else V.UNKNOWN


def visibility_verdict(visibility: Visibility, required_sm: float) -> V:
    if not isinstance(visibility, KnownVisibility):
        best = visibility.at_best_sm
        return V.MISSES if best is not None and best < required_sm else V.UNKNOWN
    if visibility.bound is Bound.LESS_THAN:
        return V.MISSES if visibility.sm <= required_sm else V.UNKNOWN
    if visibility.sm >= required_sm:
        return V.MEETS
    if visibility.bound is Bound.AT_LEAST:
        return V.MEETS if visibility.sm >= 6 else V.UNKNOWN
    return V.MEETS if visibility.sm >= 10 else V.MISSES


def violent(said: Conditions) -> bool:
    here = [word for word in said.weather if word[:2] not in {"VC", "RE"}]
    return any(sign in word for word in here for sign in ("TS", "SQ", "FC", "GR", "GS"))


def elements(said: Conditions, need: Need) -> tuple[V, V, V]:
    ceiling = ceiling_verdict(said.ceiling, need.ceiling_ft)
    if need.doubt_ceiling:
        ceiling = min(ceiling, V.UNKNOWN)
    if need.visibility_sm is None:
        return ceiling, V.MEETS, V.MEETS
    visibility = visibility_verdict(said.visibility, need.visibility_sm)
    if need.doubt_visibility:
        visibility = min(visibility, V.UNKNOWN)
    return ceiling, visibility, V.MISSES if violent(said) else V.MEETS


class Oracle:
    """The verdicts of one airfield in one situation."""

    def __init__(self, situation: Situation, now: datetime, asked: Asked, memory: Memory | None = None) -> None:
        self.situation, self.now, self.asked = situation, now, asked
        self.memory = memory or Memory(situation, now)

    # --- who is asked -------------------------------------------------------------------------

    def stations(self) -> tuple[list[Station], list[Station]]:
        """The stations whose reports, and those whose forecasts, speak for the field."""
        field = self.asked.field
        own = self.situation.stations.get(field.station_id or "")
        if own is not None and not self.was_heard(own):
            own = None
        if own is not None and self.situation.hearing[own.id].reports:
            reports = [own]
        else:
            reports = [s for s in self.near(field, 20) if self.situation.hearing[s.id].reports and level(field, s)]
        return reports, self.forecasters(field, own)

    def forecasters(self, place: Airfield | Station, own: Station | None) -> list[Station]:
        """Own TAF; own guidance, with the TAFs around; TAFs around; guidance around; nothing (issue 6)."""
        if own is not None and self.situation.hearing[own.id].forecasts:
            return [own]
        near = [s for s in self.near(place, 30) if level(place, s)]
        tafs = [s for s in near if self.situation.hearing[s.id].forecasts]
        if own is not None and self.guided(own):
            return [*tafs, own]
        return tafs or [s for s in near if self.guided(s)]

    def guided(self, s: Station) -> bool:
        heard = self.situation.hearing[s.id]
        return heard.guidance and not heard.forecasts

    def weather(self) -> V:
        reports, forecasts = self.stations()
        verdict, tells = self.together(
            [(s, self.need(s, s)) for s in reports], [(s, self.need(s, s)) for s in forecasts]
        )
        return verdict if all(tells) else min(verdict, V.UNKNOWN)

    def low_stations(self) -> list[Station]:
        """The stations around the field, but for those that stand over 1,000 ft above it."""
        field = self.asked.field
        return [
            s
            for s in self.near(field, max(20, self.asked.radius_nm))
            if s.elevation_ft is None or field.elevation_ft is None or s.elevation_ft - field.elevation_ft <= 1000
        ]

    def area(self) -> V:
        return self.all_of(
            self.together(
                [(s, self.need(s, s))] if self.situation.hearing[s.id].reports else [],
                [(t, self.need(t, s)) for t in self.speaks_for(s)],
                far=self.far(s),
            )
            for s in self.low_stations()
        )

    def break_out(self, lowest_safe_ft: float) -> V:
        around = self.near(self.asked.field, max(20, self.asked.radius_nm))
        height = self.asked.field.elevation_ft
        # A lowest safe height under 1,000 ft over the field, or over who knows what, proves nothing (method.md 5).
        # Nor one under 1,000 ft over another station in the corridor of 4 NM, or within the error radius.
        near = self.near(self.asked.field, max(4, self.asked.radius_nm))
        own = self.asked.field.station_id
        known = [s.elevation_ft for s in near if s.elevation_ft is not None and s.id != own]
        low = height is None or lowest_safe_ft < max([height, *known]) + 1000
        at_best = V.UNKNOWN if low else V.MEETS
        found = self.all_of(
            self.together(
                [(s, self.base_need(s, lowest_safe_ft))] if self.situation.hearing[s.id].reports else [],
                [(t, self.base_need(t, lowest_safe_ft)) for t in self.speaks_for(s)],
                far=self.far(s),
            )
            for s in around
        )
        return min(found, at_best)

    def area_evidence(self) -> frozenset[str]:
        """The stations that the area rests on: those around that report, and whoever forecasts for them."""
        found = set()
        for s in self.low_stations():
            found |= {t.id for t in self.speaks_for(s)}
            if self.situation.hearing[s.id].reports:
                found.add(s.id)
        return frozenset(found)

    def far(self, s: Station) -> bool:
        """Beyond 20 NM a station can spoil the area, and no field comes to meet by it (laws of method.md)."""
        field = self.asked.field
        return apart_nm(field.lat_deg, field.lon_deg, s.lat_deg, s.lon_deg) > 20

    def all_of(self, answers: Iterator[tuple[V, tuple[bool, bool]]]) -> V:
        found = list(answers)
        worst = min((verdict for verdict, _ in found), default=V.MEETS)
        bears = [any(tells[i] for _, tells in found) for i in (0, 1)]
        return worst if all(bears) else min(worst, V.UNKNOWN)

    def near(self, place: Airfield | Station, within_nm: float) -> list[Station]:
        return [s for _, s in self.memory.near(place, within_nm)]

    def was_heard(self, s: Station) -> bool:
        heard = self.situation.hearing.get(s.id)
        return heard is not None and (heard.reports or heard.forecasts or heard.guidance)

    def speaks_for(self, s: Station) -> list[Station]:
        return self.forecasters(s, s)

    # --- what is asked of each -----------------------------------------------------------------

    def need(self, t: Station, s: Station) -> Need:
        """What station t must give, which speaks for s, which speaks for the field."""
        field = self.asked.field
        steps = [
            Step(low_ft=t.elevation_ft, high_ft=s.elevation_ft, same=t.id == s.id),
            Step(low_ft=s.elevation_ft, high_ft=field.elevation_ft, same=s.id == field.station_id),
            Step(low_ft=t.elevation_ft, high_ft=field.elevation_ft, same=t.id == field.station_id),
        ]
        unknown = any(step.unknown for step in steps)
        far = any(abs(step.climb_ft) > 300 for step in steps)
        return Need(
            ceiling_ft=self.asked.limits.ceiling_ft + max(0.0, *(step.climb_ft for step in steps)),
            visibility_sm=self.asked.limits.visibility_sm,
            doubt_ceiling=unknown,
            doubt_visibility=self.asked.night and self.foggy(t) and (unknown or far),
        )

    def base_need(self, t: Station, lowest_safe_ft: float) -> Need:
        height = t.elevation_ft
        if height is None and t.id == self.asked.field.station_id:
            height = self.asked.field.elevation_ft
        return Need(
            ceiling_ft=float("-inf") if height is None else lowest_safe_ft + 180 - height,
            visibility_sm=None,
            doubt_ceiling=height is None,
            doubt_visibility=False,
        )

    def foggy(self, s: Station) -> bool:
        seen = self.fresh(s)
        if seen is None or seen.temperature_c is None or seen.dew_point_c is None:
            return True
        return seen.temperature_c - seen.dew_point_c <= 3

    def fresh(self, s: Station) -> Observation | None:
        seen = self.situation.observations.get(s.id)
        if seen is None or seen.nil:
            return None
        age = self.now - seen.observed_at
        return seen if timedelta(minutes=-15) <= age <= timedelta(minutes=75) else None

    def has_sensor(self, s: Station, element: int) -> bool:
        """Whether the station ever reported a ceiling (0), a visibility (1)."""
        heard = self.situation.hearing[s.id]
        return heard.ever_ceiling if element == 0 else heard.ever_visibility

    # --- report and forecast together ------------------------------------------------------------

    def together(
        self,
        reports: Sequence[tuple[Station, Need]],
        forecasts: Sequence[tuple[Station, Need]],
        *,
        far: bool = False,
    ) -> tuple[V, tuple[bool, bool]]:
        """Return the verdict, and whether anything tells of the ceiling and of the visibility.

        Of a flight on time and one that leaves late the worse counts.
        """
        found = [self.at_once(reports, forecasts, late, far=far) for late in {0.0, self.asked.late_by}]
        verdict = min(verdict for verdict, _ in found)
        return verdict, (all(tells[0] for _, tells in found), all(tells[1] for _, tells in found))

    def at_once(
        self,
        reports: Sequence[tuple[Station, Need]],
        forecasts: Sequence[tuple[Station, Need]],
        late: float,
        *,
        far: bool,
    ) -> tuple[V, tuple[bool, bool]]:
        """Return the same for a flight that comes so many minutes late."""
        ahead = (self.asked.latest - self.now) / timedelta(minutes=1) + late
        since = [ahead if self.fresh(s) is None else self.since(s) + late for s, _ in reports]
        oldest = max(since, default=ahead)
        near = [(s, need) for (s, need), m in zip(reports, since, strict=True) if m <= 120]
        backed = (
            bool(near)
            and all(self.says(s, need) is V.MEETS for s, need in near)
            and all(any(self.bears(s, need, e) for s, need in near) for e in (0, 1))
        )
        verdict = V.MEETS if forecasts or reports else V.UNKNOWN
        if not reports and ahead <= 120:
            verdict = V.UNKNOWN
        for (s, need), m in zip(reports, since, strict=True):
            verdict = min(verdict, self.counted(s, need, m, alone=not forecasts))
        for t, need in forecasts:
            said = self.foretold(t, need, backed=backed)
            if oldest > 60 and self.doubtful(t, need, within_two_hours=ahead <= 120):
                said = min(said, V.UNKNOWN)
            verdict = min(verdict, said)
        by_forecast = bool(forecasts) and oldest > 120
        tells = [by_forecast or any(self.bears(s, need, e) for s, need in reports) for e in (0, 1)]
        return verdict, (tells[0] and not far, tells[1] and not far)

    def counted(self, s: Station, need: Need, m: float, *, alone: bool) -> V:
        said, seen = self.says(s, need), self.fresh(s)
        if m <= 60:
            return said
        if m <= 120:
            carried = seen is not None and seen.nosig and not seen.trend
            return V.UNKNOWN if alone and not carried else max(said, V.UNKNOWN)
        return V.UNKNOWN if alone else V.MEETS

    def bears(self, s: Station, need: Need, element: int) -> bool:
        if s.id == self.asked.field.station_id:
            return True
        return self.has_sensor(s, 0 if need.visibility_sm is None else element)

    def since(self, s: Station) -> float:
        seen = self.situation.observations[s.id]
        return (self.asked.latest - min(seen.observed_at, self.now)) / timedelta(minutes=1)

    def says(self, s: Station, need: Need) -> V:
        """Return what the report of a station, with its trend, says of the window."""
        seen = self.fresh(s)
        if seen is None:
            return V.UNKNOWN
        worst = V.MEETS
        for said in self.report_states(seen, self.asked.start, self.asked.end):
            for e, verdict in enumerate(elements(said, need)):
                if e == 2 or self.bears(s, need, e):
                    worst = min(worst, verdict)
        return worst

    def report_states(self, seen: Observation, start: datetime, end: datetime) -> list[Conditions]:
        found = [seen.adverse]
        if seen.trend:
            first, last = seen.observed_at, seen.observed_at + timedelta(hours=2)
            said = seen.adverse
            base = Group(
                kind="BASE", start=first, end=last, ceiling=said.ceiling, visibility=said.visibility,
                wind=said.wind, weather=said.weather,
            )  # fmt: skip
            trend = Forecast(
                raw="", station=seen.station, issued_at=first, valid_from=first, valid_to=last,
                groups=(base, *seen.trend),
            )  # fmt: skip
            found += [state.conditions for state in states_of([trend], start, end) if not state.outside]
        return found

    def foretold(self, t: Station, need: Need, *, backed: bool) -> V:
        if self.guided(t):
            return self.by_guidance(t, need, self.asked.start, self.asked.end)
        inside, whole = self.memory.foretold(t, self.asked.start, self.asked.end)
        verdict = min((min(elements(said, need)) for said in inside), default=V.UNKNOWN)
        if not whole:
            verdict = min(verdict, V.UNKNOWN)
        if t.country in NORTH_AMERICA or backed:
            return verdict
        high = need.ceiling_ft > 1500 and not all(proves(said, "CAVOK", "NSC") for said in inside)
        far = (need.visibility_sm or 0) > 3 and not all(
            proves(said, "CAVOK") and getattr(said.visibility, "bound", None) is Bound.AT_LEAST for said in inside
        )
        return min(verdict, V.UNKNOWN) if high or far else verdict

    def doubtful(self, t: Station, need: Need, *, within_two_hours: bool) -> bool:
        """Whether a forecast is already wrong, cannot be checked, or stands without any report of its station."""
        seen = self.fresh(t)
        if seen is None:
            return self.situation.hearing[t.id].reports or within_two_hours
        then = min(seen.observed_at, self.now)
        now_said = [elements(said, need) for said in self.report_states(seen, then, then)]
        if self.guided(t):
            foretold = [
                self.guided_elements(state, need) for state in self.guidance(t) if touches(state, then, then)
            ]
        else:
            foretold = [elements(said, need) for said in self.memory.foretold(t, then, then)[0]]
        for e in (0, 1, 2):
            if e < 2 and not self.has_sensor(t, e):
                continue
            report = min(verdicts[e] for verdicts in now_said)
            said = min((verdicts[e] for verdicts in foretold), default=V.UNKNOWN)
            if report is not V.MEETS and said is not V.MISSES:
                return True
        return False

    # --- guidance -------------------------------------------------------------------------------

    def guidance(self, t: Station) -> list[GuidanceState]:
        """Every state of a station's guidance; the first counts from the run on, an hour early at most."""
        found = self.memory.guidance(t)
        if not found:
            return []
        first = min(state.state.start for state in found)
        if first <= self.now - timedelta(hours=2):
            return found
        return [
            replace(one, state=replace(one.state, start=max(first - timedelta(hours=1), one.based_on)))
            if one.state.start == first and one.based_on is not None and one.based_on < first
            else one
            for one in found
        ]

    def by_guidance(self, t: Station, need: Need, start: datetime, end: datetime) -> V:
        found = self.guidance(t)
        mine = [min(self.guided_elements(state, need)) for state in found if touches(state, start, end)]
        verdict = min(mine, default=V.UNKNOWN)
        known = self.situation.guidance.get(t.id)
        at, whole = start, known is not None and not known.unreadable
        while whole and at < end:
            nexts = [one.state.end for one in found if one.state.start <= at < one.state.end]
            whole, at = bool(nexts), max(nexts, default=at)
        if not any(one.state.start <= start for one in found) or not any(one.state.end >= end for one in found):
            whole = False
        return verdict if whole else min(verdict, V.UNKNOWN)

    def guided_elements(self, one: GuidanceState, need: Need) -> tuple[V, V, V]:
        """Elements with thunder of 30 % as if it came true; nothing proved from 10 %, or where nobody knows."""
        said = counted(one, ceiling_ft=need.ceiling_ft, visibility_sm=need.visibility_sm).conditions
        thunder = one.thunder_percent
        if thunder is not None and thunder >= 30:
            said = replace(said, weather=(*said.weather, "TS"))
        ceiling, visibility, storm = elements(said, need)
        if thunder is None or 10 <= thunder < 30:
            ceiling = min(ceiling, V.UNKNOWN)
            visibility = visibility if need.visibility_sm is None else min(visibility, V.UNKNOWN)
        return ceiling, visibility, storm


def touches(one: GuidanceState, start: datetime, end: datetime) -> bool:
    return one.state.start <= end and one.state.end > start


def level(one: Airfield | Station, other: Station) -> bool:
    if one.elevation_ft is None or other.elevation_ft is None:
        return True
    return abs(one.elevation_ft - other.elevation_ft) <= 1000


def proves(said: Conditions, *evidence: str) -> bool:
    ceiling = said.ceiling
    return isinstance(ceiling, NoCeiling) and ceiling.evidence in evidence
