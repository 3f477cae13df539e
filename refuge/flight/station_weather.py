"""From a situation to arrays: the stations, what is known of each, and the states of their weather."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from refuge.airfield import Station
from refuge.flight.bearing import FOG_SPREAD_C, StationArrays
from refuge.flight.evidence import STALE_AFTER_MIN, StationFacts, StationWeather
from refuge.flight.guided import NOT_COVERED, Covered, guided_rows
from refuge.flight.situation import Guided, Hearing, Situation, is_old
from refuge.flight.state_arrays import StateRow, build_states
from refuge.weather.expected import speakers
from refuge.weather.reports import Forecast, Group, Observation
from refuge.weather.states import states

TREND_LASTS = timedelta(hours=2)
"""A landing forecast speaks of the two hours after the report (WMO-No. 306, FM 15, 15.14)."""
LOOKS_BACK = timedelta(hours=2)
"""A fresh report is younger: what forecasts said for an earlier hour is never asked."""
GUIDANCE_ENDS = timedelta(hours=80)
"""No guidance that is kept looks farther: 72 hours and a run's age (NBS)."""
AHEAD_OBSERVED = timedelta(minutes=15)
"""A report stamped later than this after now is misdated, and would look fresh for ever."""
FULL_TAF_COUNTRIES = frozenset({"US", "CA", "PR", "GU", "VI", "AS", "MP"})
"""Where forecasts mention every change that matters: the United States, its territories, Canada."""

NEVER_HEARD = Hearing(reports=False, forecasts=False, ever_ceiling=False, ever_visibility=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """The stations of a situation in a fixed order, as arrays and with their weather."""

    stations: tuple[Station, ...]
    index: Mapping[str, int]
    arrays: StationArrays
    weather: StationWeather
    observations: tuple[Observation | None, ...]
    forecasts: tuple[tuple[Forecast, ...], ...]
    guidance: tuple[Guided | None, ...]


def network_of(situation: Situation, now: datetime, last: datetime | None = None) -> Network:
    """Return every station of `situation` that was ever heard, with what it says as of `now`.

    States of forecasts are worked out up to `last`, the end of the last window that is asked; all of
    them where it is ``None``. A station that was never heard bears on nothing: it is left out here, and
    named where it stands at an airfield.
    """
    heard = [s for s in situation.stations.values() if _heard(situation.hearing.get(s.id, NEVER_HEARD))]
    observations = tuple(situation.observations.get(station.id) for station in heard)
    forecasts = tuple(tuple(situation.forecasts.get(station.id, ())) for station in heard)
    hearing = [situation.hearing[station.id] for station in heard]
    guidance = tuple(
        situation.guidance.get(s.id) if _guided(h) else None for s, h in zip(heard, hearing, strict=True)
    )
    covered = [
        guided_rows(i, guided, now - LOOKS_BACK, now + GUIDANCE_ENDS if last is None else last)
        if guided is not None
        else NOT_COVERED
        for i, guided in enumerate(guidance)
    ]
    facts = _facts(situation, heard, hearing, observations, forecasts, now=now)
    return Network(
        stations=tuple(heard),
        index={station.id: i for i, station in enumerate(heard)},
        arrays=_arrays(heard, hearing, observations, now),
        weather=StationWeather(
            facts=_with_guidance(facts, hearing, covered),
            reports=build_states(_report_rows(observations), len(heard)),
            forecasts=build_states(
                (
                    *_forecast_rows(
                        [() if _guided(h) else own for own, h in zip(forecasts, hearing, strict=True)],
                        now - LOOKS_BACK,
                        last,
                    ),
                    *(row for each in covered for row in each.rows),
                ),
                len(heard),
            ),
        ),
        observations=observations,
        forecasts=forecasts,
        guidance=guidance,
    )


def _stopped(situation: Situation, now: datetime) -> bool:
    """Return whether bulletins came in once, and none of late."""
    return situation.data_as_of is not None and is_old(situation.data_as_of, now)


def _heard(hearing: Hearing) -> bool:
    return hearing.reports or hearing.forecasts or hearing.guidance


def _guided(hearing: Hearing) -> bool:
    """Return whether guidance stands in for a TAF: there was guidance, and never a TAF."""
    return hearing.guidance and not hearing.forecasts


def _with_guidance(facts: StationFacts, hearing: Sequence[Hearing], covered: Sequence[Covered]) -> StationFacts:
    """Return facts in which guidance is the forecast of stations that have no other: it mentions every change."""
    guided = np.array([_guided(h) for h in hearing], dtype=bool)
    return replace(
        facts,
        has_forecast=np.where(guided, [bool(each.rows) for each in covered], facts.has_forecast),
        covered_from_s=np.where(guided, [each.from_s for each in covered], facts.covered_from_s),
        covered_to_s=np.where(guided, [each.to_s for each in covered], facts.covered_to_s),
        full_taf=facts.full_taf | guided,
    )


def is_fresh(observation: Observation | None, now: datetime) -> bool:
    """Return whether there is a report that is no older than 75 minutes and not of the future."""
    if observation is None or observation.nil:
        return False
    age = now - observation.observed_at
    return -AHEAD_OBSERVED <= age <= timedelta(minutes=STALE_AFTER_MIN)


def _arrays(
    stations: Sequence[Station],
    hearing: Sequence[Hearing],
    observations: Sequence[Observation | None],
    now: datetime,
) -> StationArrays:
    return StationArrays(
        lat_deg=np.array([s.lat_deg for s in stations], dtype=float),
        lon_deg=np.array([s.lon_deg for s in stations], dtype=float),
        elevation_ft=np.array([0.0 if s.elevation_ft is None else s.elevation_ft for s in stations], dtype=float),
        height_known=np.array([s.elevation_ft is not None for s in stations], dtype=bool),
        reports=np.array([h.reports for h in hearing], dtype=bool),
        forecasts=np.array([h.forecasts for h in hearing], dtype=bool),
        guidance=np.array([_guided(h) for h in hearing], dtype=bool),
        ever_ceiling=np.array([h.ever_ceiling for h in hearing], dtype=bool),
        ever_visibility=np.array([h.ever_visibility for h in hearing], dtype=bool),
        small_spread=np.array([_spread_small_or_unknown(o, now) for o in observations], dtype=bool),
    )


def _spread_small_or_unknown(observation: Observation | None, now: datetime) -> bool:
    """Return whether fog may hide between station and field: a small spread, or one that nobody knows now."""
    if observation is None or not is_fresh(observation, now):
        return True
    if observation.temperature_c is None or observation.dew_point_c is None:
        return True
    return observation.temperature_c - observation.dew_point_c <= FOG_SPREAD_C


def _facts(
    situation: Situation,
    stations: Sequence[Station],
    hearing: Sequence[Hearing],
    observations: Sequence[Observation | None],
    forecasts: Sequence[Sequence[Forecast]],
    *,
    now: datetime,
) -> StationFacts:
    renewed = not _stopped(situation, now)
    fresh = [is_fresh(observation, now) for observation in observations]
    covered = [covered_s(own) for own in forecasts]
    return StationFacts(
        # A report stamped a little ahead counts from now: it is no fresher than one that was not sent yet.
        observed_s=np.array(
            [
                min(o.observed_at, now).timestamp() if o and f else 0.0
                for o, f in zip(observations, fresh, strict=True)
            ]
        ),
        fresh=np.array(fresh, dtype=bool),
        # Where nothing came in for hours nobody checks or renews a forecast, of whatever station.
        silent=np.array(
            [(h.reports or (h.forecasts and not renewed)) and not f for h, f in zip(hearing, fresh, strict=True)],
            dtype=bool,
        ),
        nosig=np.array([o is not None and o.nosig and not o.trend for o in observations], dtype=bool),
        has_forecast=np.array([bool(own) for own in forecasts], dtype=bool),
        covered_from_s=np.array([start for start, _ in covered], dtype=float),
        covered_to_s=np.array([end for _, end in covered], dtype=float),
        full_taf=np.array([s.country in FULL_TAF_COUNTRIES for s in stations], dtype=bool),
        ever_ceiling=np.array([h.ever_ceiling for h in hearing], dtype=bool),
        ever_visibility=np.array([h.ever_visibility for h in hearing], dtype=bool),
    )


def covered_s(forecasts: Sequence[Forecast]) -> tuple[float, float]:
    """Return from when to when forecasts of one station cover without a hole, up to the end of the newest.

    Nothing is covered (a start after the end) where there is none, or the newest is cancelled or nil.
    """
    start = end = None
    for forecast, since, until in speakers(forecasts):
        if forecast.cancelled or forecast.nil or forecast.valid_to is None:
            break
        if end is None:
            end = forecast.valid_to.timestamp()
        elif until is None or forecast.valid_to < until:
            break
        start = since.timestamp()
    return (np.inf, -np.inf) if start is None or end is None else (start, end)


def _report_rows(observations: Sequence[Observation | None]) -> Iterator[StateRow]:
    """Yield the states of reports: the report itself at any time, and its trend in the two hours after."""
    for station, observation in enumerate(observations):
        if observation is None:
            continue
        yield StateRow(
            station=station, start=-np.inf, end=np.inf, conditions=observation.adverse,
            label=f"report {observation.observed_at:%d%H%M}Z", prevailing=True,
        )  # fmt: skip
        if observation.trend:
            yield from _trend_rows(station, observation)


def _trend_rows(station: int, observation: Observation) -> Iterator[StateRow]:
    """Yield the states of a trend, as a forecast of two hours that begins with the report."""
    start, end = observation.observed_at, observation.observed_at + TREND_LASTS
    adverse = observation.adverse
    base = Group(
        kind="BASE", start=start, end=end, ceiling=adverse.ceiling, visibility=adverse.visibility,
        wind=adverse.wind, weather=adverse.weather, layers=adverse.layers,
    )  # fmt: skip
    trend = Forecast(
        raw=observation.raw, station=observation.station, issued_at=start, valid_from=start, valid_to=end,
        groups=(base, *observation.trend),
    )  # fmt: skip
    for state in states(trend, start, end):
        yield StateRow(
            station=station, start=state.start.timestamp(), end=state.end.timestamp(),
            conditions=state.conditions, label=f"trend {state.label}", prevailing=state.prevailing,
        )  # fmt: skip


def _forecast_rows(
    forecasts: Sequence[Sequence[Forecast]], first: datetime, last: datetime | None
) -> Iterator[StateRow]:
    """Yield every state of every forecast from `first` to `last`, each only while its forecast speaks."""
    for station, own in enumerate(forecasts):
        for forecast, since, until in speakers(own):
            if forecast.cancelled or forecast.nil or forecast.valid_to is None:
                break
            start = max(since, first)
            stop = forecast.valid_to if last is None else min(forecast.valid_to, last)
            if start > stop:
                continue
            for state in states(forecast, start, stop):
                end = state.end if until is None else min(state.end, until)
                if state.start < end and not state.outside:
                    yield StateRow(
                        station=station, start=state.start.timestamp(), end=end.timestamp(),
                        conditions=state.conditions, label=state.label, prevailing=state.prevailing,
                    )  # fmt: skip
