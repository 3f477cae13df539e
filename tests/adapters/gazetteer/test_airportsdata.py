"""The offline source: what it cannot say is unknown, and said to be."""

from typing import Any

import pytest

from refuge.gazetteer.airportsdata_source import load_airportsdata, read_airportsdata


def row(**values: Any) -> dict[str, Any]:
    given = {
        "icao": "XB01",
        "name": "Field",
        "country": "XB",
        "elevation": 100.0,
        "lat": 10.0,
        "lon": 20.0,
        "lid": "",
    }
    return given | values


def test_runways_lights_and_owner_are_unknown_and_it_is_said() -> None:
    gazette = read_airportsdata({"XB01": row()}, source="airportsdata 1")
    (airfield,) = gazette.airfields
    assert (airfield.runways, airfield.lights, airfield.private) == (None, "unknown", None)
    assert airfield.source == "airportsdata 1"
    assert gazette.report.count("noted", "the source has no runways: runways unknown") == 1
    assert gazette.report.count("noted", "the source does not tell which airfields are closed") == 1


@pytest.mark.parametrize("elevation", [0, 0.0, None, "100", float("nan"), 99999.0, -5000.0])
def test_an_elevation_that_may_be_none_is_unknown(elevation: object) -> None:
    gazette = read_airportsdata({"XB01": row(elevation=elevation)}, source="s")
    assert gazette.airfields[0].elevation_ft is None


@pytest.mark.parametrize(
    "bad",
    [
        {"name": "Some Heliport"},
        {"name": "Lac (Water Aerodrome) Airport"},
        {"name": "X Seaplane Base"},
        {"lat": None},
        {"lat": 95.0},
        {"lat": 0.0, "lon": 0.0},
    ],
)
def test_what_is_no_land_airfield_is_out(bad: dict[str, Any]) -> None:
    gazette = read_airportsdata({"XB01": row(**bad), "XB02": row(icao="XB02")}, source="s")
    assert [airfield.id for airfield in gazette.airfields] == ["XB02"]
    assert sum(f.count for f in gazette.report.findings if f.outcome == "dropped") == 1


@pytest.mark.parametrize("name", ["Stillwater Airport", "Bridgewater Airpark", "Helix Field"])
def test_names_that_only_look_like_it_stay(name: str) -> None:
    assert len(read_airportsdata({"XB01": row(name=name)}, source="s").airfields) == 1


def test_the_installed_package() -> None:
    gazette = load_airportsdata()
    # The package has grown from 28,298 fields (data/README.md) and is read whole.
    assert dict(gazette.report.read)["airports"] >= 28_000
    assert len(gazette.airfields) >= 0.99 * dict(gazette.report.read)["airports"]
    assert all(airfield.runways is None for airfield in gazette.airfields)
    assert all(airfield.elevation_ft != 0.0 for airfield in gazette.airfields)
    assert all(airfield.id in gazette.codes[airfield.id] for airfield in gazette.airfields)
