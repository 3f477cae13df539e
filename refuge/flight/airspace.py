"""The airspace check (method.md 5): areas that the line from the turn to a field meets, on arrays.

Prohibited areas are out, on the way as at the field; so is a track that enters an identification
zone from outside (one that starts inside may leave it). A restricted area on the way is named; a
field inside one, or at the heart of class B airspace, ranks last. Heights and hours of areas are not looked
at, and the line is flown without its error: the answer says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import STRtree
from shapely.affinity import translate

from refuge.airfield import Airfield
from refuge.earth import Points, Position, along, track_and_distance
from refuge.flight.areas import Area
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.verdict import MEETS, MISSES, NOT_CHECKED, Codes

STEP_NM = 25.0
"""The geodesic is drawn by chords of this length: at 60 degrees north they are within 250 ft of it."""
TURNS_DEG = (-360.0, 0.0, 360.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """The line to field ``field`` meets an area: does it enter from outside, and is the field inside."""

    field: int
    area: Area
    enters: bool
    inside: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Airspace:
    """What n fields come to: codes, which are a last resort only, and every meeting of a line with an area.

    A meeting is one place of ``field``, ``area`` (its number in ``areas``), ``enters`` and ``inside``.
    """

    codes: Codes
    last_resort: Bools
    areas: tuple[Area, ...]
    field: Ints
    area: Ints
    enters: Bools
    inside: Bools

    def meetings(self, i: int) -> list[Meeting]:
        """Return what the line to field `i` meets."""
        return [
            Meeting(
                field=i,
                area=self.areas[int(self.area[at])],
                enters=bool(self.enters[at]),
                inside=bool(self.inside[at]),
            )
            for at in np.flatnonzero(self.field == i)
        ]


def airspace(at: Position | Points, airfields: Sequence[Airfield], areas: Sequence[Area]) -> Airspace:
    """Return the airspace check of every field from `at` (one, or one each); not checked where no area is known."""
    n = len(airfields)
    last = np.array([bool(field.class_b) for field in airfields], dtype=bool)
    codes = np.full(n, MEETS if areas else NOT_CHECKED, dtype=np.int8)
    field, area, enters, inside = _nothing() if not areas or not n else _met(_lines(at, airfields), areas)
    kinds = np.array([one.kind for one in areas], dtype=str)[area] if area.size else np.zeros(0, dtype=str)
    codes[field[(kinds == "prohibited") | ((kinds == "adiz") & enters)]] = MISSES
    last[field[inside & ((kinds == "restricted") | (kinds == "class_b"))]] = True
    return Airspace(
        codes=codes, last_resort=last, areas=tuple(areas), field=field, area=area, enters=enters, inside=inside
    )


def _nothing() -> tuple[Ints, Ints, Bools, Bools]:
    none, no = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=bool)
    return none, none, no, no


def is_out(meeting: Meeting) -> bool:
    """Return whether this meeting puts the field out."""
    return meeting.area.kind == "prohibited" or (meeting.area.kind == "adiz" and meeting.enters)


def _lines(at: Position | Points, airfields: Sequence[Airfield]) -> npt.NDArray[np.object_]:
    """Return the geodesics to the fields as lines, longitudes without a jump."""
    lat = np.array([field.lat_deg for field in airfields], dtype=float)
    lon = np.array([field.lon_deg for field in airfields], dtype=float)
    track, distance = track_and_distance(at, lat, lon)
    steps = max(int(np.ceil(distance.max() / STEP_NM)), 1)
    share = np.linspace(0.0, 1.0, steps + 1)
    start = Points(
        lat_deg=np.broadcast_to(at.lat_deg, lat.shape)[:, None],
        lon_deg=np.broadcast_to(at.lon_deg, lat.shape)[:, None],
    )
    lats, lons = along(start, track[:, None], distance[:, None] * share)
    lats[:, -1], lons[:, -1] = lat, lon
    lons = np.degrees(np.unwrap(np.radians(_beside(lons, start.lon_deg)), axis=1))
    return np.asarray(shapely.linestrings(np.stack([lons, lats], axis=-1)))


def _beside(lon_deg: Floats, centre_deg: Floats) -> Floats:
    return np.asarray((lon_deg - centre_deg + 180.0) % 360.0 - 180.0 + centre_deg)


def _met(lines: npt.NDArray[np.object_], areas: Sequence[Area]) -> tuple[Ints, Ints, Bools, Bools]:
    """Return field, area, whether the line enters and whether the field is inside, of every meeting."""
    corners = shapely.get_coordinates(lines).reshape(len(lines), -1, 2)
    starts, ends = (np.asarray(shapely.points(corners[:, i])) for i in (0, -1))
    west, east = float(corners[..., 0].min()), float(corners[..., 0].max())
    shapes = np.array([area.shape for area in areas], dtype=object)
    bounds = shapely.bounds(shapes)
    found = [_nothing()]
    for turn in TURNS_DEG:
        near = np.flatnonzero((bounds[:, 2] + turn >= west) & (bounds[:, 0] + turn <= east))
        if not near.size:
            continue
        indices = [int(i) for i in near]
        turned = np.array([translate(shapes[i], xoff=turn) if turn else shapes[i] for i in indices], dtype=object)
        shapely.prepare(turned)
        field, number = STRtree(turned).query(lines, predicate="intersects")
        enters = ~np.asarray(shapely.contains(turned[number], starts[field]))
        # A line that starts in a zone comes in again where it lies inside in several parts.
        zone = np.array([areas[i].kind == "adiz" for i in indices], dtype=bool)
        again = np.flatnonzero(~enters & zone[number])
        parts = shapely.intersection(lines[field[again]], turned[number[again]])
        enters[again] = shapely.get_num_geometries(parts) > 1
        found.append((field, near[number], enters, np.asarray(shapely.covers(turned[number], ends[field]))))
    field, area, enters, inside = (np.concatenate(column) for column in zip(*found, strict=True))
    return field, area, enters, inside
