"""The join's laws: never by code alone, never beyond 3 NM, one to one."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from refuge.airfield import Airfield, Station
from refuge.gazetteer.gazette import Gazette
from refuge.gazetteer.join import Joined, join
from refuge.gazetteer.stations import read_stations

Reader = Callable[..., Gazette]
GEOD = Geod(ellps="WGS84")


def field(id_: str, lat: float = 10.0, lon: float = 20.0, elevation_ft: float | None = 500.0) -> Airfield:
    return Airfield(id=id_, name=id_, lat_deg=lat, lon_deg=lon, elevation_ft=elevation_ft, country="XB")


def station(
    id_: str, lat: float = 10.0, lon: float = 20.0, *, ft: float | None = 500.0, reports: bool = True
) -> Station:
    return Station(
        id=id_, name=id_, lat_deg=lat, lon_deg=lon, elevation_ft=ft, country="XB", reports=reports, forecasts=False
    )


def pairs(joined: Joined) -> dict[str, str | None]:
    return {airfield.id: airfield.station_id for airfield in joined.airfields}


def distance_nm(a: Airfield, s: Station) -> float:
    return float(GEOD.inv(a.lon_deg, a.lat_deg, s.lon_deg, s.lat_deg)[2]) / 1852.0


def test_code_and_distance_together_join() -> None:
    joined = join([field("XB01")], {"XB01": ("XBAA",)}, [station("XBAA", 10.01)])
    assert pairs(joined) == {"XB01": "XBAA"}


def test_a_code_far_away_does_not_join_and_is_reported() -> None:
    # The same code on a field 60 NM north of the station: planted.
    joined = join([field("XBAA", 11.0), field("XB02")], {"XBAA": ("XBAA",), "XB02": ("XB02",)}, [station("XBAA")])
    assert pairs(joined) == {"XBAA": None, "XB02": None}
    (finding,) = [f for f in joined.report.findings if f.outcome == "dropped"]
    assert (finding.count, finding.examples) == (1, ("XBAA 60 NM from XBAA",))


def test_distance_without_code_does_not_join() -> None:
    assert pairs(join([field("XB01")], {"XB01": ("XB01",)}, [station("XBAA")])) == {"XB01": None}


# 3 NM along the meridian from 10 N, by pyproj's Geod.fwd (WGS84).
@pytest.mark.parametrize(("nm", "joins"), [(2.999, True), (3.001, False)])
def test_the_limit_is_three_nautical_miles(nm: float, joins: bool) -> None:
    _, lat, _ = GEOD.fwd(20.0, 10.0, 0.0, nm * 1852.0)
    joined = join([field("XB01")], {"XB01": ("XB01",)}, [station("XB01", lat)])
    assert (pairs(joined)["XB01"] is not None) is joins


def test_across_the_antimeridian_near_is_near() -> None:
    joined = join([field("XB01", 0.0, 179.99)], {"XB01": ("XB01",)}, [station("XB01", 0.0, -179.99)])
    assert pairs(joined) == {"XB01": "XB01"}


def test_a_station_serves_one_field() -> None:
    codes = {"XB01": ("XBAA",), "XB02": ("XBAA",)}
    joined = join([field("XB01", 10.02), field("XB02", 10.01)], codes, [station("XBAA")])
    assert pairs(joined) == {"XB01": None, "XB02": "XBAA"}  # the nearer one
    assert [f.count for f in joined.report.findings if f.outcome == "merged"] == [1]


def test_a_field_takes_the_code_in_use_before_a_nearer_old_one() -> None:
    codes = {"XB01": ("XBNW", "XBOL")}
    joined = join([field("XB01")], codes, [station("XBOL"), station("XBNW", 10.01)])
    assert pairs(joined) == {"XB01": "XBNW"}


def test_a_field_takes_the_one_that_reports() -> None:
    codes = {"XB01": ("XBNW", "XBOL")}
    joined = join([field("XB01")], codes, [station("XBOL"), station("XBNW", reports=False)])
    assert pairs(joined) == {"XB01": "XBOL"}


def test_an_earlier_join_is_forgotten() -> None:
    first = join([field("XB01")], {"XB01": ("XBAA",)}, [station("XBAA")])
    again = join(first.airfields, {"XB01": ("XBAA",)}, [station("XBBB")])
    assert pairs(again) == {"XB01": None}


def test_no_stations_and_no_airfields() -> None:
    assert pairs(join([field("XB01")], {"XB01": ("XB01",)}, [])) == {"XB01": None}
    assert join([], {}, [station("XBAA")]).airfields == ()


def test_a_station_elevation_in_feet_is_put_right(read: Reader, samples: Path) -> None:
    stations, _ = read_stations((samples / "stations.json").read_bytes(), where="stations.json")
    gazette = read()
    joined = join(gazette.airfields, gazette.codes, stations)
    mended = {s.id: s.elevation_ft for s in joined.stations}
    # The list says 1032 for KBFZ, and 313 m for K8A0 at the same place; OurAirports says 1,032 ft.
    assert mended["KBFZ"] == pytest.approx(1032.0)
    assert mended["K8A0"] == pytest.approx(1026.9, abs=0.1)
    assert pairs(joined)["KBFZ"] == "KBFZ"
    assert pairs(joined)["KJPX"] == "KJPX"  # the code in use; KHTO is the old one, and nearer
    assert pairs(joined)["1K5"] is None  # K1K5 is at Elkhart, 148 NM away


def test_contradicting_elevations_are_both_unknown(read: Reader, samples: Path) -> None:
    stations, _ = read_stations((samples / "stations.json").read_bytes(), where="stations.json")
    gazette = read()
    joined = join(gazette.airfields, gazette.codes, stations)
    # OurAirports gives ZGDY 8,530 ft, the length of its runway; the station's 211 m is likelier.
    assert {a.id: a.elevation_ft for a in joined.airfields}["ZGDY"] is None
    assert {s.id: s.elevation_ft for s in joined.stations}["ZGDY"] is None


@pytest.mark.parametrize(
    ("field_ft", "station_ft", "expected"),
    [
        (500.0, 790.0, (500.0, 790.0)),  # within 300 ft: believed
        (500.0, 810.0, (None, None)),
        (500.0, 500.0 / 0.3048, (500.0, 500.0)),  # the number of feet, read as metres
        (500.0, 515.0 / 0.3048, (None, None)),  # not that number
        (None, 500.0, (None, 500.0)),
        (500.0, None, (500.0, None)),
        (0.0, 0.0, (0.0, 0.0)),
    ],
)
def test_elevations(field_ft: float | None, station_ft: float | None, expected: tuple[float | None, ...]) -> None:
    joined = join([field("XB01", elevation_ft=field_ft)], {"XB01": ("XB01",)}, [station("XB01", ft=station_ft)])
    assert (joined.airfields[0].elevation_ft, joined.stations[0].elevation_ft) == pytest.approx(expected)


def test_a_station_above_all_airfields_has_no_elevation_even_unjoined() -> None:
    joined = join([], {}, [station("XBAA", ft=7700.0 / 0.3048)])
    assert joined.stations[0].elevation_ft is None


def test_a_contradiction_is_remembered_when_the_airfields_are_read_again() -> None:
    codes = {"XB01": ("XB01",), "XB02": ("XB02",)}
    source = [field("XB01", elevation_ft=8530.0), field("XB02", 11.0)]
    first = join(source, codes, [station("XB01", ft=692.0), station("XB02", 11.0, ft=None)])
    assert [a.elevation_ft for a in first.airfields] == [None, 500.0]
    doubted = frozenset(a.id for a in first.airfields if a.elevation_ft is None)
    again = join(source, codes, first.stations, doubted=doubted)
    assert again.airfields == first.airfields
    mended = join([field("XB01", elevation_ft=700.0)], codes, [station("XB01", ft=692.0)], doubted=doubted)
    assert mended.airfields[0].elevation_ft == 700.0


CODES = ["XBAA", "XBAB", "XBAC", "XBAD"]
places = st.tuples(st.floats(9.9, 10.1), st.floats(19.9, 20.1))


@given(
    st.lists(st.tuples(places, st.lists(st.sampled_from(CODES), max_size=3, unique=True)), max_size=6),
    st.dictionaries(st.sampled_from(CODES), places),
)
def test_every_pair_shares_a_code_and_is_near_and_is_alone(
    fields: list[tuple[tuple[float, float], list[str]]], where: dict[str, tuple[float, float]]
) -> None:
    airfields = [field(f"F{i}", *place) for i, (place, _) in enumerate(fields)]
    codes = {f"F{i}": tuple(some) for i, (_, some) in enumerate(fields)}
    stations = {id_: station(id_, *place) for id_, place in where.items()}
    joined = join(airfields, codes, list(stations.values()))
    found = [(a, stations[a.station_id]) for a in joined.airfields if a.station_id]
    assert all(s.id in codes[a.id] and distance_nm(a, s) <= 3.0 for a, s in found)
    assert len({s.id for _, s in found}) == len(found)
    # Nobody is left alone beside a free match.
    taken = {s.id for _, s in found}
    for a in joined.airfields:
        if a.station_id is None:
            assert not [
                c for c in codes[a.id] if c in stations and c not in taken and distance_nm(a, stations[c]) <= 3.0
            ]


def test_the_report_is_json() -> None:
    report = join([field("XB01")], {"XB01": ("XB01",)}, [station("XB01")]).report
    assert json.loads(json.dumps(report.as_json()))["kept"] == {"airfields with a station of their own": 1}
