"""Areas on the way and at the field: method.md 5; G16 and G17 of reference.md 7.8."""

from dataclasses import replace

import pytest
from shapely import Geometry, box

from refuge.airfield import Airfield
from refuge.earth import Position
from refuge.flight.areas import Area, AreaKind
from refuge.flight.entries import entry
from refuge.flight.shortlist import Shortlist, build
from tests.core.flight import situations as s

FIELD = s.at(90.0, 20.0)  # 20 NM east of 40 N, 100 W: about 99.565 W


def area(kind: AreaKind, shape: Geometry, name: str = "A-1") -> Area:
    return Area(name=name, kind=kind, shape=shape, source="made up")


def answer(*areas: Area, where: Position = s.HERE, fields: tuple[Airfield, ...] = ()) -> Shortlist:
    fields = fields or (s.airfield("F", FIELD, station="XA"),)
    first = Position(lat_deg=fields[0].lat_deg, lon_deg=fields[0].lon_deg)
    place = s.station("XA", first)
    known = s.situation(fields, [place], reports=[s.report("XA", s.conditions(s.SKC, 10.0))])
    return build(s.question(where=where), replace(known, areas=areas))


ON_THE_WAY = box(-99.9, 39.9, -99.7, 40.1)
AT_THE_FIELD = box(-99.7, 39.9, -99.4, 40.1)
AROUND_BOTH = box(-100.5, 39.5, -99.0, 40.5)
AT_THE_START = box(-100.3, 39.9, -99.9, 40.1)
ELSEWHERE = box(-100.5, 41.0, -99.0, 41.2)


@pytest.mark.parametrize(
    ("kind", "shape", "verdict", "last_resort"),
    [
        ("prohibited", ON_THE_WAY, "misses", False),
        ("prohibited", AT_THE_FIELD, "misses", False),
        ("prohibited", AROUND_BOTH, "misses", False),
        ("prohibited", ELSEWHERE, "meets", False),
        ("adiz", AT_THE_FIELD, "misses", False),  # G17: entered from outside
        ("adiz", ON_THE_WAY, "misses", False),
        ("adiz", AROUND_BOTH, "meets", False),  # never crossed inward
        ("adiz", AT_THE_START, "meets", False),  # left, not entered
        ("restricted", ON_THE_WAY, "meets", False),
        ("restricted", AT_THE_FIELD, "meets", True),
        ("class_b", AT_THE_FIELD, "meets", True),
    ],
)
def test_areas(kind: AreaKind, shape: Geometry, verdict: str, last_resort: bool) -> None:
    found = answer(area(kind, shape))
    shown = entry(found, 0)
    assert shown.checks["airspace"].verdict == verdict
    assert ("last resort" in shown.marks) is last_resort
    assert bool(found.basis.airspace.last_resort[0]) is last_resort
    assert shown.verdict == verdict


def test_a_zone_that_is_left_and_entered_again_is_entered() -> None:
    horseshoe = AT_THE_START.union(box(-100.3, 40.1, -99.0, 40.3)).union(box(-99.7, 39.9, -99.0, 40.1))
    assert entry(answer(area("adiz", horseshoe)), 0).checks["airspace"].verdict == "misses"


def test_without_areas_nothing_is_checked_and_it_is_said() -> None:
    shown = entry(answer(), 0)
    assert shown.checks["airspace"].verdict == "not_checked"
    assert "look at the chart" in shown.checks["airspace"].why
    assert "not checked" in shown.checks["notices"].why


@pytest.mark.parametrize("shape", [box(179.5, -16.5, 180.5, -15.5), box(-180.5, -16.5, -179.5, -15.5)])
@pytest.mark.parametrize("there", [179.2, -179.2])
def test_across_the_180th_meridian(shape: Geometry, there: float) -> None:
    start = Position(lat_deg=-16.0, lon_deg=-there)
    field = s.airfield("F", Position(lat_deg=-16.0, lon_deg=there), station="XA")
    shown = entry(answer(area("prohibited", shape), where=start, fields=(field,)), 0)
    assert shown.checks["airspace"].verdict == "misses"
    clear = answer(area("prohibited", box(179.5, -18.5, 180.5, -17.5)), where=start, fields=(field,))
    assert entry(clear, 0).checks["airspace"].verdict == "meets"


def test_class_b_ranks_behind_every_other_that_meets() -> None:  # G16
    near = replace(s.airfield("NEAR", s.at(90.0, 10.0), station="XA"), class_b=True)
    far = s.airfield("FAR", s.at(90.0, 14.0))
    found = answer(fields=(near, far))
    assert [found.basis.airfields[i].id for i in found.order] == ["FAR", "NEAR"]
    assert [found.word(int(i)) for i in found.order] == ["meets", "meets"]
    last = entry(found, 0)
    assert "last resort" in last.marks
    assert "class B" in last.checks["airspace"].why
    assert any("emergency authority" in text for text in last.advice)
