"""Areas of airspace and ground that one must not enter, or should not land in."""

from dataclasses import dataclass
from typing import Literal

from shapely import Geometry

AreaKind = Literal["prohibited", "restricted", "adiz", "class_b"]
"""``prohibited``: out, to fly through and to land in; ``adiz``: not to be entered; ``restricted`` (danger and
warning areas too) and ``class_b``: fields in them rank last."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """One area: polygons in degrees, longitude first, without a jump at 180 degrees (so it may pass 180).

    Heights are not looked at: an area counts from the ground up.
    """

    name: str
    kind: AreaKind
    shape: Geometry
    source: str
