"""``refuge import``: what it prints, stores, fetches and refuses."""

import gzip
import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from pytest_httpserver import HTTPServer

from refuge.cli import app
from refuge.errors import FeedError, InputError
from refuge.store.engine import reading
from refuge.store.opening import opened_store
from refuge.store.places import airfields_by_id, station

NOW = "2026-11-01T12:00Z"


@pytest.fixture
def samples(root: Path) -> Path:
    return root / "fixtures" / "gazetteer"


@pytest.fixture
def store(tmp_path: Path) -> str:
    return str(tmp_path / "store.sqlite")


def run(*args: str | Path, store: str) -> Result:
    words = ["import", *map(str, args), "--store", store, "--now", NOW]
    return CliRunner().invoke(app, words, catch_exceptions=True)


def run_json(*args: str | Path, store: str) -> dict[str, Any]:
    result = run(*args, "--json", store=store)
    assert result.exit_code == 0, result.output
    body: dict[str, Any] = json.loads(result.stdout)
    return body


def stored(store: str, *ids: str) -> dict[str, Any]:
    with opened_store(store) as engine, reading(engine) as conn:
        return dict(airfields_by_id(conn, ids))


def test_what_it_prints(samples: Path, store: str) -> None:
    result = run("airfields", samples, "--stations", samples / "stations.json", store=store)
    assert result.exit_code == 0, result.output
    # Counted in the sample tables by hand: 19 rows of runways, of which 00A, 12JY and 01WI have one
    # each, and one of 05OR's two is a helipad.
    assert result.stdout.splitlines()[:12] == [
        "source: OurAirports",
        "read         17  airports",
        "read         19  runways",
        "kept         13  airfields",
        "kept         15  runways",
        "dropped:",
        "              2  runway of a place left out (heliport and the like), or of none (00A, 12JY)",
        "              1  closed airfield (01WI)",
        "              1  heliport (00A)",
        "              1  seaplane base (00NK)",
        "              1  balloonport (12JY)",
        "              1  runway of a closed airfield, not flagged closed itself (01WI)",
    ]
    assert (
        "              1  match by code alone: the station is over 3 NM from the field (K1K5 148 NM from 1K5)"
        in (result.stdout.splitlines())
    )


def test_json_holds_the_three_reports(samples: Path, store: str) -> None:
    body = run_json("airfields", samples, "--stations", samples / "stations.json", store=store)
    assert body["imported_at"] == "2026-11-01T12:00:00Z"
    assert [report["kept"] for report in body["reports"]] == [
        {"airfields": 13, "runways": 15},
        {"stations": 8, "stations that report": 5, "stations that have forecasts": 0},
        {"airfields with a station of their own": 3},
    ]


def test_airfields_and_their_stations_are_in_the_store(samples: Path, store: str) -> None:
    run_json("airfields", samples, "--stations", samples / "stations.json", store=store)
    field = stored(store, "KBFZ")["KBFZ"]
    assert (field.station_id, field.elevation_ft, len(field.runways)) == ("KBFZ", 1032.0, 1)
    with opened_store(store) as engine, reading(engine) as conn:
        mended = station(conn, "KBFZ")
    assert mended is not None
    assert mended.elevation_ft == pytest.approx(1032.0)  # the list says 1032, in feet: SOURCES.md


def test_the_order_of_the_two_imports_does_not_matter(samples: Path, tmp_path: Path) -> None:
    one, other = str(tmp_path / "one.sqlite"), str(tmp_path / "other.sqlite")
    run_json("airfields", samples, store=one)
    assert stored(one, "KBFZ")["KBFZ"].station_id is None
    run_json("stations", samples / "stations.json", store=one)
    run_json("stations", samples / "stations.json", store=other)
    run_json("airfields", samples, store=other)
    ids = ("KBFZ", "KJPX", "ZGDY", "1K5", "22UT")
    assert stored(one, *ids) == stored(other, *ids)
    assert stored(one, *ids)["KJPX"].station_id == "KJPX"
    assert stored(one, *ids)["ZGDY"].elevation_ft is None  # contradicts its station
    before = stored(one, *ids)
    run_json("airfields", samples, store=one)
    run_json("stations", samples / "stations.json", store=one)
    run_json("airfields", samples, store=one)
    assert stored(one, *ids) == before


def test_an_import_replaces_the_one_before(samples: Path, store: str, tmp_path: Path) -> None:
    run_json("airfields", samples, store=store)
    fewer = tmp_path / "few.csv"
    lines = (samples / "airports.csv").read_text(encoding="utf-8").splitlines()
    fewer.write_text(
        "\n".join(line for line in lines if "LOWZ" in line or line.startswith("id,")), encoding="utf-8"
    )
    result = run("airfields", fewer, store=store)
    assert result.exit_code == 0
    assert "no table of runways was given: runways unknown" in result.stdout
    assert list(stored(store, "LOWZ", "KBFZ")) == ["LOWZ"]
    assert stored(store, "LOWZ")["LOWZ"].runways is None


def test_a_refused_import_leaves_the_store_as_it_was(samples: Path, store: str, tmp_path: Path) -> None:
    run_json("airfields", samples, store=store)
    empty = tmp_path / "empty.csv"
    empty.write_text((samples / "airports.csv").read_text(encoding="utf-8").splitlines()[0], encoding="utf-8")
    for bad in (empty, samples / "runways.csv", samples / "stations.json"):
        result = run("airfields", bad, store=store)
        assert isinstance(result.exception, InputError), bad
        assert stored(store, "KBFZ")
    assert isinstance(run("stations", samples / "airports.csv", store=store).exception, InputError)


def test_no_stations_is_said(samples: Path, store: str) -> None:
    result = run("airfields", samples, store=store)
    assert "there are no stations in the store" in result.stderr
    result = run("stations", samples / "stations.json", store=str(Path(store).with_name("new.sqlite")))
    assert "there are no airfields in the store yet" in result.stderr


def test_other_tables_of_a_folder_are_named_and_not_read(samples: Path, store: str, tmp_path: Path) -> None:
    for file in samples.glob("*.csv"):
        (tmp_path / f"renamed-{file.name}").write_bytes(file.read_bytes())
    (tmp_path / "other.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    result = run("airfields", tmp_path, store=store)
    assert result.exit_code == 0
    assert result.stderr.splitlines()[0] == (
        f"not read, no table of airports, runways or countries: {tmp_path / 'other.csv'}"
    )


def test_fetched_from_an_address(samples: Path, store: str, httpserver: HTTPServer) -> None:
    for name in ("airports.csv", "runways.csv", "countries.csv"):
        httpserver.expect_request(f"/data/{name}").respond_with_data((samples / name).read_bytes())
    packed = gzip.compress((samples / "stations.json").read_bytes())
    httpserver.expect_request("/stations.cache.json.gz").respond_with_data(packed)
    run_json("airfields", "--address", httpserver.url_for("/data/"), store=store)
    run_json("stations", "--address", httpserver.url_for("/stations.cache.json.gz"), store=store)
    assert stored(store, "KBFZ")["KBFZ"].station_id == "KBFZ"


def test_a_source_that_fails_is_a_feed_error_and_the_store_stays(
    samples: Path, store: str, httpserver: HTTPServer
) -> None:
    run_json("airfields", samples, store=store)
    httpserver.expect_request("/airports.csv").respond_with_data("gone", status=404)
    result = run("airfields", "--address", httpserver.url_for("/"), store=store)
    assert isinstance(result.exception, FeedError)
    assert result.exception.exit_code == 4  # interface.md, 'Everywhere'
    assert stored(store, "KBFZ")


def test_offline_from_the_package(store: str) -> None:
    body = run_json("airfields", "--from", "airportsdata", store=store)
    (report, _) = body["reports"]
    assert report["kept"]["airfields"] > 28_000  # data/README.md: 28,298 fields
    assert "the source has no runways: runways unknown" in {finding["reason"] for finding in report["findings"]}
    (field,) = stored(store, "KJFK").values()
    assert field.runways is None


def test_files_do_not_go_with_the_package(samples: Path, store: str) -> None:
    result = run("airfields", samples, "--from", "airportsdata", store=store)
    assert result.exit_code == 2
    assert "give neither FILES nor --address" in result.stderr


@pytest.mark.parametrize("now", ["2026-11-01T12:00", "soon"])
def test_a_time_without_zone_is_refused(samples: Path, store: str, now: str) -> None:
    result = CliRunner().invoke(app, ["import", "airfields", str(samples), "--store", store, "--now", now])
    assert isinstance(result.exception, InputError)


@pytest.mark.shared_data
def test_the_real_world_in_any_order(shared_data: Path, tmp_path: Path) -> None:
    one, other = str(tmp_path / "one.sqlite"), str(tmp_path / "other.sqlite")
    stations = shared_data / "stations" / "stations.cache.json"
    both = run_json("airfields", shared_data / "airfields", "--stations", stations, store=one)
    run_json("airfields", shared_data / "airfields", store=other)
    later = run_json("stations", stations, store=other)
    pairs = [body["reports"][-1]["kept"]["airfields with a station of their own"] for body in (both, later)]
    assert 6_500 < pairs[0] < 6_800
    # The store keeps every code that a field goes or went by.
    assert pairs[0] == pairs[1]
