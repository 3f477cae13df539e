"""A whole store into another, either way: row for row, resumable, and closed until it is whole."""

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from sqlalchemy import Engine, select

from refuge.airfield import Airfield, Runway, Station
from refuge.cli.store import store
from refuge.errors import InputError, StoreError
from refuge.ingest import ingest, redecode
from refuge.store import copying
from refuge.store.bulk import insert_rows
from refuge.store.copying import copy_store
from refuge.store.documents import put_document
from refuge.store.engine import open_engine, reading, writing
from refuge.store.opening import opened_store
from refuge.store.places import airfields_within, replace_airfields, replace_stations
from refuge.store.schema import metadata, observations
from refuge.weather.bulletin import Bulletin, Kind
from tests.adapters.conftest import ON_POSTGIS

# Every text here is invented (prefix X).
NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)
BOTH = ("file", ON_POSTGIS)


def report(number: int) -> Bulletin:
    raw = f"METAR X{number:03d} 220250Z 24010KT 9999 OVC010 10/05 Q1012 RMK \\ \t é"
    return Bulletin(kind=Kind.METAR, raw=raw, source="test", received_at=NOW)


def fill(engine: Engine) -> None:
    """Put something into most tables, with what a copy could spoil: fractions, nothing, odd letters."""
    taf = Bulletin(kind=Kind.TAF, raw="TAF X001 220230Z 2203/2306 24010KT 9999", source="t", received_at=NOW)
    odd = Bulletin(kind=Kind.METAR, raw="METAR X001", source="test", received_at=NOW)
    ingest(engine, [*map(report, range(150)), taf, odd], now=NOW)
    strips = (Runway(idents="09/27", length_ft=2500), Runway(idents="18", length_ft=None))
    field = {"name": "Å", "elevation_ft": None, "country": "XX", "source": "x"}
    fields = [
        Airfield(id="XF01", lat_deg=0.1 + 0.2, lon_deg=179.99999999999997, runways=strips, **field),  # type: ignore[arg-type]
        Airfield(id="XF02", lat_deg=-1 / 3, lon_deg=0.0, **field),  # type: ignore[arg-type]
    ]
    replace_airfields(engine, fields, source="x", imported_at=NOW, codes={"XF01": ("XF01", "XOLD")})
    where = {"lat_deg": 1.0, "lon_deg": 2.0, "elevation_ft": 3.5, "country": "XX", "reports": True}
    replace_stations(engine, [Station(id="X001", name="X", forecasts=False, **where)], source="x", imported_at=NOW)  # type: ignore[arg-type]
    with writing(engine) as conn:
        put_document(conn, "aircraft", "trainer", "one\ntwo", stored_at=NOW)


def everything(engine: Engine) -> dict[str, list[Any]]:
    with reading(engine) as conn:
        return {
            table.name: sorted((tuple(row) for row in conn.execute(select(table))), key=repr)
            for table in metadata.sorted_tables
        }


class Broken(Exception):  # noqa: N818 - it stands for a power cut
    """What ends a copy in the middle."""


def breaking_after(rows: int) -> Callable[[int], None]:
    done = 0

    def progress(more: int) -> None:
        nonlocal done
        done += more
        if done >= rows:
            raise Broken

    return progress


@pytest.fixture
def stores(make_store: Callable[[str], str], from_kind: str, to_kind: str) -> tuple[str, str]:
    """Give the URLs of a filled store and of an empty one."""
    source = make_store(from_kind)
    with opened_store(source) as engine:
        fill(engine)
    return source, make_store(to_kind)


either_way = pytest.mark.parametrize(
    ("from_kind", "to_kind"),
    [
        ("file", "file"),
        pytest.param("file", "postgis", marks=pytest.mark.postgis),
        pytest.param("postgis", "file", marks=pytest.mark.postgis),
        pytest.param("postgis", "postgis", marks=pytest.mark.postgis),
    ],
)


@either_way
def test_every_row_is_the_same_and_work_goes_on(stores: tuple[str, str]) -> None:
    with opened_store(stores[0]) as source, opened_store(stores[1]) as target:
        told: list[int] = []
        counts = copy_store(source, target, progress=told.append)
        assert everything(target) == everything(source)
        assert all(count.source == count.target for count in counts)
        assert {count.table: count.target for count in counts}["observations"] == 150
        assert sum(told) == sum(count.source for count in counts)
        with reading(target) as conn:
            assert airfields_within(conn, 0.3, 180.0, 5.0).ids == ("XF01",)
        # new bulletins get numbers of their own, in both
        for engine in (source, target):
            assert ingest(engine, [report(0), report(200)], now=NOW).new == 1
        assert everything(target) == everything(source)


@either_way
@pytest.mark.parametrize("rows", [1, 60, 160, 400, 640])
def test_a_copy_that_broke_off_is_closed_until_it_is_gone_on_with(
    stores: tuple[str, str], rows: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copying, "AT_ONCE", 50)
    with opened_store(stores[0]) as source:
        target = open_engine(stores[1])
        with pytest.raises(Broken):
            copy_store(source, target, progress=breaking_after(rows))
        with pytest.raises(StoreError, match=r"not whole.*refuge store copy"), opened_store(stores[1]):
            pass
        copy_store(source, target, progress=lambda _more: None)
        assert everything(target) == everything(source)
        target.dispose()
    with opened_store(stores[1]):
        pass


@pytest.mark.parametrize("kind", BOTH)
def test_a_store_that_holds_something_is_not_copied_to(make_store: Callable[[str], str], kind: str) -> None:
    with opened_store(make_store("file")) as source, opened_store(make_store(kind)) as target:
        fill(source)
        ingest(target, [report(1)], now=NOW)
        before = everything(target)
        with pytest.raises(InputError, match=r"not empty: bulletins, hearing, .*name an empty one"):
            copy_store(source, target, progress=lambda _more: None)
        assert everything(target) == before


def test_an_unfinished_copy_is_not_gone_on_with_from_another_source(
    make_store: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copying, "AT_ONCE", 50)
    with opened_store(make_store("file")) as source, opened_store(make_store("file")) as other:
        fill(source)
        ingest(other, map(report, range(300, 450)), now=NOW)
        target = open_engine(make_store("file"))
        with pytest.raises(Broken):
            copy_store(source, target, progress=breaking_after(160))
        with pytest.raises(InputError, match="part of another store"):
            copy_store(other, target, progress=lambda _more: None)
        with writing(source) as conn:
            conn.execute(observations.update().values(decoder="another"))
        with pytest.raises(InputError, match="before it was changed"):
            copy_store(source, target, progress=lambda _more: None)
        redecode(source)
        target.dispose()


def test_rows_that_did_not_arrive_are_told_and_keep_it_closed(
    make_store: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    where = make_store("file"), make_store("file")
    with opened_store(where[0]) as source:
        fill(source)

    def losing(conn: Any, table: Any, rows: Any) -> None:
        insert_rows(conn, table, rows[:-1] if table is observations else rows)

    monkeypatch.setattr(copying, "insert_rows", losing)
    done = CliRunner().invoke(store, ["copy", *where])
    assert isinstance(done.exception, StoreError)
    assert done.exception.exit_code == 3
    assert "not the same number of rows in observations" in str(done.exception)
    assert "observations             150         149" in done.stdout
    with pytest.raises(StoreError, match="not whole"), opened_store(where[1]):
        pass


def test_the_command_counts_both(make_store: Callable[[str], str]) -> None:
    where = make_store("file"), make_store("file")
    with opened_store(where[0]) as source:
        fill(source)
    done = CliRunner().invoke(store, ["copy", *where, "--json"], catch_exceptions=False)
    body = json.loads(done.stdout)
    assert body["same"] is True
    assert {"table": "runways", "from": 2, "to": 2} in body["tables"]


def test_the_command_refuses_a_store_that_is_not_there_and_one_onto_itself(tmp_path: Path) -> None:
    missing = CliRunner().invoke(store, ["copy", str(tmp_path / "no.sqlite"), str(tmp_path / "to.sqlite")])
    assert "there is no store at" in str(missing.exception)
    assert not (tmp_path / "no.sqlite").exists()
    itself = CliRunner().invoke(store, ["copy", str(tmp_path / "a"), f"sqlite:///{tmp_path}/a"])
    assert "the same store" in str(itself.exception)
