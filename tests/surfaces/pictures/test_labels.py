"""Names on a map: none on another, on a mark or on the way, and none that may be read as another's."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from refuge.render.picture_labels import Box, Name, Placed, boxes_along, place

ROOM = (0.0, 0.0, 400.0, 300.0)
spots = st.tuples(st.floats(0.0, 400.0), st.floats(0.0, 300.0))


def name(text: str, x: float, y: float, *, centred: bool = False, farthest: float = 42.0) -> Name:
    return Name(
        text=text, x=x, y=y, width=6.0 * len(text), height=11.0, clear=7.0, farthest=farthest, centred=centred
    )


def box(spot: Placed) -> Box:
    half, high = spot.name.width / 2.0, spot.name.height / 2.0
    return spot.x - half, spot.y - high, spot.x + half, spot.y + high


def overlap(one: Box, two: Box) -> bool:
    return min(one[2], two[2]) - max(one[0], two[0]) > 1e-6 and min(one[3], two[3]) - max(one[1], two[1]) > 1e-6


@given(st.lists(spots, min_size=1, max_size=25), st.tuples(spots, spots))
def test_nothing_overlaps_and_nothing_is_lost(marks: list[tuple[float, float]], way: tuple[object, object]) -> None:
    ends = np.array(way, dtype=float)
    taken = boxes_along(ends[:, 0], ends[:, 1], half=5.0)
    taken += [(x - 5.0, y - 5.0, x + 5.0, y + 5.0) for x, y in marks]
    names = [name(f"X{i:03d}", x, y, centred=i % 5 == 0) for i, (x, y) in enumerate(marks)]
    placed, left = place(names, taken, ROOM, np.array(marks))
    assert sorted([spot.name.text for spot in placed] + [each.text for each in left]) == [n.text for n in names]
    boxes = [box(spot) for spot in placed]
    assert not any(overlap(one, other) for one in boxes for other in taken)
    assert not any(overlap(boxes[i], boxes[j]) for i in range(len(boxes)) for j in range(i))
    assert all(ROOM[0] <= b[0] and ROOM[1] <= b[1] and b[2] <= ROOM[2] and b[3] <= ROOM[3] for b in boxes)


def test_a_name_stands_beside_its_mark_and_what_is_centred_above_it() -> None:
    (beside,), _ = place([name("XTES", 100.0, 100.0)], [], ROOM, np.array([[100.0, 100.0]]))
    assert beside.x > 100.0
    assert not beside.led
    (above,), _ = place([name("no refuge", 100.0, 100.0, centred=True)], [], ROOM, np.array([[100.0, 100.0]]))
    assert (above.x, above.led) == (100.0, False)
    assert above.y > 100.0


def test_a_name_nearer_to_another_mark_has_a_line_to_its_own_or_no_place() -> None:
    """All around the mark but to the east is taken, and there another mark stands."""
    walls = [(0.0, 107.0, 400.0, 300.0), (0.0, 0.0, 400.0, 93.0), (0.0, 93.0, 99.0, 107.0)]
    marks = np.array([[100.0, 100.0], [112.0, 100.0]])
    placed, left = place([name("XSIL", 100.0, 100.0, farthest=7.0)], walls, ROOM, marks)
    assert not placed
    assert [each.text for each in left] == ["XSIL"]
    (led,), _ = place([name("XSIL", 100.0, 100.0)], walls, ROOM, marks)
    assert led.led


def test_boxes_cover_a_line() -> None:
    found = boxes_along(np.array([0.0, 100.0]), np.array([0.0, 50.0]), half=4.0)
    for share in np.linspace(0.0, 1.0, 201):
        assert any(b[0] <= 100.0 * share <= b[2] and b[1] <= 50.0 * share <= b[3] for b in found)
