"""Words for elements of the weather and for why a state does not meet."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from refuge.flight.state_arrays import is_violent, judge_one
from refuge.flight.verdict import MEETS, MISSES
from refuge.units import miles
from refuge.weather.conditions import Conditions
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
from refuge.weather.wind import KnownWind, Wind


def ceiling_phrase(ceiling: Ceiling) -> str:
    """Return a ceiling in words: ``ceiling 800 ft``, ``no ceiling below 5,000 ft (CAVOK)``."""
    match ceiling:
        case CeilingAt(ft_agl=ft):
            return f"ceiling {ft:,} ft"
        case NoCeiling(none_below_ft=None):
            return "no ceiling"
        case NoCeiling(none_below_ft=below, evidence=evidence):
            return f"no ceiling below {below:,} ft ({evidence})"
        case UnknownCeiling(at_best_ft_agl=None, reason=reason):
            return f"ceiling unknown ({reason})"
        case UnknownCeiling(at_best_ft_agl=best, reason=reason):
            return f"ceiling unknown, {best:,} ft at best ({reason})"


def visibility_phrase(visibility: Visibility) -> str:
    """Return a visibility in words: ``visibility 2 1/2 SM``, ``visibility 6 SM or more``."""
    match visibility:
        case KnownVisibility(sm=sm, bound=Bound.EXACTLY):
            return f"visibility {miles(sm)} SM"
        case KnownVisibility(sm=sm, bound=Bound.AT_LEAST):
            return f"visibility {miles(sm)} SM or more"
        case KnownVisibility(sm=sm):
            return f"visibility less than {miles(sm)} SM"
        case UnknownVisibility(at_best_sm=None, reason=reason):
            return f"visibility unknown ({reason})"
        case UnknownVisibility(at_best_sm=best, reason=reason):
            return f"visibility unknown, {miles(best or 0.0)} SM at best ({reason})"


def wind_phrase(wind: Wind) -> str:
    """Return a surface wind in words: ``280/15 gusting 25 kt``, ``wind unknown``."""
    if not isinstance(wind, KnownWind):
        return "wind unknown"
    if wind.dir_deg_true is None:
        return f"variable {wind.speed_kt:.0f} kt" if wind.variable else "calm"
    gust = f" gusting {wind.gust_kt:.0f}" if wind.gust_kt else ""
    return f"{wind.dir_deg_true:03d}/{wind.speed_kt:.0f}{gust} kt"


def shortcomings(conditions: Conditions, required_ft: float, required_sm: float) -> Iterator[str]:
    """Yield in words what of these conditions does not meet: nothing if everything does."""
    ceiling, visibility = judge_one(conditions, required_ft, required_sm)
    if ceiling != MEETS:
        yield f"{ceiling_phrase(conditions.ceiling)}, needs {required_ft:,.0f}"
    if required_sm <= 0.0:
        return
    if visibility != MEETS:
        yield f"{visibility_phrase(conditions.visibility)}, needs {miles(required_sm)}"
    if is_violent(conditions):
        yield f"{' '.join(conditions.weather)} in it"


def misses_weather(conditions: Conditions, required_ft: float, required_sm: float) -> bool:
    """Return whether these conditions miss, rather than leave open."""
    return MISSES in judge_one(conditions, required_ft, required_sm) or is_violent(conditions)


def clock(instant: datetime | float) -> str:
    """Return an instant (or seconds since the epoch) as the trade writes it: ``220253Z``."""
    when = datetime.fromtimestamp(instant, tz=UTC) if isinstance(instant, float) else instant
    return f"{when:%d%H%M}Z"


def latest(instant: datetime) -> datetime:
    """Return the whole minute at or after an instant: what is the latest is rounded against the pilot."""
    whole = instant.replace(second=0, microsecond=0)
    return whole if whole == instant else whole + timedelta(minutes=1)
