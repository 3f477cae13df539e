"""A world in memory says what the store says, to the last airfield; pyproj is the judge of distances."""

from collections.abc import Iterator
from dataclasses import fields
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod
from shapely import box

from refuge.airfield import Station
from refuge.ask import place_of, situation_for
from refuge.cli.demo import NOW, load
from refuge.earth import Position
from refuge.errors import InputError, MissingDataError
from refuge.flight.areas import Area
from refuge.flight.situation import Situation
from refuge.options import Options
from refuge.store.areas import areas_within, replace_areas
from refuge.store.engine import Store, reading
from refuge.store.opening import opened_store
from refuge.store.places import replace_airfields
from refuge.wiring import parties_by_id, question_in_store
from refuge.world import World, _points, read_world
from refuge.zulu import parse_instant

AT = parse_instant(NOW)
WGS84 = Geod(ellps="WGS84")
LATS = st.floats(-90, 90) | st.sampled_from([-90.0, 90.0, 89.99, 0.0])
LONS = st.floats(-180, 180) | st.sampled_from([-180.0, 180.0, 179.99, -179.99, 0.0])


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, str]]:
    name = str(tmp_path_factory.mktemp("world") / "refuge-demo.sqlite")
    load(name)
    with opened_store(name) as engine:
        shapes = {"XP1": box(-37.5, 44.0, -36.5, 45.0), "XP2": box(178.0, -5.0, 184.0, 5.0)}
        replace_areas(
            engine,
            [Area(name=key, kind="restricted", shape=shape, source="test") for key, shape in shapes.items()],
            source="test",
            imported_at=AT,
        )
        yield engine, name


def world_of(engine: Store, now: datetime = AT, before: World | None = None) -> World:
    with reading(engine) as conn:
        return read_world(conn, now, before)


def plain(situation: Situation) -> dict[str, Any]:
    """Return a situation as its fields, what is by station only for the stations that it holds."""
    found: dict[str, Any] = {}
    for field in fields(situation):
        value = getattr(situation, field.name)
        if field.name in {"observations", "earlier", "forecasts", "hearing"}:
            value = {name: value[name] for name in situation.stations if value.get(name)}
        found[field.name] = value
    return found


@pytest.mark.parametrize("at", ["44.0,-38.0", "XCOR", "XASH", "43.0,-36.0"])
@pytest.mark.parametrize("minutes", [-150, -60, 0, 50, 90])
def test_every_part_of_a_situation_is_the_same(store: tuple[Store, str], at: str, minutes: int) -> None:
    engine, name = store
    now = AT + timedelta(minutes=minutes)
    world = world_of(engine, now)
    asked = Options(at=at, aircraft="XA-GLASS", minimums="XS-SCHOOL")
    with reading(engine) as conn:
        question = question_in_store(asked, name, conn, now=now)
        expected = situation_for(conn, question)
    assert plain(world.situation_for(question)) == plain(expected)


def test_places_are_named_alike(store: tuple[Store, str]) -> None:
    engine, _ = store
    world = world_of(engine)
    with reading(engine) as conn:
        for text in ("XCOR", "xcor", "44.0,-38.0", "33.9S,151.2E"):
            assert world.position(text) == place_of(conn, text)
        with pytest.raises(InputError) as by_store:
            place_of(conn, "XNIL")
    with pytest.raises(InputError) as by_world:
        world.position("XNIL")
    assert str(by_world.value) == str(by_store.value)


def test_places_are_read_anew_only_after_an_import(store: tuple[Store, str]) -> None:
    engine, _ = store
    first = world_of(engine)
    assert world_of(engine, AT + timedelta(minutes=1), first).places is first.places
    kept = first.places.ordered
    replace_airfields(engine, kept, source="test", imported_at=AT)
    again = world_of(engine, AT, first)
    assert again.places is not first.places
    assert again.places.ordered == kept


def test_an_empty_store_has_no_answer(store: tuple[Store, str]) -> None:
    engine, name = store
    asked = Options(at="44.0,-38.0", aircraft="XA-GLASS", minimums="XS-SCHOOL", oat_c=0.0)
    with reading(engine) as conn:
        question = question_in_store(asked, name, conn, now=AT)
    with opened_store(":memory:") as empty, pytest.raises(MissingDataError):
        world_of(empty).situation_for(question)


@given(
    points=st.lists(st.tuples(LATS, LONS), min_size=1, max_size=30),
    lat=LATS,
    lon=LONS,
    radius_nm=st.floats(0.1, 400) | st.sampled_from([3000.0, 10_900.0]),
)
@settings(max_examples=150, deadline=None)
def test_near_is_what_pyproj_says(
    points: list[tuple[float, float]], lat: float, lon: float, radius_nm: float
) -> None:
    places = [
        Station(
            id=str(i), name="", lat_deg=y, lon_deg=x, elevation_ft=None, country="", reports=True, forecasts=True
        )
        for i, (y, x) in enumerate(points)
    ]
    index, _, distance = _points(places).near(Position(lat_deg=lat, lon_deg=lon), radius_nm)
    _, _, metres = WGS84.inv(
        [lon] * len(points), [lat] * len(points), [x for _, x in points], [y for y, _ in points]
    )
    expected = np.flatnonzero(np.array(metres) / 1852.0 <= radius_nm)
    assert index.tolist() == expected.tolist()
    assert np.allclose(distance, np.array(metres)[expected] / 1852.0)


@pytest.mark.parametrize(
    ("lat", "lon"), [(44.0, -38.0), (0.0, 179.9), (0.0, -179.0), (0.0, 170.0), (89.5, 0.0), (-40.0, 10.0)]
)
@pytest.mark.parametrize("radius_nm", [10.0, 60.0, 500.0])
def test_areas_are_those_of_the_store(store: tuple[Store, str], lat: float, lon: float, radius_nm: float) -> None:
    engine, _ = store
    at = Position(lat_deg=lat, lon_deg=lon)
    with reading(engine) as conn:
        expected = areas_within(conn, at, radius_nm)
    assert world_of(engine).places.areas_around(at, radius_nm) == expected


def test_parties_by_id_name_what_is_broken(store: tuple[Store, str]) -> None:
    """Documents come before files; what cannot be used is named, and costs the others nothing."""
    _, name = store
    documents = {"aircraft": {"XA-GLASS": "not = [toml", "XA-BAD": "id = 3"}, "minimums": {}}
    parties = parties_by_id(name, documents)
    assert set(parties.unusable_aircraft) == {"XA-GLASS", "XA-BAD"}
    assert "XA-GYRO" in parties.aircraft
    with pytest.raises(InputError, match="cannot be used"):
        parties.pair("XA-GLASS", "XS-SCHOOL")
    with pytest.raises(InputError, match="no minimums of id"):
        parties.pair("XA-GYRO", "NONE")
