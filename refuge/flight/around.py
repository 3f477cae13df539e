"""What stands around one airfield: how much of its error circle is good, and whether a good station is alone."""

from dataclasses import dataclass

import numpy as np

from refuge.earth import Position, track_and_distance
from refuge.flight.area import Shares, shares
from refuge.flight.bearing import AREA_NM
from refuge.flight.shortlist import Shortlist
from refuge.flight.verdict import MEETS, MISSES

LONE_AMONG = 2
"""So many stations around that miss make a single good one a lone one (a proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """The error circle of one airfield, divided among the stations of its area; names, nearest first.

    ``lone`` is the only good station where two or more around it miss: a hole in the cloud, not an area.
    """

    radius_nm: float
    shares: Shares
    good: tuple[str, ...]
    missing: tuple[str, ...]
    unknown: tuple[str, ...]
    lone: str | None


def around(shortlist: Shortlist, index: int) -> Around:
    """Return how the error circle of an airfield divides among the stations of its area."""
    basis, weighed = shortlist.basis, shortlist.basis.weighed
    asks = np.flatnonzero(weighed.area_inquiry.field == index)
    stations, codes = weighed.area_stations[asks], weighed.area_answer.code[asks]
    arrays, field = basis.network.arrays, basis.airfields[index]
    bearing, distance = track_and_distance(
        Position(lat_deg=field.lat_deg, lon_deg=field.lon_deg), arrays.lat_deg[stations], arrays.lon_deg[stations]
    )
    nearest = np.argsort(distance, kind="stable")
    names = [(basis.network.stations[int(stations[k])].id, codes[k]) for k in nearest]
    good = tuple(name for name, code in names if code == MEETS)
    missing = tuple(name for name, code in names if code == MISSES)
    radius_nm = float(basis.fields.error_radius_nm[index])
    return Around(
        radius_nm=radius_nm,
        shares=shares(radius_nm, distance, bearing, codes == MEETS),
        good=good,
        missing=missing,
        unknown=tuple(name for name, code in names if code not in {MEETS, MISSES}),
        lone=good[0] if len(good) == 1 and len(missing) >= LONE_AMONG else None,
    )


def around_words(found: Around) -> str:
    """Return the share of the error circle that lies near a good station, and a lone good one, in words."""
    # Rounded against the pilot, never for him.
    text = f"{np.floor(100.0 * found.shares.good):.0f} % of the error circle ({found.radius_nm:.0f} NM)"
    text += f" lies nearest to a good station, within {AREA_NM:.0f} NM of it"
    if found.shares.untold > 0.0:
        text += f"; {np.ceil(100.0 * found.shares.untold):.0f} % is near no station"
    if found.lone is not None:
        text += f"; {found.lone} alone is good among {len(found.missing)} that miss: a hole, not an area"
    return text
