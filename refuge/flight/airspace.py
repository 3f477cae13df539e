"""The airspace check (method.md 5): areas that the line from the turn to a field meets, on arrays.

Prohibited areas are out, on the way as at the field; so is a track that enters an identification
zone from outside (one that starts inside may leave it). A restricted area on the way is named; a
field inside one, or at the heart of class B airspace, ranks last. Heights and hours of areas are not looked
at, and the line is flown without its error: the answer says so.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Geometry, STRtree
from shapely.affinity import translate

from refuge.airfield import Airfield
from refuge.earth import Points, Position, along, track_and_distance
from refuge.flight.areas import Area
from refuge.flight.state_arrays import Bools, Floats
from refuge.flight.verdict import MEETS, MISSES, NOT_CHECKED, Codes

STEP_NM = 10.0
"""The geodesic is drawn by chords of this length; in 10 NM the two are some feet apart at 60 degrees north."""
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
    """What n fields come to: codes, which are a last resort only, and every meeting of a line with an area."""

    codes: Codes
    last_resort: Bools
    meetings: tuple[Meeting, ...]


def airspace(at: Position | Points, airfields: Sequence[Airfield], areas: Sequence[Area]) -> Airspace:
    """Return the airspace check of every field from `at` (one, or one each); not checked where no area is known."""
    n = len(airfields)
    last = np.array([bool(field.class_b) for field in airfields], dtype=bool)
    if not areas or not n:
        return Airspace(codes=np.full(n, NOT_CHECKED, dtype=np.int8), last_resort=last, meetings=())
    lines = _lines(at, airfields)
    found = tuple(_meetings(lines, areas))
    codes = np.full(n, MEETS, dtype=np.int8)
    for meeting in found:
        if is_out(meeting):
            codes[meeting.field] = MISSES
        elif meeting.inside and meeting.area.kind in {"restricted", "class_b"}:
            last[meeting.field] = True
    return Airspace(codes=codes, last_resort=last, meetings=found)


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


def _meetings(lines: npt.NDArray[np.object_], areas: Sequence[Area]) -> Iterator[Meeting]:
    for turn in TURNS_DEG:
        shapes = [translate(area.shape, xoff=turn) for area in areas]
        for field, number in STRtree(shapes).query(lines, predicate="intersects").T:
            line, shape = lines[field], shapes[number]
            corners = shapely.get_coordinates(line)
            yield Meeting(
                field=int(field),
                area=areas[number],
                enters=_enters(line, shapely.Point(corners[0]), shape),
                inside=bool(shapely.covers(shape, shapely.Point(corners[-1]))),
            )


def _enters(line: Geometry, start: Geometry, shape: Geometry) -> bool:
    """Return whether a line that meets an area comes into it from outside; a start on the edge is outside."""
    if not shapely.contains(shape, start):
        return True
    return len(shapely.get_parts(shapely.intersection(line, shape))) > 1
