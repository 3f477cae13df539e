"""Wind across and along runways, for every state of the weather that may be met, on arrays.

The stronger of wind and gust counts. A variable wind, or one of which only the speed is known,
may come from anywhere: all of it counts as crosswind and as tailwind. A spread such as 240V300
counts at its worst.
"""

from dataclasses import dataclass

import numpy as np

from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.weather.wind import KnownWind, Wind


@dataclass(frozen=True, slots=True, kw_only=True)
class WindRows:
    """Winds as arrays of shape (rows,): from, spread on either side, the stronger of wind and gust.

    ``known`` is false where nobody knows the wind; the rest is 0 there.
    """

    from_deg: Floats
    left_deg: Floats
    right_deg: Floats
    speed_kt: Floats
    known: Bools


def wind_rows(winds: list[Wind]) -> WindRows:
    """Return winds as arrays."""
    values = np.array([_values(wind) for wind in winds], dtype=float).reshape(-1, 5)
    return WindRows(
        from_deg=values[:, 0], left_deg=values[:, 1], right_deg=values[:, 2], speed_kt=values[:, 3],
        known=values[:, 4] > 0,
    )  # fmt: skip


def _values(wind: Wind) -> tuple[float, float, float, float, float]:
    if not isinstance(wind, KnownWind):
        return 0.0, 0.0, 0.0, 0.0, 0.0
    speed = max(wind.speed_kt, wind.gust_kt or 0.0)
    if wind.variable or wind.dir_deg_true is None:
        return 0.0, 180.0, 180.0, speed, 1.0
    left = right = 0.0
    if wind.from_deg_true is not None and wind.to_deg_true is not None:
        left = (wind.dir_deg_true - wind.from_deg_true) % 360.0
        right = (wind.to_deg_true - wind.dir_deg_true) % 360.0
        if left + right > 360.0:
            left = right = 180.0
    return float(wind.dir_deg_true), left, right, speed, 1.0


def across_kt(winds: WindRows, row: Ints, heading_deg: Floats) -> Floats:
    """Return the most crosswind that each wind can be on each heading (both of shape (n,))."""
    return winds.speed_kt[row] * np.maximum(
        _most(winds, row, heading_deg + 90.0), _most(winds, row, heading_deg - 90.0)
    )


def tail_kt(winds: WindRows, row: Ints, heading_deg: Floats) -> Floats:
    """Return the most tailwind likewise: negative where it is all headwind."""
    return winds.speed_kt[row] * _most(winds, row, heading_deg + 180.0)


def _most(winds: WindRows, row: Ints, towards_deg: Floats) -> Floats:
    """Return the greatest cosine between a direction and any that the wind may come from."""
    off = (towards_deg - winds.from_deg[row] + 180.0) % 360.0 - 180.0
    past_right, past_left = off - winds.right_deg[row], -winds.left_deg[row] - off
    ahead = np.maximum(np.maximum(past_right, past_left), 0.0)
    # On the other side of the circle the way round may be shorter.
    around = np.minimum(np.abs(off + 360.0 - winds.right_deg[row]), np.abs(off - 360.0 + winds.left_deg[row]))
    return np.asarray(np.cos(np.radians(np.minimum(ahead, around))))
