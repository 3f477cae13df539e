"""Whether a field can be seen at arrival (method.md 5): by day, or by lights that burn without a radio.

The window is the one without the timing error. By night a field is lit by what burns from dusk to
dawn, by what burns until an hour later than the window, by what a handheld radio turns on, or by a
tower that is open through the whole window at a field that has lights. Each of them may be unknown;
the best of them counts, so that one that is known to be lit is enough.
"""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from refuge.airfield import Airfield
from refuge.flight.state_arrays import Bools, Floats
from refuge.flight.verdict import MEETS, MISSES, UNKNOWN, Codes
from refuge.local_hours import evening_end, open_through, zone_of
from refuge.sun import Stays, sun_day

ALWAYS_RISES_DEG = 60.0
"""Below this latitude the sun rises every day (the polar circles are at 66.6 degrees)."""


def light_codes(
    night: Bools, airfields: Sequence[Airfield], start_s: Floats, end_s: Floats, *, handheld: bool
) -> Codes:
    """Return whether each field can be seen from `start_s` to `end_s` (seconds since the epoch)."""
    codes = np.full(night.shape, MEETS, dtype=np.int8)
    for i in np.flatnonzero(night).tolist():
        field, window = airfields[i], (_instant(start_s[i]), _instant(end_s[i]))
        own = lights_code(field, *window, handheld=handheld)
        codes[i] = own if field.tower is None else max(own, tower_code(field, *window))
    return codes


def lights_code(airfield: Airfield, start: datetime, end: datetime, *, handheld: bool) -> np.int8:
    """Return whether an airfield's own lights burn through a window of the night."""
    by_radio = MEETS if handheld else MISSES
    match airfield.lights:
        case "dusk_to_dawn":
            return MEETS
        case "radio":
            return by_radio
        case "none":
            return MISSES
        case "until":
            after = {"radio": by_radio, "none": MISSES, "unknown": UNKNOWN}[airfield.lights_detail.after]
            out = goes_out(airfield, start)
            if out is None:
                return np.int8(max(UNKNOWN, after))
            return MEETS if end <= out else after
        case "unknown":
            return UNKNOWN


def goes_out(airfield: Airfield, start: datetime) -> datetime | None:
    """Return when lights that burn until an hour go out in the night of `start`.

    ``None`` where local time is not known, or where there was no dusk that could have lit them.
    """
    until, zone = airfield.lights_detail.until_local, zone_of(airfield.time_zone)
    if until is None or zone is None:
        return None
    out = evening_end(until, zone, start)
    return out if _had_dusk(airfield, out) else None


def _had_dusk(airfield: Airfield, out: datetime) -> bool:
    """Return whether the sun was up on the day before lights go out, so that its setting could light them."""
    if abs(airfield.lat_deg) < ALWAYS_RISES_DEG:
        return True
    sun = sun_day(airfield.lat_deg, airfield.lon_deg, out - timedelta(hours=12))
    return not isinstance(sun.set, Stays)


def tower_open(airfield: Airfield, start: datetime, end: datetime) -> bool | None:
    """Return whether a tower is open through a window; false where there is none, ``None`` where unknown."""
    if airfield.tower is None:
        return False
    if airfield.tower.hours is None:
        return None
    return open_through(airfield.tower.hours, zone_of(airfield.time_zone), start, end)


def tower_code(airfield: Airfield, start: datetime, end: datetime) -> np.int8:
    """Return whether an open tower lights the field through a window: it must have lights to turn on."""
    open_ = tower_open(airfield, start, end)
    lights = has_lights(airfield)
    if open_ is False or lights is False:
        return MISSES
    return MEETS if open_ and lights else UNKNOWN


def never_lit(airfield: Airfield) -> bool:
    """Return whether nothing that is known of an airfield could ever make its light check meet by night."""
    return airfield.tower is None and airfield.lights in {"none", "unknown"}


def has_lights(airfield: Airfield) -> bool | None:
    """Return whether the field has runway lights, whoever turns them on; ``None`` where nobody knows."""
    if airfield.lights in {"dusk_to_dawn", "until", "radio"}:
        return True
    if airfield.lights == "none":
        return False
    lit = any(runway.lighted and not runway.closed for runway in airfield.runways or ())
    return True if lit else None


def _instant(seconds: float) -> datetime:
    return datetime.fromtimestamp(float(seconds), tz=UTC)
