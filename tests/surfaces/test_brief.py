"""The brief of a roster as the people meet it who write one: in a spreadsheet, in haste, a week ahead.

What is expected follows from the rosters here (invented) and from README, 'refuge brief'; nothing is copied
from an answer.
"""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from refuge.cli import app
from refuge.cli.demo import load
from refuge.errors import InputError, MissingDataError
from refuge.packaged import packaged
from refuge.store.opening import opened_store

NOW = "2026-03-10T15:00Z"
HEADING = "flight,from,to,departs,aircraft,minimums,via,altitude_ft,lowest_safe_ft,wind,torch,fuel_min"
GOOD = "A1,XTES,XLUM,2026-03-10T15:15Z,XA-GLASS,XS-SCHOOL,,6000,2200,,,"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = str(tmp_path_factory.mktemp("brief") / "refuge-demo.sqlite")
    load(path)
    return path


def run(store: str, tmp_path: Path, roster: str | bytes, *words: str, now: str = NOW) -> Result:
    path = tmp_path / "roster.csv"
    path.write_bytes(roster if isinstance(roster, bytes) else roster.encode())
    return CliRunner().invoke(app, ["brief", str(path), "--now", now, "--store", store, *words])


def found(store: str, tmp_path: Path, roster: str | bytes, *, now: str = NOW) -> Any:
    return json.loads(run(store, tmp_path, roster, "--json", now=now).stdout)


def test_every_mistake_of_a_row_is_said_once(store: str, tmp_path: Path) -> None:
    row = "B1,XTES,NOWHERE,soon,XA-NONE XA-GLASS,XS-NONE,XCOR; XVIA,high,2200,x/y,maybe,-3"
    (bad,) = found(store, tmp_path, f"{HEADING}\n{row}\n")["bad_rows"]
    assert (bad["line"], bad["flight"], bad["past"]) == (2, "B1", False)
    for said in (
        "via: 'XVIA'", "to: 'NOWHERE'", "departs: 'soon'", "altitude_ft: 'high'", "fuel_min: -3", "wind: 'x/y'",
        "torch: 'maybe'", "minimums: no minimums", "aircraft XA-NONE: no aircraft",
    ):  # fmt: skip
        assert bad["reason"].count(said) == 1, said
    assert "XCOR" not in bad["reason"]
    assert "XA-GLASS" not in bad["reason"]
    assert "lowest_safe_ft" not in bad["reason"]
    lines = run(store, tmp_path, f"{HEADING}\n{row}\n").stdout.splitlines()
    assert sum(line.startswith("    - ") for line in lines) == 9


@pytest.mark.parametrize(
    ("level", "safe", "said"),
    [
        ("6.000", "2200", "6 ft is no cruising level (give feet, without a separator for thousands)"),
        ("6000", "2.200", "2.2 ft is no lowest safe height (give feet, without a separator for thousands)"),
    ],
)
def test_a_separator_for_thousands_makes_no_height(
    store: str, tmp_path: Path, level: str, safe: str, said: str
) -> None:
    row = f"B1,XTES,XLUM,2026-03-10T15:15Z,XA-GLASS,XS-SCHOOL,,{level},{safe},,,"
    (bad,) = found(store, tmp_path, f"{HEADING}\n{row}\n")["bad_rows"]
    assert said in bad["reason"]


@pytest.mark.parametrize(
    ("departs", "said"),
    [
        ("10/03/2026 15:15", "is not a time (write it like"),  # as a spreadsheet rewrites it
        ("2026-03-10 15:15", "has no zone (write UTC, such as 2026-03-10T15:15Z)"),
        ("2026-03-10T15:15", "has no zone (write UTC, such as 2026-03-10T15:15Z)"),
        ("", "nothing stands under departs"),
    ],
)
def test_a_departure_that_is_no_instant_says_how_to_write_it(
    store: str, tmp_path: Path, departs: str, said: str
) -> None:
    (bad,) = found(store, tmp_path, f"{HEADING}\n{GOOD.replace('2026-03-10T15:15Z', departs)}\n")["bad_rows"]
    assert said in bad["reason"]


def test_a_departure_in_local_time_with_its_offset(store: str, tmp_path: Path) -> None:
    """16:15 at +01:00 is 15:15 UTC (ISO 8601)."""
    answer = found(store, tmp_path, f"{HEADING}\n{GOOD.replace('15:15Z', '16:15+01:00')}\n")
    assert [line["departs"] for line in answer["lines"]] == ["2026-03-10T15:15:00Z"]


def test_an_aircraft_that_is_not_known_leaves_the_others(store: str, tmp_path: Path) -> None:
    answer = found(store, tmp_path, f"{HEADING}\n{GOOD.replace('XA-GLASS', 'XA-NONE XA-GLASS XA-GLASS')}\n")
    assert [line["aircraft"] for line in answer["lines"]] == ["XA-GLASS"]
    assert ["XA-NONE" in row["reason"] for row in answer["bad_rows"]] == [True]


def test_a_flight_that_has_begun_is_an_exception_and_not_looked_at(store: str, tmp_path: Path) -> None:
    """A roster of a week is kept: on Tuesday its Monday is past, and says so."""
    monday = GOOD.replace("A1", "M1").replace("2026-03-10", "2026-03-09")
    done = run(store, tmp_path, f"{HEADING}\n{monday}\n{GOOD}\n{monday.replace('6000', 'high')}\n", "--json")
    assert done.exit_code == 2
    answer = json.loads(done.stdout)
    assert [line["flight"] for line in answer["lines"]] == ["A1"]
    first, second = answer["bad_rows"]
    assert (first["line"], first["past"], second["past"]) == (2, True, False)
    assert "2026-03-09T15:15:00Z is past" in first["reason"]
    # not a second before it begins, but not after
    assert found(store, tmp_path, f"{HEADING}\n{GOOD}\n", now="2026-03-10T15:15:00Z")["bad_rows"] == []
    assert found(store, tmp_path, f"{HEADING}\n{GOOD}\n", now="2026-03-10T15:15:01Z")["bad_rows"][0]["past"]


def test_a_row_that_is_there_twice_counts_once(store: str, tmp_path: Path) -> None:
    answer = found(store, tmp_path, f"{HEADING}\n{GOOD}\n{GOOD.replace('6000', ' 6000 ')}\n")
    assert len(answer["lines"]) == 1
    assert [(row["line"], row["reason"]) for row in answer["bad_rows"]] == [(3, "the same as line 2: left out")]
    other_level = found(store, tmp_path, f"{HEADING}\n{GOOD}\n{GOOD.replace('6000', '7000')}\n")
    assert len(other_level["lines"]) == 2


@pytest.mark.parametrize(("mark", "name"), [(";", "semicolons"), ("\t", "tabs")])
def test_another_mark_between_columns_is_named(store: str, tmp_path: Path, mark: str, name: str) -> None:
    done = run(store, tmp_path, f"{HEADING}\n{GOOD}\n".replace(",", mark))
    assert isinstance(done.exception, InputError)
    assert done.exception.what == f"columns are separated by commas: this file seems to use {name}"


def test_a_file_as_a_spreadsheet_writes_it(store: str, tmp_path: Path) -> None:
    """A mark of the byte order, lines that end in CR LF, quoted cells, empty rows at the end (RFC 4180)."""
    quoted = GOOD.replace("A1", '"A1, ""solo"""').replace("XTES", '"44.1, -38.0"')
    answer = found(store, tmp_path, f"\ufeff{HEADING}\r\n{quoted}\r\n,,,,,,,,,,,\r\n".encode())
    assert answer["bad_rows"] == []
    (line,) = answer["lines"]
    assert (line["flight"], line["route"]) == ('A1, "solo"', ["44.1, -38.0", "XLUM"])


def test_the_table_names_an_aircraft_by_its_id_and_says_what_columns_mean(store: str, tmp_path: Path) -> None:
    path = packaged("demo") / "aircraft" / "XA-GLASS.toml"
    done = run(store, tmp_path, f"{HEADING}\n{GOOD.replace('XA-GLASS', str(path))}\n")
    row = next(line for line in done.stdout.splitlines() if " A1 " in line)
    assert row.split()[2] == "XA-GLASS"
    for word in ("endurance:", "gap:", "best refuge:", "what breaks it:", "gap budget of 15 min"):
        assert word in " ".join(done.stdout.split())
    answer = found(store, tmp_path, f"{HEADING}\n{GOOD.replace('XA-GLASS', str(path))}\n")
    assert [(line["aircraft"], line["aircraft_id"]) for line in answer["lines"]] == [(str(path), "XA-GLASS")]


def test_a_long_name_is_cut_and_says_so(store: str, tmp_path: Path) -> None:
    done = run(store, tmp_path, f"{HEADING}\n{GOOD.replace('A1', 'CROSS-COUNTRY-NUMBER-3')}\n")
    assert "CROSS-COUNTRY-NUMBE~ " in done.stdout


def test_a_line_tells_two_flights_of_one_name_apart_and_what_nobody_gave(store: str, tmp_path: Path) -> None:
    """Without altitude_ft, 10,000 ft are assumed (interface.md); without lowest_safe_ft nothing can meet."""
    rows = [GOOD, GOOD.replace("XTES", "XSIL").replace("6000,2200", ",")]
    roster = f"{HEADING}\n" + "\n".join(rows)
    said = " ".join(run(store, tmp_path, roster).stdout.split())
    assert "XTES-XLUM 6,000 ft: " in said
    assert "XSIL-XLUM 10,000 ft (assumed, none was given), lowest safe height not given: " in said
    levels = [
        (line["route"][0], line["altitude_ft"], line["altitude_given"], line["lowest_safe_ft"])
        for line in found(store, tmp_path, roster)["lines"]
    ]
    assert sorted(levels) == [("XSIL", 10000.0, False, None), ("XTES", 6000.0, True, 2200.0)]
    assert "+: gaps within the gap budget" in said


def test_a_flight_of_no_length_is_a_mistake_and_a_round_trip_is_none(store: str, tmp_path: Path) -> None:
    round_trip = GOOD.replace("XLUM", "XTES")
    answer = found(
        store, tmp_path, f"{HEADING}\n{round_trip}\n{round_trip.replace('XS-SCHOOL,', 'XS-SCHOOL,XSIL')}\n"
    )
    assert [line["route"] for line in answer["lines"]] == [["XTES", "XSIL", "XTES"]]
    (bad,) = answer["bad_rows"]
    assert "a flight of no length, XTES to XTES" in bad["reason"]
    assert run(store, tmp_path, f"{HEADING}\n{round_trip}\n").exit_code == 2


@pytest.mark.parametrize("rows", ["", "\n", ",,,,,,,,,,,\n"])
def test_a_roster_with_a_heading_alone_is_refused(store: str, tmp_path: Path, rows: str) -> None:
    """Nothing in it is within any budget: a file cut off by its export must not read as all well."""
    done = run(store, tmp_path, f"{HEADING}\n{rows}")
    assert isinstance(done.exception, InputError)
    assert done.exception.what == "the roster has no flight"


def test_no_head_of_a_table_without_lines(store: str, tmp_path: Path) -> None:
    done = run(store, tmp_path, f"{HEADING}\nB1,,,,,,,,,,,\n")
    assert "No flight could be worked out." in done.stdout
    assert "best refuge" not in done.stdout


def test_old_data_are_said_at_the_head(store: str, tmp_path: Path) -> None:
    """A report is stale after 75 min (method.md 4). The demo's last came at 14:55, observed at 14:50."""
    fresh, aged = (
        run(store, tmp_path, f"{HEADING}\nB1,,,,,,,,,,,\n", now=f"2026-03-10T16:{minute}Z")
        for minute in ("05", "11")
    )
    assert "Newest bulletin received 101455Z, 70 min before" in fresh.stdout
    assert "WARNING" not in fresh.stdout
    assert "WARNING: nothing was received since 2026-03-10T14:55:00Z" in aged.stdout
    assert "WARNING: no report is younger than 75 min (the newest is of 2026-03-10T14:50:00Z)" in aged.stdout
    row = GOOD.replace("03-10", "03-12")
    answer = found(store, tmp_path, f"{HEADING}\n{row}\n", now="2026-03-12T15:00Z")
    assert answer["as_of"] == "2026-03-12T15:00:00Z"
    assert len(answer["warnings"]) == 3
    (line,) = answer["lines"]
    assert (line["gap_min"], line["best_refuge"]) == (int(-(-line["total_min"] // 1)), None)


def test_a_store_without_weather_or_without_airfields(store: str, tmp_path: Path) -> None:
    before = found(store, tmp_path, f"{HEADING}\n{GOOD}\n", now="2026-03-10T11:00Z")
    assert before["warnings"] == ["no bulletin at all is known: the weather is unknown everywhere"]
    with opened_store(str(tmp_path / "empty.sqlite")):
        pass
    done = run(str(tmp_path / "empty.sqlite"), tmp_path, f"{HEADING}\n{GOOD}\n")
    assert isinstance(done.exception, MissingDataError)
    assert "no airfields" in str(done.exception)


def test_an_aircraft_that_nobody_filled_in_is_named_once(store: str, tmp_path: Path) -> None:
    rows = "\n".join([GOOD, *[GOOD.replace("XA-GLASS", "fixtures/aircraft/template.toml")] * 2])
    warnings = found(store, tmp_path, f"{HEADING}\n{rows}\n")["warnings"]
    said = "XX-TEMPLATE: the aircraft file is a template not filled in"
    assert [each.startswith(said) for each in warnings].count(True) == 1
    assert said in " ".join(run(store, tmp_path, f"{HEADING}\n{rows}\n").stdout.split())
    assert found(store, tmp_path, f"{HEADING}\n{GOOD}\n")["warnings"] == []
