"""A map about a place, with distances and directions from its middle: neither 180 degrees nor a pole is an edge.

A frame is a piece of the plane of an azimuthal equidistant projection, in nautical miles. Everything is cropped to
it before it is drawn.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from shapely import clip_by_rect
from shapely.geometry import LineString, Polygon
from shapely.geometry.polygon import orient

from refuge.coast import Coast, Line
from refuge.earth import Position, along, track_and_distance
from refuge.flight.state_arrays import Bools, Floats
from refuge.render.picture_looks import INK, LAND, LIGHT, SHORE, bare, text_width_pt

NM_PER_RAD = 3437.75
STEPS_DEG = (0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 45.0)
MOST_LINES = 7
ROUND_NM = (2, 5, 10, 20, 50, 100, 200, 500, 1000)
LEAST_ACROSS_NM = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A piece of the plane about `centre`, NM from there; how large it is drawn, in points."""

    centre: Position
    west_nm: float
    south_nm: float
    east_nm: float
    north_nm: float
    width_pt: float
    height_pt: float

    @property
    def scale_pt(self) -> float:
        """Return points a mile."""
        return self.width_pt / (self.east_nm - self.west_nm)

    @property
    def radius_nm(self) -> float:
        """Return how far the farthest corner lies from the centre."""
        return float(np.hypot(max(-self.west_nm, self.east_nm), max(-self.south_nm, self.north_nm)))

    def plane(self, lat_deg: Floats, lon_deg: Floats) -> tuple[Floats, Floats]:
        """Return miles east and north of the centre."""
        track, distance = track_and_distance(self.centre, lat_deg, lon_deg)
        angle = np.radians(track)
        return np.asarray(distance * np.sin(angle)), np.asarray(distance * np.cos(angle))

    def points(self, x_nm: Floats, y_nm: Floats) -> tuple[Floats, Floats]:
        """Return points from the lower left corner."""
        return (x_nm - self.west_nm) * self.scale_pt, (y_nm - self.south_nm) * self.scale_pt

    def holds(self, x_nm: Floats, y_nm: Floats) -> Bools:
        """Return what lies within the frame."""
        inside = (x_nm >= self.west_nm) & (x_nm <= self.east_nm) & (y_nm >= self.south_nm) & (y_nm <= self.north_nm)
        return np.asarray(inside, dtype=bool)

    def near(self, lat_deg: Floats, lon_deg: Floats) -> Bools:
        """Return what may lie within the frame: a bound without a geodesic."""
        here = _unit(np.array([self.centre.lat_deg]), np.array([self.centre.lon_deg]))[0]
        radius = min(1.02 * self.radius_nm / NM_PER_RAD + 0.002, np.pi)
        return np.asarray(_unit(lat_deg, lon_deg) @ here >= np.cos(radius), dtype=bool)


def _unit(lat_deg: Floats, lon_deg: Floats) -> Floats:
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    return np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=-1)


def frame_around(lat_deg: Floats, lon_deg: Floats, *, width_pt: float, least_pt: float, most_pt: float) -> Frame:
    """Return a frame that holds these points with some room, as high as they ask within the limits."""
    middle = _unit(lat_deg, lon_deg).mean(axis=0)
    if np.linalg.norm(middle) < 1e-6:  # points all around the earth: any of them does
        middle = _unit(lat_deg[:1], lon_deg[:1])[0]
    centre = Position(
        lat_deg=float(np.degrees(np.arctan2(middle[2], np.hypot(middle[0], middle[1])))),
        lon_deg=float(np.degrees(np.arctan2(middle[1], middle[0]))),
    )
    track, distance = track_and_distance(centre, lat_deg, lon_deg)
    x, y = distance * np.sin(np.radians(track)), distance * np.cos(np.radians(track))
    room = max(0.05 * max(np.ptp(x), np.ptp(y)), 5.0)
    across = max(float(np.ptp(x)) + 2.0 * room, LEAST_ACROSS_NM)
    up = float(np.ptp(y)) + 2.0 * room
    height_pt = float(np.clip(width_pt * up / across, least_pt, most_pt))
    across, up = max(across, up * width_pt / height_pt), max(up, across * height_pt / width_pt)
    middle_x, middle_y = float(x.max() + x.min()) / 2.0, float(y.max() + y.min()) / 2.0
    return Frame(
        centre=centre, west_nm=middle_x - across / 2.0, east_nm=middle_x + across / 2.0,
        south_nm=middle_y - up / 2.0, north_nm=middle_y + up / 2.0, width_pt=width_pt, height_pt=height_pt,
    )  # fmt: skip


def draw_ground(panel: Axes, frame: Frame, coast: Coast) -> None:
    """Draw land, coasts, borders, a grid of degrees and a scale; set the panel to the frame."""
    panel.set_xlim(frame.west_nm, frame.east_nm)
    panel.set_ylim(frame.south_nm, frame.north_nm)
    bare(panel)
    for path in land_in(frame, coast.land):
        panel.add_patch(PathPatch(path, facecolor=LAND, edgecolor="none", zorder=0.2))
    _grid(panel, frame)
    for lines, style in ((coast.coasts, "solid"), (coast.borders, (0, (6, 2, 1, 2)))):
        parts = lines_in(frame, lines)
        panel.add_collection(
            LineCollection(parts, colors=SHORE, linewidths=0.7, linestyles=[style], zorder=0.6), autolim=False
        )


def lines_in(frame: Frame, lines: Sequence[Line]) -> list[Line]:
    """Return the parts of lines that lie within a frame, in its plane."""
    if not lines:
        return []
    every = np.concatenate(lines)
    last = np.cumsum([len(line) for line in lines]) - 1
    near = frame.near(every[:, 1], every[:, 0])
    joined = np.ones(len(every) - 1, dtype=bool)
    joined[last[:-1]] = False
    step = joined & (near[:-1] | near[1:])  # from a point to the next of the same line
    begin, end = np.flatnonzero(step), np.flatnonzero(step) + 1
    wanted = np.union1d(begin, end)
    if not wanted.size:
        return []
    x, y = frame.plane(every[wanted, 1], every[wanted, 0])
    breaks = np.flatnonzero(~step[wanted[:-1]] | (np.diff(wanted) > 1)) + 1
    runs = np.split(np.column_stack((x, y)), breaks)
    return [part for run in runs if len(run) > 1 for part in _clipped(frame, run)]


def _clipped(frame: Frame, run: Line) -> Iterator[Line]:
    shape = clip_by_rect(LineString(run), frame.west_nm, frame.south_nm, frame.east_nm, frame.north_nm)
    for part in getattr(shape, "geoms", [shape]):
        if isinstance(part, LineString) and not part.is_empty:
            yield np.asarray(part.coords)


def land_in(frame: Frame, land: Sequence[tuple[Line, ...]]) -> Iterator[Path]:
    """Yield the land within a frame as paths in its plane.

    Land of which no point is near either covers the frame or does not touch it; it can only cover what lies on its
    own side of the earth.
    """
    whole = [rings for rings in land if rings]
    for rings, taken in zip(whole, _may_touch(frame, [rings[0] for rings in whole]), strict=True):
        if not taken:
            continue
        flat = [np.column_stack(frame.plane(ring[:, 1], ring[:, 0])) for ring in rings]
        shape = clip_by_rect(
            Polygon(flat[0], flat[1:]), frame.west_nm, frame.south_nm, frame.east_nm, frame.north_nm
        )
        for part in getattr(shape, "geoms", [shape]):
            if isinstance(part, Polygon) and not part.is_empty:
                yield _path(orient(part))


def _may_touch(frame: Frame, rings: Sequence[Line]) -> Bools:
    """Return which rings have a point near the frame, or may lie around all of it."""
    if not rings:
        return np.zeros(0, dtype=bool)
    every = np.concatenate(rings)
    sizes = np.array([len(ring) for ring in rings])
    first = np.cumsum(sizes) - sizes
    near = np.logical_or.reduceat(frame.near(every[:, 1], every[:, 0]), first)
    unit = _unit(every[:, 1], every[:, 0])
    middle = np.add.reduceat(unit, first)
    middle /= np.maximum(np.linalg.norm(middle, axis=1), 1e-9)[:, None]
    edge = np.minimum.reduceat((unit * np.repeat(middle, sizes, axis=0)).sum(axis=1), first)
    here = middle @ _unit(np.array([frame.centre.lat_deg]), np.array([frame.centre.lon_deg]))[0]
    return np.asarray(near | ((here >= edge) & (here > 0.0)), dtype=bool)


def _path(shape: Polygon) -> Path:
    rings = [np.asarray(ring.coords) for ring in (shape.exterior, *shape.interiors)]
    return Path.make_compound_path(*(Path(ring, closed=True) for ring in rings))


def _grid(panel: Axes, frame: Frame) -> None:
    """Draw parallels and meridians with their degrees at the left and lower edge."""
    lats, lons, span = _degrees_in(frame)
    step_lat, step_lon = (_step(float(np.ptp(each))) for each in (lats, lons))
    parallels = np.arange(np.ceil(lats[0] / step_lat), np.floor(lats[1] / step_lat) + 1) * step_lat
    meridians = np.arange(np.ceil(lons[0] / step_lon), np.floor(lons[1] / step_lon) + 1) * step_lon
    if span >= 360.0:
        meridians = meridians[meridians < lons[0] + 360.0 - 1e-9]
    drawn, ticks_y, ticks_x = [], [], []
    for value in parallels.tolist():
        across = np.linspace(*lons, 97)
        x, y = frame.plane(np.full(across.shape, value), across)
        drawn.append(np.column_stack((x, y)))
        ticks_y += [(at, f"{abs(value):g} {'S' if value < 0 else 'N'}") for at in _crossings(x, y, frame.west_nm)]
    for value in meridians.tolist():
        up = np.linspace(*lats, 49)
        x, y = frame.plane(up, np.full(up.shape, value))
        drawn.append(np.column_stack((x, y)))
        east = (value + 180.0) % 360.0 - 180.0
        ticks_x += [(at, f"{abs(east):g} {'W' if east < 0 else 'E'}") for at in _crossings(y, x, frame.south_nm)]
    panel.add_collection(LineCollection(drawn, colors=LIGHT, linewidths=0.6, zorder=0.4), autolim=False)
    panel.set_xticks(*_apart(frame.west_nm, frame.east_nm, ticks_x, 44.0 / frame.scale_pt))
    panel.set_yticks(*_apart(frame.south_nm, frame.north_nm, ticks_y, 14.0 / frame.scale_pt))


def _degrees_in(frame: Frame) -> tuple[tuple[float, float], tuple[float, float], float]:
    """Return from where to where latitude and longitude run in a frame, and how far the longitude."""
    x, y = np.meshgrid(
        np.linspace(frame.west_nm, frame.east_nm, 41), np.linspace(frame.south_nm, frame.north_nm, 41)
    )
    lat, lon = along(frame.centre, np.degrees(np.arctan2(x, y)).ravel(), np.hypot(x, y).ravel())
    middle = frame.centre.lon_deg
    lon = middle + (lon - middle + 180.0) % 360.0 - 180.0
    low, high = float(lat.min()), float(lat.max())
    for pole in (90.0, -90.0):
        px, py = frame.plane(np.array([pole]), np.array([middle]))
        if frame.holds(px, py)[0]:
            low, high = min(low, pole), max(high, pole)
            return (low, high), (middle - 180.0, middle + 180.0), 360.0
    return (low, high), (float(lon.min()), float(lon.max())), float(np.ptp(lon))


def _step(span_deg: float) -> float:
    return next((step for step in STEPS_DEG if span_deg / step <= MOST_LINES), STEPS_DEG[-1])


def _crossings(across: Floats, along_edge: Floats, edge: float) -> Iterator[float]:
    """Yield where a line crosses an edge of the frame."""
    for i in np.flatnonzero((across[:-1] - edge) * (across[1:] - edge) < 0.0).tolist():
        share = (edge - across[i]) / (across[i + 1] - across[i])
        yield float(along_edge[i] + share * (along_edge[i + 1] - along_edge[i]))


def _apart(low: float, high: float, ticks: list[tuple[float, str]], apart: float) -> tuple[list[float], list[str]]:
    """Return the degrees along an edge, without those that would touch the one before."""
    kept: list[tuple[float, str]] = []
    for at, text in sorted(ticks):
        if low <= at <= high and (not kept or at - kept[-1][0] >= apart):
            kept.append((at, text))
    return [at for at, _ in kept], [text for _, text in kept]


def draw_scale(panel: Axes, frame: Frame) -> tuple[float, float, float, float]:
    """Draw a scale in the lower left corner; return the box that it takes, in points."""
    across = frame.east_nm - frame.west_nm
    length = max((each for each in ROUND_NM if each <= across / 5.0), default=1)
    x, y = frame.west_nm + 8.0 / frame.scale_pt, frame.south_nm + 8.0 / frame.scale_pt
    tick = 3.0 / frame.scale_pt
    for (x1, y1), (x2, y2) in pairwise(((x, y + tick), (x, y), (x + length, y), (x + length, y + tick))):
        panel.plot([x1, x2], [y1, y2], color=INK, linewidth=0.9, zorder=6, solid_capstyle="butt")
    text = f"{length} NM"
    panel.text(x + length + tick, y, text, fontsize=7, color=INK, va="center", zorder=6)
    return 2.0, 2.0, 14.0 + length * frame.scale_pt + text_width_pt(text, 7.0), 16.0
