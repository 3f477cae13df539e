"""refuge collect and refuge store, as typed: what they print, how they end."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from pytest_httpserver import HTTPServer

from refuge.cli import main

# Invented reports (prefix X) in the shapes that the services send.
METAR = "METAR XABC 220250Z 24010KT 10SM OVC040 10/05 A2992"
TAF = "TAF XABC 212330Z 2200/2306 24010KT P6SM OVC040"
CSV = f"raw_text,station_id,observation_time\n{METAR},XABC,2022-10-22T02:50:00Z\n"
XML = f'<?xml version="1.0"?><response><data><TAF><raw_text>{TAF}</raw_text></TAF></data></response>'
WINDS = """FBUS31 KWNO 220159
FD1US1
DATA BASED ON 220000Z
VALID 220600Z   FOR USE 0200-0900Z. TEMPS NEG ABV 24000

FT  3000    6000
ABI      2544+15
"""
STATIONS = [
    {"id": "XABC", "icaoId": "XABC", "site": "Abc", "lat": 1.5, "lon": 2.5, "elev": 100, "siteType": ["METAR"]}
]
NOW = ["--now", "2022-10-22T03:00Z"]

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Give a function that runs one command on a store of this test: exit code, stdout, stderr."""
    monkeypatch.setenv("REFUGE_STORE", str(tmp_path / "store.sqlite"))

    def run_main(*words: str) -> tuple[int, str, str]:
        capsys.readouterr()
        with pytest.raises(SystemExit) as done:
            main(list(words))
        printed = capsys.readouterr()
        return int(done.value.code or 0), printed.out, printed.err

    return run_main


@pytest.fixture
def service(httpserver: HTTPServer) -> HTTPServer:
    httpserver.expect_request("/data/cache/metars.cache.csv.gz").respond_with_data(CSV)
    httpserver.expect_request("/data/cache/stations.cache.json.gz").respond_with_data(json.dumps(STATIONS))
    httpserver.expect_request("/api/data/windtemp").respond_with_data(WINDS)
    return httpserver


def test_all_feeds_by_default(service: HTTPServer, run: Run) -> None:
    service.expect_request("/data/cache/tafs.cache.xml.gz").respond_with_data(XML)
    code, out, err = run("collect", *NOW, "--base-url", service.url_for(""))
    assert (code, err) == (0, "")
    assert out == (
        "feed       fetched     new   known refused  state\n"
        "stations         1       1       0       0  ok\n"
        "metar            1       1       0       0  ok\n"
        "taf              1       1       0       0  ok\n"
        "winds            6       1       5       0  ok\n"
    )


def test_one_failing_feed_spoils_no_other(service: HTTPServer, run: Run) -> None:
    service.expect_request("/data/cache/tafs.cache.xml.gz").respond_with_data(status=404)
    code, out, err = run("collect", *NOW, "--base-url", service.url_for(""), "--json")
    assert code == 4
    rows = {row["feed"]: row for row in json.loads(out)["feeds"]}
    assert {name: row["state"] for name, row in rows.items()} == {
        "stations": "ok",
        "metar": "ok",
        "taf": "failed",
        "winds": "ok",
    }
    assert rows["metar"]["new"] == rows["winds"]["new"] == 1
    assert "answered 404" in rows["taf"]["errors"][0]
    assert "1 of 4 feeds failed" in err
    assert "tafs.cache.xml.gz" in err


def test_a_folder_by_its_path(tmp_path: Path, run: Run) -> None:
    folder = tmp_path / "reports"
    folder.mkdir()
    (folder / "a.txt").write_text(f"{METAR}=\n{TAF}=\nMETAR XABC\n")
    code, out, err = run("collect", *NOW, str(folder), "--json")
    assert (code, err) == (0, "")
    answer = json.loads(out)
    assert answer["now"] == "2022-10-22T03:00:00Z"
    assert [(row["feed"], row["new"], row["refused"]) for row in answer["feeds"]] == [
        (f"{folder} METAR", 1, 1),
        (f"{folder} TAF", 1, 0),
    ]
    again = json.loads(run("collect", *NOW, str(folder), "--json")[1])
    assert [(row["new"], row["known"]) for row in again["feeds"]] == [(0, 2), (0, 1)]


def test_what_could_not_be_read_is_said(tmp_path: Path, run: Run) -> None:
    (tmp_path / "a.txt").write_text(f"{METAR}=\nMETAR XABC\n")
    code, _, err = run("collect", *NOW, str(tmp_path / "a.txt"))
    assert code == 0
    assert err == f"note: {tmp_path / 'a.txt'} METAR: 1 could not be read: kept, with the reason, and not used\n"


def test_which_stations_were_left_out_is_said(httpserver: HTTPServer, run: Run) -> None:
    lost = STATIONS[0] | {"id": "XDEF", "icaoId": "XDEF", "lat": -99.99, "lon": -99.99}
    httpserver.expect_request("/data/cache/stations.cache.json.gz").respond_with_data(json.dumps([*STATIONS, lost]))
    code, out, err = run("collect", *NOW, "stations", "--base-url", httpserver.url_for(""))
    assert code == 0
    assert out.splitlines()[1].split() == ["stations", "2", "1", "0", "1", "ok"]
    assert "position: 1" in err


def test_a_damaged_file_in_a_folder_is_a_failed_feed_beside_the_others(tmp_path: Path, run: Run) -> None:
    folder = tmp_path / "reports"
    folder.mkdir()
    (folder / "a.txt").write_text(METAR)
    (folder / "b.gz").write_bytes(b"\x1f\x8bnonsense")
    code, out, err = run("collect", *NOW, str(folder))
    assert code == 4
    assert out.splitlines()[1].split()[-5:] == ["1", "1", "0", "0", "ok"]
    assert "damaged gzip" in err


@pytest.mark.parametrize("junk", [b"flight,from,to\nA1,XTES,XLUM\n", b"SQLite format 3\x00\x10\x00"])
def test_a_file_of_something_else_is_bad_input_and_nothing_of_it_is_kept(
    tmp_path: Path, run: Run, junk: bytes
) -> None:
    (tmp_path / "junk").write_bytes(junk)
    (tmp_path / "good").write_text(METAR)
    code, out, err = run("collect", *NOW, str(tmp_path / "junk"), str(tmp_path / "good"), "--json")
    assert code == 2
    rows = {Path(row["feed"].split()[0]).name: row for row in json.loads(out)["feeds"]}
    assert (rows["junk"]["state"], rows["junk"]["fetched"]) == ("failed", 0)
    assert (rows["good"]["state"], rows["good"]["new"]) == ("ok", 1)
    assert f"{tmp_path / 'junk'}: " in err
    stored = [line.split()[:2] for line in run("store", "info")[1].splitlines()]
    assert ["METAR", "1"] in stored
    assert ["refused", "0"] in stored


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--now", "2022-10-22T03:00"], "has no zone"),
        (["metar", "nowhere.txt"], "nowhere.txt: no feed, and no such file or folder"),
        (["--store", "mysql://x/y"], "not known"),
    ],
)
def test_bad_input_ends_with_2(run: Run, words: list[str], said: str) -> None:
    code, out, err = run("collect", *words)
    assert (code, out) == (2, "")
    assert said in err


def test_the_store_says_what_it_holds(service: HTTPServer, run: Run) -> None:
    run("collect", *NOW, "stations", "metar", "--base-url", service.url_for(""))
    code, out, _ = run("store", "info", "--json")
    answer = json.loads(out)
    assert code == 0
    assert answer["bulletins"] == [
        {"kind": "METAR", "count": 1, "oldest": "2022-10-22T03:00:00Z", "newest": "2022-10-22T03:00:00Z"},
        {"kind": "TAF", "count": 0, "oldest": None, "newest": None},
        {"kind": "WINDS", "count": 0, "oldest": None, "newest": None},
        {"kind": "GUIDANCE", "count": 0, "oldest": None, "newest": None},
    ]
    assert answer["rows"] == {"refused": 0, "stations": 1, "airfields": 0, "documents": 0}
    assert [(i["what"], i["time"]) for i in answer["imports"]] == [("stations", "2022-10-22T03:00:00Z")]
    text = run("store", "info")[1]
    assert "METAR              1   received 2022-10-22T03:00:00Z to 2022-10-22T03:00:00Z" in text


def test_the_store_is_decoded_anew(tmp_path: Path, run: Run) -> None:
    (tmp_path / "a.txt").write_text(f"{METAR}=\nMETAR XABC\n")
    run("collect", *NOW, str(tmp_path / "a.txt"))
    assert run("store", "redecode") == (0, "decoded 2  changed 0  refused 1\n", "")
    assert json.loads(run("store", "redecode", "--json")[1]) == {"decoded": 2, "changed": 0, "refused": 1}


def test_the_store_is_brought_up_to_date(run: Run) -> None:
    code, first, _ = run("store", "upgrade")
    assert (code, first.split(" -> ")[0]) == (0, "empty")
    assert run("store", "upgrade")[1].endswith(": already there\n")
