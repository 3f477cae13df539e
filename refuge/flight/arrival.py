"""When one would be where: times of arrival, windows, light and error radius, on arrays of airfields."""

from dataclasses import dataclass, fields

import numpy as np

from refuge.aircraft.account import HORIZON_MIN
from refuge.aircraft.endurance import Endurance
from refuge.flight.question import Question
from refuge.flight.reach import Reach, error_radius_nm
from refuge.flight.starts import Starts, way_from
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.sun import is_day

LANDING_MIN = 10.0
"""From break-out to the landing; a proposal."""
TIMING_ERROR_MIN = ((120.0, 30.0), (240.0, 45.0), (np.inf, 60.0))
"""Timing error of forecasts by how far ahead (FAA/NWS lead-time requirement of 2013, one step wider)."""
NEVER_MIN = 360.0
"""Stands for "never" where an array needs an instant; the reach check has said "misses" there."""
FARTHEST_ERROR_NM = 60.0
"""Beyond the horizon, where the reach check misses, an area need not grow without end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """Arrival at n airfields; every array has shape (n,), every time is seconds since the epoch.

    ``turn_s`` is when the aircraft turns. ``break_out_min`` is the latest, counted from the turn; inf is
    never. ``earliest_s`` is the earliest overhead, ``latest_s`` the latest break-out, ``landed_s`` the latest
    landing, ``slip_min`` of a late departure included; the window runs from ``start_s`` to ``end_s``, the timing
    error included besides.
    """

    reach: Reach
    turn_s: Floats
    budget_min: float | None
    descent_min: Floats
    break_out_min: Floats
    earliest_s: Floats
    latest_s: Floats
    landed_s: Floats
    start_s: Floats
    end_s: Floats
    night: Bools
    error_radius_nm: Floats
    slip_min: float


def plan_budget_min(endurance: Endurance, margin_min: float) -> float | None:
    """Return the budget, within the horizon that planning looks to; ``None`` if endurance is not known.

    Below 0 where recognition and margin alone take longer than information lasts: with a budget of 0 the field
    below would still be in reach.
    """
    if endurance.information_min is None:
        return None
    return min(endurance.information_min - endurance.recognition_min - margin_min, HORIZON_MIN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The instants of `Arrival` that hang on the way alone, in seconds since the epoch; arrays of shape (n,)."""

    earliest_s: Floats
    latest_s: Floats
    landed_s: Floats
    start_s: Floats
    end_s: Floats

    def taken(self, rows: Ints) -> "Window":
        """Return some of the windows."""
        return Window(**{part.name: getattr(self, part.name)[rows] for part in fields(self)})


def window_of(question: Question, turn_s: Floats, way: Reach, break_out_min: Floats) -> Window:
    """Return from when to when the weather counts at the end of each way."""
    now = question.now.timestamp()
    earliest = turn_s + 60.0 * np.minimum(way.earliest_min, NEVER_MIN)
    latest = turn_s + 60.0 * np.minimum(break_out_min, NEVER_MIN)
    landed = latest + 60.0 * (LANDING_MIN + question.slip_min)
    pad = 60.0 * timing_error_min((latest - now) / 60.0 + question.slip_min)
    start = np.maximum(now, earliest - pad)
    end = np.maximum(start, landed + pad)
    return Window(earliest_s=earliest, latest_s=latest, landed_s=landed, start_s=start, end_s=end)


def arrive(
    question: Question,
    starts: Starts,
    lat_deg: Floats,
    lon_deg: Floats,
    ground_ft: Floats,
    *,
    way: Reach | None = None,
) -> Arrival:
    """Return arrival at airfields of shape (n,), each from its start; `ground_ft`: elevation, 0 where unknown.

    `way` is that from each start, worked out here if not given.
    """
    if way is None:
        way = way_from(starts, lat_deg, lon_deg, tas_kt=question.aircraft.cruise_tas_kt)
    descent = descents_min(question, ground_ft)
    break_out = way.latest_min + descent
    window = window_of(question, starts.turn_s, way, break_out)
    return Arrival(
        reach=way,
        turn_s=starts.turn_s,
        budget_min=plan_budget_min(question.endurance, question.margin_min),
        descent_min=descent,
        break_out_min=break_out,
        earliest_s=window.earliest_s,
        latest_s=window.latest_s,
        landed_s=window.landed_s,
        start_s=window.start_s,
        end_s=window.end_s,
        night=~is_day(lat_deg, lon_deg, window.earliest_s, window.landed_s),
        error_radius_nm=_error_radius(question.endurance, way),
        slip_min=question.slip_min,
    )


def descents_min(question: Question, ground_ft: Floats) -> Floats:
    """Return the minutes of the descent from the level: to the lowest safe height, or to the ground without one."""
    down_to = ground_ft if question.lowest_safe_ft_amsl is None else np.asarray(question.lowest_safe_ft_amsl)
    descent = np.maximum(question.altitude_ft - down_to, 0.0) / question.aircraft.descent_ft_min
    return np.broadcast_to(descent, ground_ft.shape)


def timing_error_min(ahead_min: Floats) -> Floats:
    """Return by how many minutes a forecast may be early or late, this many minutes ahead."""
    limits, errors = zip(*TIMING_ERROR_MIN, strict=True)
    return np.asarray(errors)[np.searchsorted(limits, ahead_min, side="left")]


def _error_radius(endurance: Endurance, way: Reach) -> Floats:
    """Return error radii at arrival: they grow only with what is flown after navigation ends."""
    latest = np.minimum(way.latest_min, NEVER_MIN)
    navigation = endurance.functions["navigation"]
    if navigation.state == "not_limited":
        blind = np.zeros_like(latest)
    else:
        known = navigation.state == "until" and navigation.end_min is not None
        left = max(0.0, (navigation.end_min or 0.0) - endurance.recognition_min) if known else 0.0
        blind = np.maximum(latest - left, 0.0)
    share = np.divide(blind, latest, out=np.zeros_like(blind), where=latest > 0.0)
    radius = error_radius_nm(share * way.distance_nm, blind / 60.0)
    return np.where(way.latest_min <= HORIZON_MIN, radius, np.minimum(radius, FARTHEST_ERROR_NM))
