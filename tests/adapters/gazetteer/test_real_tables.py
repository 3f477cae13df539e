"""The whole real tables: counts against figures found independently, the FAA's lengths, and time.

Figures with [README] are those of the data folder's README.md ('Traps, measured'). The others are
counted here with the csv module alone, not with the code under test.
"""

import csv
import json
import time
from collections import Counter
from pathlib import Path

import pytest
from pyproj import Geod

from refuge.airfield import Station
from refuge.gazetteer.gazette import Gazette
from refuge.gazetteer.join import Joined, join
from refuge.gazetteer.ourairports import read_ourairports
from refuge.gazetteer.report import ImportReport, Tally
from refuge.gazetteer.stations import read_stations
from refuge.gazetteer.surfaces import surface_of
from refuge.gazetteer.table_files import read_tables

pytestmark = pytest.mark.shared_data
Rows = list[dict[str, str]]
LAND = {"small_airport", "medium_airport", "large_airport"}


def rows_of(path: Path) -> Rows:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def airports(shared_data: Path) -> Rows:
    return rows_of(shared_data / "airfields" / "airports.csv")


@pytest.fixture(scope="module")
def runways(shared_data: Path) -> Rows:
    return rows_of(shared_data / "airfields" / "runways.csv")


@pytest.fixture(scope="module")
def gazette(shared_data: Path) -> Gazette:
    names = ("airports.csv", "runways.csv", "countries.csv")
    tally = Tally()
    files = [(name, (shared_data / "airfields" / name).read_bytes()) for name in names]
    return read_ourairports(read_tables(files, tally), tally)


@pytest.fixture(scope="module")
def listed(shared_data: Path) -> tuple[tuple[Station, ...], ImportReport]:
    path = shared_data / "stations" / "stations.cache.json"
    return read_stations(path.read_bytes(), where=str(path))


@pytest.fixture(scope="module")
def joined(gazette: Gazette, listed: tuple[tuple[Station, ...], ImportReport]) -> Joined:
    return join(gazette.airfields, gazette.codes, listed[0])


def test_every_airport_is_read_and_accounted_for(gazette: Gazette, airports: Rows) -> None:
    report = gazette.report
    kinds = Counter(row["type"] for row in airports)
    assert dict(report.read)["airports"] == len(airports) == 84_225  # [README]
    assert report.count("dropped", "closed airfield") == kinds["closed"] == 12_864  # [README]
    assert report.count("dropped", "heliport") == kinds["heliport"]
    assert report.count("dropped", "seaplane base") == kinds["seaplane_base"]
    assert report.count("dropped", "balloonport") == kinds["balloonport"]
    assert len(gazette.airfields) == sum(kinds[kind] for kind in LAND)
    assert len({airfield.id for airfield in gazette.airfields}) == len(gazette.airfields)


def test_elevations_that_are_missing_stay_unknown(gazette: Gazette) -> None:
    assert sum(airfield.elevation_ft is None for airfield in gazette.airfields) == 5_018  # [README]


def test_runway_rows_are_all_accounted_for(gazette: Gazette, airports: Rows, runways: Rows) -> None:
    report = gazette.report
    assert dict(report.read)["runways"] == len(runways) == 48_184  # [README]
    closed = {row["id"] for row in airports if row["type"] == "closed"}
    of_closed = [row for row in runways if row["airport_ref"] in closed]
    flagged = report.count("dropped", "runway of a closed airfield, flagged closed itself")
    unflagged = report.count("dropped", "runway of a closed airfield, not flagged closed itself")
    # [README] calls all 3,952 unflagged; 211 of them are flagged.
    assert flagged + unflagged == len(of_closed) == 3_952
    assert flagged == sum(row["closed"] == "1" for row in of_closed)
    elsewhere = "runway of a place left out (heliport and the like), or of none"
    lost = (
        report.count("dropped", elsewhere)
        + report.count("dropped", "helipad among an airfield's runways")
        + report.count("merged", "two rows of one runway: the worse of each value kept")
    )
    assert dict(report.kept)["runways"] + flagged + unflagged + lost == len(runways)


def test_fields_without_a_runway_row_have_unknown_runways(gazette: Gazette, runways: Rows, airports: Rows) -> None:
    with_rows = {row["airport_ref"] for row in runways}
    without = sum(row["type"] in LAND and row["id"] not in with_rows for row in airports)
    assert without == 18_477  # [README]
    only_helipads = 6  # counted by hand: fields whose every row is a helipad (H, H1...)
    assert sum(airfield.runways is None for airfield in gazette.airfields) == without + only_helipads


def test_shared_local_codes_are_known(gazette: Gazette, airports: Rows) -> None:
    every = Counter(row["local_code"] for row in airports if row["local_code"])
    assert sum(count > 1 for count in every.values()) == 1_274  # [README]
    land = Counter(row["local_code"] for row in airports if row["local_code"] and row["type"] in LAND)
    reason = "local code that several airfields use: no code is trusted without the distance"
    assert gazette.report.count("noted", reason) == sum(count > 1 for count in land.values())


def test_spellings_of_surface_are_understood_where_it_counts(runways: Rows) -> None:
    spellings = Counter(row["surface"] for row in runways)
    assert len(spellings) == 665  # [README]
    kinds = Counter[str]()
    for text, count in spellings.items():
        kinds[surface_of(text)] += count
    # Of the rows that name a surface, all but one in fifteen are understood.
    assert kinds["unknown"] - spellings[""] < (len(runways) - spellings[""]) / 15


def test_stations(listed: tuple[tuple[Station, ...], ImportReport]) -> None:
    stations, report = listed
    assert dict(report.read)["stations"] == 9_868  # [README]
    assert report.count("dropped", "station without position") == 373  # [README]
    # [README] counts 7,677 METAR and 3,711 TAF sites, with and without position.
    assert sum(station.reports for station in stations) == 7_677 - 9
    assert sum(station.forecasts for station in stations) == 3_711 - 4
    assert all(-90.0 <= station.lat_deg <= 90.0 for station in stations)


def test_stations_without_position_are_as_many_as_the_list_has(shared_data: Path) -> None:
    rows = json.loads((shared_data / "stations" / "stations.cache.json").read_bytes())
    nowhere = [row for row in rows if abs(row["lat"]) > 90 or row["lat"] == row["lon"] == 0]
    assert sum("METAR" in row["siteType"] for row in nowhere) == 9
    assert sum("TAF" in row["siteType"] for row in nowhere) == 4


def test_matches_by_code_are_the_known_number(
    airports: Rows, listed: tuple[tuple[Station, ...], ImportReport]
) -> None:
    """[README]: 4,962 by ICAO code alone, 6,503 with gps_code, ident and K+local_code, before the distance."""
    reporting = {station.id for station in listed[0] if station.reports}
    assert len(reporting & {row["icao_code"] for row in airports}) == 4_962
    open_ones = [row for row in airports if row["type"] != "closed"]
    codes = {row[name] for row in open_ones for name in ("icao_code", "gps_code", "ident")}
    codes |= {f"K{row['local_code']}" for row in open_ones if row["local_code"] and row["iso_country"] == "US"}
    assert len(reporting & codes) == 6_503


def test_every_pair_shares_a_code_within_3_nm_and_is_alone(
    joined: Joined, gazette: Gazette, listed: tuple[tuple[Station, ...], ImportReport]
) -> None:
    stations = {station.id: station for station in listed[0]}
    pairs = [(airfield, stations[airfield.station_id]) for airfield in joined.airfields if airfield.station_id]
    assert 6_000 < len(pairs) < 7_000
    assert len({station.id for _, station in pairs}) == len(pairs)
    assert all(station.id in gazette.codes[airfield.id] for airfield, station in pairs)
    lons, lats, to_lons, to_lats = zip(
        *((a.lon_deg, a.lat_deg, s.lon_deg, s.lat_deg) for a, s in pairs), strict=True
    )
    metres = Geod(ellps="WGS84").inv(lons, lats, to_lons, to_lats)[2]
    assert max(metres) <= 3 * 1852.0


def test_of_two_stations_the_one_that_is_heard_is_kept_far_oftener(
    joined: Joined, gazette: Gazette, shared_data: Path, listed: tuple[tuple[Station, ...], ImportReport]
) -> None:
    """Old codes stay listed: of the fields with two stations most are heard by the code in use."""
    with (shared_data / "cycle" / "metars.cache.2022-10.csv").open(encoding="utf-8", newline="") as file:
        heard = {row[1] for row in csv.reader(file) if len(row) > 1}
    known = {station.id for station in listed[0]}
    kept = other = 0
    for airfield in joined.airfields:
        rest = [code for code in gazette.codes[airfield.id] if code in known and code != airfield.station_id]
        if airfield.station_id and rest:
            kept += airfield.station_id in heard
            other += any(code in heard for code in rest)
    assert kept > 5 * other > 0


def test_elevations_of_joined_pairs_agree_or_are_unknown(joined: Joined) -> None:
    stations = {station.id: station for station in joined.stations}
    for airfield in joined.airfields:
        if airfield.station_id is None:
            continue
        ours, theirs = airfield.elevation_ft, stations[airfield.station_id].elevation_ft
        assert ours is None or theirs is None or abs(ours - theirs) <= 300.0


def test_runway_lengths_agree_with_the_faa(gazette: Gazette, airports: Rows, shared_data: Path) -> None:
    """[README]: 97.4 % of 14,167. The FAA's file of 2024-12-26 is a source of its own."""
    faa = {
        (row["ARPT_ID"], _ends(row["RWY_ID"])): int(row["RWY_LEN"])
        for row in rows_of(shared_data / "airfields" / "nasr" / "APT_RWY.csv")
    }
    local = {(row["ident"], row["name"]): row["local_code"] for row in airports if row["iso_country"] == "US"}
    by_code = {(code, name): lid for (code, name), lid in local.items() if lid}
    of_field = {
        airfield.id: lid
        for airfield in gazette.airfields
        if airfield.country == "US"
        for code in gazette.codes[airfield.id]
        if (lid := by_code.get((code, airfield.name)))
    }
    same = compared = 0
    for airfield in gazette.airfields:
        for runway in airfield.runways or ():
            length = faa.get((of_field.get(airfield.id, ""), _ends(runway.idents)))
            if length is not None and runway.length_ft is not None:
                compared += 1
                same += runway.length_ft == length
    assert compared > 14_000
    assert same / compared == pytest.approx(0.974, abs=0.001)


def _ends(idents: str) -> tuple[str, ...]:
    return tuple(end.strip().lstrip("0") for end in idents.split("/"))


def test_the_whole_world_is_read_and_joined_in_seconds(shared_data: Path) -> None:
    start = time.perf_counter()
    names = ("airports.csv", "runways.csv", "countries.csv")
    tally = Tally()
    gazette = read_ourairports(
        read_tables([(name, (shared_data / "airfields" / name).read_bytes()) for name in names], tally), tally
    )
    path = shared_data / "stations" / "stations.cache.json"
    join(gazette.airfields, gazette.codes, read_stations(path.read_bytes(), where=str(path))[0])
    assert time.perf_counter() - start < 20.0  # 2 to 3 s on two idle cores
