"""The wind triangle, on arrays.

Source of the method: FAA-H-8083-25, chapter 16 (dead reckoning). Winds are *from*, degrees true.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Triangle:
    """The solution of wind triangles; every field has the shape of the broadcast arguments.

    ``possible`` is true where the track can be held and the aircraft makes way along it. Where
    the crosswind exceeds the true airspeed, ``wca_deg`` and ``heading_deg_true`` hold 0 and
    the track, ``gs_kt`` holds 0, and mean nothing. Where the track can be held but the
    headwind wins, ``gs_kt`` is zero or negative.
    """

    wca_deg: Floats
    heading_deg_true: Floats
    gs_kt: Floats
    possible: Bools


def solve(
    track_deg_true: npt.ArrayLike, tas_kt: npt.ArrayLike, wind_from_deg_true: npt.ArrayLike, wind_kt: npt.ArrayLike
) -> Triangle:
    """Return wind correction angle, heading and groundspeed for tracks in winds.

    WCA = asin(W sin(wd - tc) / TAS), TH = TC + WCA, GS = TAS cos WCA - W cos(wd - tc).
    """
    track, tas, wind_from, wind = np.broadcast_arrays(
        *(np.asarray(x, dtype=float) for x in (track_deg_true, tas_kt, wind_from_deg_true, wind_kt))
    )
    angle = np.radians(wind_from - track)
    cross = wind * np.sin(angle)
    held = np.abs(cross) < tas
    ratio = np.divide(cross, tas, out=np.zeros_like(cross), where=held)
    wca = np.degrees(np.arcsin(ratio))
    gs = np.where(held, tas * np.sqrt(1.0 - ratio**2) - wind * np.cos(angle), 0.0)
    return Triangle(
        wca_deg=wca,
        heading_deg_true=(track + wca) % 360.0 % 360.0,
        gs_kt=gs,
        possible=np.asarray(held & (gs > 0.0)),
    )


def components_kt(wind_from_deg_true: npt.ArrayLike, wind_kt: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Return the eastward and northward components (kt) of winds given by where they come from."""
    radians = np.radians(np.asarray(wind_from_deg_true, dtype=float))
    speed = np.asarray(wind_kt, dtype=float)
    return -speed * np.sin(radians), -speed * np.cos(radians)


def wind_from_components(east_kt: npt.ArrayLike, north_kt: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Return where winds come from (degrees true, 0 <= d < 360) and their speeds (kt)."""
    east, north = np.asarray(east_kt, dtype=float), np.asarray(north_kt, dtype=float)
    # Twice: of a tiny negative angle the first remainder is 360 itself.
    return np.degrees(np.arctan2(-east, -north)) % 360.0 % 360.0, np.hypot(east, north)


def least_minutes(
    east_nm: npt.ArrayLike, north_nm: npt.ArrayLike, tas_kt: npt.ArrayLike, wind_from_deg_true: npt.ArrayLike,
    wind_kt: npt.ArrayLike,
) -> Floats:  # fmt: skip
    """Return the least minutes to a displacement in a uniform steady wind; inf is never.

    The closed form on a plane: (V^2 - W^2) t^2 + 2 (d . w) t - d^2 = 0, first positive root. It
    is the oracle for `solve`, and says where the wind wins.
    """
    v = np.asarray(tas_kt, dtype=float)
    we, wn = components_kt(wind_from_deg_true, wind_kt)
    e, n = np.asarray(east_nm, dtype=float), np.asarray(north_nm, dtype=float)
    a, half_b, c = v**2 - we**2 - wn**2, e * we + n * wn, -(e**2 + n**2)
    a, half_b, c = np.broadcast_arrays(a, half_b, c)
    root = half_b**2 - a * c
    real = np.sqrt(np.maximum(root, 0.0))
    # -2c/(2h + 2r), the form that neither loses digits nor divides by a = 0 (TAS equals wind).
    divisor = half_b + real
    hours = np.divide(-c, divisor, out=np.full(a.shape, np.inf), where=(root >= 0.0) & (divisor > 0.0))
    hours = np.where(c == 0.0, 0.0, hours)
    return np.asarray(hours * 60.0)
