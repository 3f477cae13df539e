"""The map of a flight: the way by stretches, airfields by verdict, and what is in reach at one minute."""

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from refuge.coast import Coast, Line
from refuge.flight.outline import reach_outline
from refuge.flight.route import Plan, Stretch
from refuge.flight.shortlist import Shortlist
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.verdict import WORDS
from refuge.render.picture_labels import Box, Name, Placed, boxes_along, place
from refuge.render.picture_looks import DARK, INK, MIDDLE, PAPER, text_width_pt
from refuge.render.picture_map import Frame, draw_ground, draw_scale, frame_around

SIGNS = {"meets": ("s", "$\\checkmark$"), "misses": ("s", "x"), "unknown": ("D", "$?$")}
"""A verdict's shape and what stands in it: ticked square, crossed square, question in a diamond."""
SIZE_PT, SMALL_PT = 9.0, 5.5
CROWDS = ((50, 1.0), (400, 0.75), (10**9, 0.5))
"""Up to how many airfields on the map they are drawn how large; refuges are never drawn smaller."""
FAR_PT, CLOSE_PT = 42.0, 12.0
"""How far from its mark a name may stand: what the way has, and other airfields."""
LETTERS_PT = 8.0
LANE_PT = 5.5
"""How far right of its course a way is drawn that comes back over itself: a ladder is 9 points wide."""
BACK_PT, BACK_COSINE = 6.0, -0.7
"""A way comes back over itself where two of its points lie so near, and their courses are so much opposite."""
REFUGES = ((False, False), (True, False), (True, True))
"""Whether an airfield is a refuge in any minute, and whether it is then the best."""
MOST_NAMES = 30
LEAST_LABELLED_PT = 12.0
"""A shorter stretch has no room for words beside the way; the strip below has it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """The airfields of a map: indices, where they are in its plane, and what is said of each."""

    index: Ints
    x_nm: Floats
    y_nm: Floats
    word: tuple[str, ...]
    near: Bools
    best: Bools
    refuge: Bools

    @property
    def size_pt(self) -> Floats:
        """Return how large each is drawn: small what is neither in reach then nor ever a refuge."""
        shrunk = next(size for most, size in CROWDS if self.index.size <= most)
        return np.where(self.refuge, SIZE_PT, np.where(self.near, SIZE_PT, SMALL_PT) * shrunk)


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteMap:
    """All that is drawn: the frame, the way in its plane, the outline of reach, airfields, and the turn."""

    plan: Plan
    frame: Frame
    way: Line
    outline: Line | None
    shown: Shown
    turn: Line
    turn_index: int
    lanes: bool


def route_map(
    plan: Plan, found: Shortlist, *, chosen: int, width_pt: float, least_pt: float, most_pt: float
) -> RouteMap:
    """Return what the map of a plan shows; verdicts and reach are those of `found`, of the minute `chosen`."""
    outline = reach_outline(found.basis)
    ever = np.array(sorted({chance.field for chance in plan.chances}), dtype=np.int64)
    fields = plan.situation.airfields
    around = [(plan.lat_deg, plan.lon_deg), plan.track.at(np.array([plan.track.total_min]))]
    around.append((np.array([fields[i].lat_deg for i in ever]), np.array([fields[i].lon_deg for i in ever])))
    if outline is not None:
        around.append(outline)
    lat, lon = (np.concatenate(each) for each in zip(*around, strict=True))
    frame = frame_around(lat, lon, width_pt=width_pt, least_pt=least_pt, most_pt=most_pt)
    ends = np.append(plan.track.minutes.astype(float), plan.track.total_min)
    at = found.basis.question.at
    turn = np.column_stack(frame.plane(np.array([at.lat_deg]), np.array([at.lon_deg])))[0]
    way = np.column_stack(frame.plane(*plan.track.at(ends)))
    aside = _aside(way, frame.scale_pt)
    near = _turns_at(way, turn, chosen, found.basis.question.endurance.recognition_min)
    return RouteMap(
        plan=plan,
        frame=frame,
        way=way + aside,
        outline=None if outline is None else np.column_stack(frame.plane(*outline)),
        shown=_shown(plan, found, frame, ever),
        turn=turn + aside[near],
        turn_index=near,
        lanes=bool(aside.any()),
    )


def _turns_at(way: Line, turn: Line, chosen: int, recognition_min: float) -> int:
    """Return the point of the way nearest to where the aircraft turns, of those soon after the chosen minute."""
    first = min(chosen, len(way) - 1)
    soon = way[first : first + int(np.ceil(recognition_min)) + 2]
    return first + int(np.hypot(*(soon - turn).T).argmin())


def _aside(way: Line, scale_pt: float) -> Line:
    """Return how far each point is drawn beside its place: to the right, where a way comes back over itself."""
    steps = np.diff(way, axis=0)
    length = np.hypot(*steps.T)
    moving = np.flatnonzero(length > 0.0)
    if not moving.size:
        return np.zeros_like(way)
    # A point takes the course that leads on from it, the last one that which led there.
    taken = moving[np.maximum(np.searchsorted(moving, np.arange(len(way)), side="right") - 1, 0)]
    course = steps[taken] / length[taken][:, None]
    some = np.unique(np.linspace(0, len(way) - 1, 200).astype(int))
    x, y = way[some].T * scale_pt
    close = np.hypot(x[:, None] - x, y[:, None] - y) < BACK_PT + np.median(length) * scale_pt
    if not (close & (course[some] @ course[some].T < BACK_COSINE)).any():
        return np.zeros_like(way)
    return np.column_stack((course[:, 1], -course[:, 0])) * LANE_PT / scale_pt


def _shown(plan: Plan, found: Shortlist, frame: Frame, ever: Ints) -> Shown:
    """Return every airfield within the frame; near are those known to be in reach then."""
    fields = plan.situation.airfields
    lat = np.array([field.lat_deg for field in fields], dtype=float)
    lon = np.array([field.lon_deg for field in fields], dtype=float)
    index = np.flatnonzero(frame.near(lat, lon))
    x, y = frame.plane(lat[index], lon[index])
    inside = frame.holds(x, y)
    index, x, y = index[inside], x[inside], y[inside]
    arrival = found.basis.arrival
    in_reach = np.zeros(len(fields), dtype=bool)
    if arrival.budget_min is not None and found.basis.question.endurance.dependable:
        in_reach = arrival.break_out_min <= arrival.budget_min
    best = {stretch.field for stretch in plan.stretches if stretch.field is not None}
    return Shown(
        index=index, x_nm=x, y_nm=y, word=tuple(WORDS[int(code)] for code in found.verdict[index]),
        near=in_reach[index], best=np.isin(index, sorted(best)), refuge=np.isin(index, ever),
    )  # fmt: skip


def draw_map(panel: Axes, shown: RouteMap, coast: Coast) -> None:
    """Draw the map, with names where there is room, and say how many airfields have none."""
    frame = shown.frame
    draw_ground(panel, frame, coast)
    taken = [draw_scale(panel, frame)]
    if shown.outline is not None:
        panel.plot(*shown.outline.T, color=DARK, linewidth=1.0, linestyle=(0, (4, 3)), zorder=1)
    for stretch in shown.plan.stretches:
        draw_stretch(panel, _part(shown, stretch), stretch.state)
    _turn(panel, shown)
    _marks(panel, shown.shown)
    taken += boxes_along(*frame.points(*shown.way.T), half=5.0)
    unnamed = _names(panel, shown, taken)
    if unnamed:
        at = (frame.east_nm - 4.0 / frame.scale_pt, frame.south_nm + 4.0 / frame.scale_pt)
        text = "1 airfield has no name here" if unnamed == 1 else f"{unnamed:,} airfields have no name here"
        panel.text(*at, text, ha="right", va="bottom", fontsize=SMALL_PT + 1.5, color=INK, zorder=6, bbox=PAPER)


def _part(shown: RouteMap, stretch: Stretch) -> Line:
    """Return the way of a stretch in the plane; its last point is where the next begins."""
    return shown.way[stretch.from_min : stretch.to_min + 1]


def draw_stretch(panel: Axes, way: Line, state: str) -> None:
    """Draw a part of the way: full where there is a refuge, dotted in sight, barred where there is none."""
    x, y = way.T
    if state == "refuge":
        panel.plot(x, y, color=DARK, linewidth=2.5, zorder=3, solid_capstyle="butt")
    elif state == "visual":
        panel.plot(x, y, color=DARK, linewidth=2.5, linestyle=(0, (1, 1.5)), zorder=3)
    else:
        panel.plot(x, y, color=DARK, linewidth=9, zorder=2, solid_capstyle="butt")
        panel.plot(x, y, color="white", linewidth=7, linestyle=(0, (0.25, 0.35)), zorder=2.5)


def _turn(panel: Axes, shown: RouteMap) -> None:
    """Mark where the aircraft turns: a bar across the way."""
    near = shown.turn_index
    before, after = shown.way[max(near - 1, 0)], shown.way[min(near + 1, len(shown.way) - 1)]
    course = after - before
    length = float(np.hypot(*course))
    across = np.array([-course[1], course[0]]) / length if length > 0.0 else np.array([0.0, 1.0])
    half = 6.0 if shown.lanes else 9.0
    ends = shown.turn + np.outer([-half, half], across) / shown.frame.scale_pt
    panel.plot(*ends.T, color="white", linewidth=4.0, zorder=4.4, solid_capstyle="butt")
    panel.plot(*ends.T, color=INK, linewidth=2.0, zorder=4.5, solid_capstyle="butt")


def _marks(panel: Axes, shown: Shown) -> None:
    """Draw airfields by verdict; pale what is not known to be in reach then; heavy what is ever best.

    They lie over the way; in a crowd under it what is never a refuge.
    """
    crowded = shown.index.size > CROWDS[0][0]
    words = np.array(shown.word, dtype=object)
    kinds = [(near, refuge, best) for refuge, best in REFUGES for near in (False, True)]
    for word, (shape, sign) in SIGNS.items():
        for near, refuge, best in kinds:
            mine = (words == word) & (shown.near == near) & (shown.refuge == refuge) & (shown.best == best)
            if not mine.any():
                continue
            size, edge = float(shown.size_pt[mine][0]), INK if near else MIDDLE
            height = 4.7 if refuge else (1.5 if crowded else 3.3) + 0.2 * near
            x, y = shown.x_nm[mine], shown.y_nm[mine]
            panel.plot(
                x, y, linestyle="none", marker=shape, markersize=size, markerfacecolor="white",
                markeredgecolor=edge, markeredgewidth=2.2 if best else 1.0, zorder=height,
            )  # fmt: skip
            panel.plot(
                x, y, linestyle="none", marker=sign, markersize=size * 0.55, color=edge, markeredgewidth=0.8,
                zorder=height + 0.1,
            )  # fmt: skip


def _names(panel: Axes, shown: RouteMap, taken: list[Box]) -> int:
    """Write what stretches have, then names of airfields, near the way first; return how many have none.

    Where nothing is free the words of a stretch may lie over airfields that are never a refuge.
    """
    frame, fields = shown.frame, shown.shown
    room = (2.0, 2.0, frame.width_pt - 2.0, frame.height_pt - 2.0)
    x, y = frame.points(fields.x_nm, fields.y_nm)
    half = fields.size_pt / 2.0 + 1.0
    marks = np.column_stack((x - half, y - half, x + half, y + half))
    nothing = np.zeros((0, 2))
    stretches, hidden = place(_stretch_names(shown), [*taken, *_boxes(marks)], room, nothing)
    taken += [spot.box for spot in stretches]
    more, _ = place(hidden, [*taken, *_boxes(marks[fields.refuge])], room, nothing)
    taken += [*_boxes(marks), *(spot.box for spot in more)]
    way = shown.way[:: max(1, len(shown.way) // 200)]
    apart = np.hypot(fields.x_nm[:, None] - way[:, 0], fields.y_nm[:, None] - way[:, 1]).min(axis=1)
    order = np.lexsort((apart, ~fields.near, ~fields.refuge, ~fields.best))[:MOST_NAMES]
    names = [_field_name(shown, int(i), float(x[i]), float(y[i])) for i in order]
    placed, left = place(names, taken, room, np.column_stack((x, y)))
    for spot in (*stretches, *more, *placed):
        _write(panel, frame, spot)
    return int(fields.index.size) - len(order) + len(left)


def _boxes(marks: Floats) -> list[Box]:
    return [(float(west), float(south), float(east), float(north)) for west, south, east, north in marks]


def _write(panel: Axes, frame: Frame, spot: Placed) -> None:
    at = (frame.west_nm + spot.x / frame.scale_pt, frame.south_nm + spot.y / frame.scale_pt)
    if spot.led:
        mark = (frame.west_nm + spot.name.x / frame.scale_pt, frame.south_nm + spot.name.y / frame.scale_pt)
        panel.plot(*zip(at, mark, strict=True), color=INK, linewidth=0.6, zorder=3.2)
    panel.text(
        *at, spot.name.text, ha="center", va="center", fontsize=LETTERS_PT, color=INK, zorder=6,
        fontweight="bold" if spot.name.centred else "normal", bbox=PAPER,
    )  # fmt: skip


def _field_name(shown: RouteMap, i: int, x: float, y: float) -> Name:
    fields = shown.shown
    return _name(
        shown.plan.field(int(fields.index[i])).id, x, y, clear=float(fields.size_pt[i]) / 2.0 + 2.5,
        farthest=FAR_PT if fields.refuge[i] else CLOSE_PT,
    )  # fmt: skip


def _name(text: str, x: float, y: float, *, clear: float, farthest: float, bold: bool = False) -> Name:
    width = text_width_pt(text, LETTERS_PT, bold=bold)
    return Name(
        text=text, x=x, y=y, width=width + 5.0, height=LETTERS_PT + 4.0, clear=clear, farthest=farthest,
        centred=bold,
    )  # fmt: skip


def _stretch_names(shown: RouteMap) -> list[Name]:
    """Return what is written beside each stretch that is long enough, at its middle."""
    names = []
    for stretch in shown.plan.stretches:
        x, y = shown.frame.points(*_part(shown, stretch).T)
        length = float(np.hypot(np.diff(x), np.diff(y)).sum())
        text = stretch_words(shown.plan, stretch)
        if stretch.state == "refuge" and length < text_width_pt(text, LETTERS_PT, bold=True):
            text = text.partition(",")[0]  # many short stretches in a row: the refuge alone
        least = LEAST_LABELLED_PT if stretch.state != "refuge" else text_width_pt(text, LETTERS_PT, bold=True)
        if length >= least:
            middle = len(x) // 2
            names.append(_name(text, float(x[middle]), float(y[middle]), clear=7.0, farthest=FAR_PT, bold=True))
    return names


def stretch_words(plan: Plan, stretch: Stretch) -> str:
    """Return what a stretch has, in few words."""
    minutes = f"{stretch.to_min - stretch.from_min} min"
    if stretch.field is not None:
        return f"to {plan.field(stretch.field).id}, {minutes}"
    if stretch.state == "visual":
        return f"visual{' by night' if stretch.night else ''}, {minutes}"
    return f"no refuge, {minutes}"
