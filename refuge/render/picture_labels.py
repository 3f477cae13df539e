"""Where names go on a map, so that none lies on another, on a mark or on the way.

Greedy: the most wanted first, each at the first of several places around its mark that is free. All in points.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from refuge.coast import Line

Box = tuple[float, float, float, float]
"""West, south, east, north."""

AROUND = ((1, 1), (1, -1), (-1, 1), (-1, -1), (1, 0), (-1, 0), (0, 1), (0, -1))
DISTANCES_PT = (0.0, 3.0, 7.0, 12.0, 18.0, 28.0, 42.0)
LED_FROM_PT = 10.0
"""From this far on a line leads from the name to its mark."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Name:
    """A text to be placed by a mark at x, y: clear of it by `clear`, and no more than `farthest` beyond that.

    One that is ``centred`` stands above or below its mark, or a line leads there; others rather stand beside it.
    """

    text: str
    x: float
    y: float
    width: float
    height: float
    clear: float
    farthest: float
    centred: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A name with the middle of its place; ``led``: a line leads from there to the mark."""

    name: Name
    x: float
    y: float
    led: bool

    @property
    def box(self) -> Box:
        """Return the box that it takes."""
        return _box(self.name, self.x, self.y)


def place(
    names: Sequence[Name], taken: Sequence[Box], room: Box, marks: Line
) -> tuple[tuple[Placed, ...], tuple[Name, ...]]:
    """Return the names that found a free place within `room`, and those that did not.

    `marks` are all that names may be read to belong to, shape (n, 2).
    """
    boxes = np.array(taken, dtype=float).reshape(-1, 4)
    placed, left = [], []
    for name in names:
        spot = _free_spot(name, boxes, room, marks)
        if spot is None:
            left.append(name)
            continue
        placed.append(spot)
        boxes = np.vstack((boxes, spot.box))
    return tuple(placed), tuple(left)


def _box(name: Name, x: float, y: float) -> Box:
    half, high = name.width / 2.0, name.height / 2.0
    return x - half, y - high, x + half, y + high


def _free_spot(name: Name, boxes: Line, room: Box, marks: Line) -> Placed | None:
    for distance, (east, north) in _candidates(name):
        x = name.x + east * (name.clear + distance + name.width / 2.0)
        y = name.y + north * ((name.clear if not east else 0.3 * name.clear) + distance + name.height / 2.0)
        west, south, right, top = _box(name, x, y)
        if west < room[0] or south < room[1] or right > room[2] or top > room[3]:
            continue
        apart = (boxes[:, 0] >= right) | (boxes[:, 2] <= west) | (boxes[:, 1] >= top) | (boxes[:, 3] <= south)
        led = distance >= LED_FROM_PT or (name.centred and east != 0)
        if apart.all() and (led or name.centred or _nearest(name, (west, south, right, top), marks)):
            return Placed(name=name, x=x, y=y, led=led)
    return None


def _nearest(name: Name, box: Box, marks: Line) -> bool:
    """Return whether no other mark lies nearer to the place of a name than its own."""

    def away(x: Line, y: Line) -> Line:
        out = np.maximum.reduce([box[0] - x, x - box[2], np.zeros_like(x)])
        up = np.maximum.reduce([box[1] - y, y - box[3], np.zeros_like(y)])
        return np.asarray(np.hypot(out, up))

    others = marks[np.hypot(marks[:, 0] - name.x, marks[:, 1] - name.y) > 1e-6]
    own = away(np.array([name.x]), np.array([name.y]))[0]
    return bool((away(others[:, 0], others[:, 1]) > own).all())


def _candidates(name: Name) -> Iterator[tuple[float, tuple[int, int]]]:
    """Yield distances and directions, the most wanted first."""
    distances = [each for each in DISTANCES_PT if each <= name.farthest]
    if name.centred:
        yield from product(distances, ((0, 1), (0, -1)))
        yield from product(distances, AROUND[:4])
    else:
        yield from product(distances, AROUND)


def boxes_along(x: Line, y: Line, half: float) -> list[Box]:
    """Return small boxes that cover a line; `half` is half its width."""
    found: list[Box] = []
    for x1, y1, x2, y2 in zip(x[:-1], y[:-1], x[1:], y[1:], strict=True):
        steps = max(1, int(np.ceil(np.hypot(x2 - x1, y2 - y1) / (2.0 * half))))
        share = np.linspace(0.0, 1.0, steps + 1)
        found += [
            (float(a) - half, float(b) - half, float(a) + half, float(b) + half)
            for a, b in zip(x1 + share * (x2 - x1), y1 + share * (y2 - y1), strict=True)
        ]
    return found
