"""Which stations bear on which airfields, and what a requirement at the field means at the station.

The rules are those of method.md 4 and 5: a report is borrowed within 20 NM, a forecast within
30 NM, both within 1,000 ft of elevation; over the field a borrowed ceiling is the lower of the
station's height above ground and the height of its base above the field; at night with a spread
of 3 C or less no visibility is carried across 300 ft of elevation.
"""

from dataclasses import dataclass

import numpy as np

from refuge.earth import distances_nm, unit_vectors
from refuge.flight.evidence import Pairs
from refuge.flight.state_arrays import Bools, Floats, Ints

BORROW_REPORT_NM = 20.0
BORROW_FORECAST_NM = 30.0
BORROW_HEIGHT_FT = 1000.0
AREA_NM = 20.0
NIGHT_VISIBILITY_HEIGHT_FT = 300.0
FOG_SPREAD_C = 3.0
BAND = 64
"""So many points, next to each other in latitude, are looked up at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldArrays:
    """Airfields as arrays of shape (fields,).

    ``station`` is the index of the field's own station, -1 where it has none that was ever heard.
    ``height_known`` says where ``elevation_ft`` holds. ``required_ft`` (above the field) and
    ``required_sm`` are the minimums that apply there at arrival; ``night`` whether it is dark.
    """

    lat_deg: Floats
    lon_deg: Floats
    elevation_ft: Floats
    height_known: Bools
    station: Ints
    required_ft: Floats
    required_sm: Floats
    night: Bools
    error_radius_nm: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class StationArrays:
    """Stations as arrays of shape (stations,): where they are, and what was ever heard of them.

    ``guidance`` marks those that have guidance and no forecast of their own.
    """

    lat_deg: Floats
    lon_deg: Floats
    elevation_ft: Floats
    height_known: Bools
    reports: Bools
    forecasts: Bools
    guidance: Bools
    ever_ceiling: Bools
    ever_visibility: Bools
    small_spread: Bools


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """Pairs of a field and a station that lie near each other; arrays of shape (pairs,)."""

    field: Ints
    station: Ints
    distance_nm: Floats


def near_pairs(lat1_deg: Floats, lon1_deg: Floats, lat2_deg: Floats, lon2_deg: Floats, within_nm: Floats) -> Near:
    """Return all pairs of points nearer than `within_nm` (one value for each first point), with distances.

    Candidates come from unit vectors with 1 % to spare (no case at poles or the antimeridian), the
    distance that decides from the geodesic. Points that are asked more than once are looked up once.
    """
    if lat1_deg.size == 0 or lat2_deg.size == 0:
        empty = np.zeros(0, dtype=np.int64)
        return Near(field=empty, station=empty, distance_nm=np.zeros(0))
    _, once, which = np.unique(lat1_deg + 1j * lon1_deg, return_index=True, return_inverse=True)
    if once.size < lat1_deg.size:
        widest = np.zeros(once.shape)
        np.maximum.at(widest, which, within_nm)
        return _for_each(near_pairs(lat1_deg[once], lon1_deg[once], lat2_deg, lon2_deg, widest), which, within_nm)
    # No degree of a great circle on WGS84 is shorter than 59.7 NM; the bound may only be too large.
    bound_deg = np.minimum((1.01 * within_nm + 0.1) / 59.5, 180.0)
    first, second = _within_bound(lat1_deg, lon1_deg, lat2_deg, lon2_deg, bound_deg)
    distance = distances_nm(lat1_deg[first], lon1_deg[first], lat2_deg[second], lon2_deg[second])
    kept = distance <= within_nm[first]
    return Near(field=first[kept], station=second[kept], distance_nm=distance[kept])


def _within_bound(
    lat1_deg: Floats, lon1_deg: Floats, lat2_deg: Floats, lon2_deg: Floats, bound_deg: Floats
) -> tuple[Ints, Ints]:
    """Return all pairs of points within an angle, by the first, looked for only in the latitudes it allows.

    No angle between two points is less than the difference of their latitudes.
    """
    one, two = unit_vectors(lat1_deg, lon1_deg), unit_vectors(lat2_deg, lon2_deg)
    cosine = np.cos(np.radians(bound_deg))
    north1, north2 = np.argsort(lat1_deg, kind="stable"), np.argsort(lat2_deg, kind="stable")
    sorted_deg = lat2_deg[north2]
    found = []
    for begin in range(0, north1.size, BAND):
        mine = north1[begin : begin + BAND]
        widest = float(bound_deg[mine].max()) + 1e-6
        low, high = np.searchsorted(sorted_deg, [lat1_deg[mine[0]] - widest, lat1_deg[mine[-1]] + widest])
        there = np.sort(north2[low:high])
        first, second = np.nonzero(one[mine] @ two[there].T >= cosine[mine, None])
        found.append((mine[first], there[second]))
    first, second = (np.concatenate(column) for column in zip(*found, strict=True))
    order = np.lexsort((second, first))
    return first[order], second[order]


def _for_each(near: Near, which: Ints, within_nm: Floats) -> Near:
    """Return the pairs of many asks, of which ask i is for point ``which[i]`` within ``within_nm[i]``."""
    count = np.bincount(near.field, minlength=int(which.max()) + 1)
    first = np.cumsum(count) - count
    ask = np.repeat(np.arange(which.size), count[which])
    offset = np.arange(ask.size) - np.repeat(np.cumsum(count[which]) - count[which], count[which])
    pair = first[which[ask]] + offset
    kept = near.distance_nm[pair] <= within_nm[ask]
    return Near(field=ask[kept], station=near.station[pair[kept]], distance_nm=near.distance_nm[pair[kept]])


def within_height(fields: FieldArrays, stations: StationArrays, near: Near) -> Bools:
    """Return where field and station differ by at most 1,000 ft, or one height is unknown.

    A station of unknown height still bears: it can miss, and cannot meet.
    """
    known = fields.height_known[near.field] & stations.height_known[near.station]
    difference = np.abs(fields.elevation_ft[near.field] - stations.elevation_ft[near.station])
    return ~known | (difference <= BORROW_HEIGHT_FT)


def requirement_pairs(
    fields: FieldArrays,
    stations: StationArrays,
    near: Near,
    ask: Ints,
    *,
    sensors: bool = True,
    via: Ints | None = None,
) -> Pairs:
    """Return pairs that ask each station for the minimums of its field.

    With `sensors` a station without a sensor does not bear for the element; forecasts need none.

    min(c, c + station elevation - field elevation) >= minimum holds just when
    c >= max(minimum, minimum + field elevation - station elevation). Where the station lends its
    forecast to another one, `via`, which speaks of the field in its turn, each step counts likewise.
    """
    f, s = near.field, near.station
    v = s if via is None else via
    heights = (
        (stations.elevation_ft[s], stations.height_known[s]),
        (stations.elevation_ft[v], stations.height_known[v]),
        (fields.elevation_ft[f], fields.height_known[f]),
    )
    climb, step, unknown = np.zeros(f.shape), np.zeros(f.shape), np.zeros(f.shape, dtype=bool)
    for low, high, same in ((0, 1, v == s), (1, 2, fields.station[f] == v), (0, 2, fields.station[f] == s)):
        (low_ft, low_known), (high_ft, high_known) = heights[low], heights[high]
        known = low_known & high_known
        rise = np.where(known & ~same, high_ft - low_ft, 0.0)
        climb, step = np.maximum(climb, rise), np.maximum(step, np.abs(rise))
        unknown |= ~known & ~same
    foggy = fields.night[f] & stations.small_spread[s]
    own = (fields.station[f] == s) & (v == s)
    return Pairs(
        ask=ask,
        station=s,
        required_ft=fields.required_ft[f] + climb,
        required_sm=fields.required_sm[f],
        doubt_ceiling=unknown,
        doubt_visibility=foggy & (unknown | (step > NIGHT_VISIBILITY_HEIGHT_FT)),
        skip_ceiling=~own & ~stations.ever_ceiling[s] & sensors,
        skip_visibility=~own & ~stations.ever_visibility[s] & sensors,
    )


def base_pairs(
    fields: FieldArrays, stations: StationArrays, near: Near, ask: Ints, least_base_ft_amsl: float | Floats, *,
    sensors: bool = True,
) -> Pairs:  # fmt: skip
    """Return pairs that ask each station for a cloud base of at least `least_base_ft_amsl` above sea level.

    One for all fields, or one for each.
    """
    f, s = near.field, near.station
    own = fields.station[f] == s
    known = stations.height_known[s] | (own & fields.height_known[f])
    height = np.where(stations.height_known[s], stations.elevation_ft[s], fields.elevation_ft[f])
    none = np.zeros(f.shape, dtype=bool)
    least = np.broadcast_to(least_base_ft_amsl, fields.lat_deg.shape)[f]
    return Pairs(
        ask=ask,
        station=s,
        # Where the height is unknown nothing can be said: any ceiling passes here, and is doubted.
        required_ft=np.where(known, least - height, -np.inf),
        required_sm=np.zeros(f.shape),
        doubt_ceiling=~known,
        doubt_visibility=none,
        skip_ceiling=~own & ~stations.ever_ceiling[s] & sensors,
        skip_visibility=~own & ~stations.ever_ceiling[s] & sensors,
    )
