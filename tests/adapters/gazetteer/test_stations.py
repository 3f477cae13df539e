"""NOAA's list of stations: its stand-ins for "not known", and what is kept of it."""

import gzip
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from refuge.airfield import Station
from refuge.errors import InputError
from refuge.gazetteer.report import ImportReport
from refuge.gazetteer.stations import read_stations


@pytest.fixture
def listed(samples: Path) -> tuple[dict[str, Station], ImportReport]:
    stations, report = read_stations((samples / "stations.json").read_bytes(), where="stations.json")
    return {station.id: station for station in stations}, report


def entry(**values: Any) -> dict[str, Any]:
    return {"id": "XBAA", "icaoId": "XBAA", "lat": 10.5, "lon": 20.5, "elev": 100, "siteType": ["METAR"]} | values


def read_one(**values: Any) -> Station:
    good = entry(id="XBZZ", icaoId="XBZZ")
    stations, _ = read_stations(json.dumps([entry(**values), good]).encode(), where="here")
    assert [station.id for station in stations] == ["XBAA", "XBZZ"]
    return stations[0]


def test_who_is_kept(listed: tuple[dict[str, Station], ImportReport]) -> None:
    stations, report = listed
    assert sorted(stations) == ["CBAR", "K1K5", "K8A0", "KBFZ", "KEGP", "KHTO", "KJPX", "ZGDY"]
    assert report.count("dropped", "station without position") == 1  # 62086, -99.99
    assert report.count("dropped", "station at position 0, 0: not filled in") == 1  # NCPL
    assert report.count("dropped", "place without METAR, TAF and ICAO identifier (buoys and the like)") == 1


def test_a_station_as_the_source_gives_it(listed: tuple[dict[str, Station], ImportReport]) -> None:
    station = listed[0]["K8A0"]
    assert station.elevation_ft == pytest.approx(1026.90, abs=0.01)  # 313 m / 0.3048, the international foot
    assert replace(station, elevation_ft=None) == Station(
        id="K8A0",
        name="Albertville Muni",
        lat_deg=34.23158,
        lon_deg=-86.24814,
        elevation_ft=None,
        country="US",
        reports=True,
        forecasts=False,
        faa_id="8A0",
    )


def test_one_with_an_icao_identifier_is_kept_though_it_is_listed_without_reports(
    listed: tuple[dict[str, Station], ImportReport],
) -> None:
    stations, report = listed
    assert (stations["CBAR"].reports, stations["CBAR"].forecasts) == (False, False)
    assert report.count("noted", "station with ICAO identifier, listed without METAR and TAF: kept") == 3


def test_9999_is_no_elevation(listed: tuple[dict[str, Station], ImportReport]) -> None:
    assert listed[0]["KEGP"].elevation_ft is None


@pytest.mark.parametrize("elev", [None, 9999, "100", True, float("nan"), float("inf"), -800, 30000])
def test_an_elevation_that_is_none_is_unknown(elev: object) -> None:
    assert read_one(elev=elev).elevation_ft is None


def test_sea_level_is_an_elevation() -> None:
    assert read_one(elev=0).elevation_ft == 0.0


@pytest.mark.parametrize(
    "bad",
    [
        "text",
        None,
        7,
        {},
        entry(id=None, icaoId=None),
        entry(lat=None),
        entry(lat="10"),
        entry(lon=-999.9),
        entry(lat=-99.99, lon=-99.99),
        entry(lat=0, lon=0),
        entry(lat=float("nan")),
    ],
)
def test_a_bad_entry_loses_only_itself(bad: object) -> None:
    data = json.dumps([entry(id="XBYY", icaoId="XBYY"), bad, entry(id="XBZZ", icaoId="XBZZ")]).encode()
    stations, report = read_stations(data, where="here")
    assert [station.id for station in stations] == ["XBYY", "XBZZ"]
    assert sum(f.count for f in report.findings if f.outcome == "dropped") == 1


@pytest.mark.parametrize("kinds", [None, "METAR", {}, ["SYNOP"]])
def test_strange_kinds_promise_nothing(kinds: object) -> None:
    station = read_one(siteType=kinds)
    assert (station.reports, station.forecasts) == (False, False)


def test_of_two_with_one_identifier_the_first_is_kept() -> None:
    stations, report = read_stations(json.dumps([entry(), entry(lat=50.0)]).encode(), where="here")
    assert [station.lat_deg for station in stations] == [10.5]
    assert report.count("merged", "second station of one identifier: the first kept") == 1


def test_gzip_reads_alike() -> None:
    data = json.dumps([entry()]).encode()
    assert read_stations(gzip.compress(data), where="here")[0] == read_stations(data, where="here")[0]


@pytest.mark.parametrize("data", [b"", b"{", b"{}", b"[]", b"[1]", b"\x1f\x8bdamaged", b"\xff\xfe"])
def test_what_is_no_list_of_stations_is_refused(data: bytes) -> None:
    with pytest.raises(InputError, match=r"^here: "):
        read_stations(data, where="here")
