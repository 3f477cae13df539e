"""`refuge collect` and `refuge decode` with station guidance, as a person runs them."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from pytest_httpserver import HTTPServer

from refuge.cli import main
from tests.core.weather.guidance_blocks import blend, lamp

Run = Callable[..., tuple[int, str, str]]
NOW = ("--now", "2028-02-28T23:20Z")
NBH = "/pub/data/nccf/com/blend/prod/blend.20280228/22/text/blend_nbhtx.t22z"
BLOCKS = "\n\n".join(
    [
        blend({"CIG": ["27", "-88"], "IFC": ["2", "1"], "VIS": ["100", "25"]}),
        blend({"CIG": ["5"]}).replace("XAAA", "XBBB"),
    ]
)
STATIONS = [
    {"icaoId": "XAAA", "site": "A", "lat": 1.0, "lon": 2.0, "elev": 3, "country": "XX", "siteType": ["METAR"]}
]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    monkeypatch.setenv("REFUGE_STORE", str(tmp_path / "store.sqlite"))

    def command(*args: str) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as caught:
            main(list(args))
        out, err = capsys.readouterr()
        assert isinstance(caught.value.code, int)
        return caught.value.code, out, err

    return command


def test_collect_keeps_what_is_wanted(run: Run, httpserver: HTTPServer) -> None:
    httpserver.no_handler_status_code = 404
    httpserver.expect_request("/data/cache/stations.cache.json.gz").respond_with_json(STATIONS)
    httpserver.expect_request(NBH).respond_with_data(BLOCKS, headers={"ETag": '"1"'})
    url = httpserver.url_for("")
    code, _, err = run("collect", *NOW, "nbh", "--guidance-url", url)
    assert code == 4
    assert "no station and no airfield is known" in err
    assert run("collect", *NOW, "stations", "--base-url", url)[0] == 0
    code, out, err = run("collect", *NOW, "nbh", "--guidance-url", url, "--json")
    assert (code, err) == (0, "")
    (row,) = json.loads(out)["feeds"]
    assert {name: row[name] for name in ("feed", "state", "fetched", "new", "refused")} == {
        "feed": "nbh", "state": "ok", "fetched": 1, "new": 1, "refused": 0,
    }  # fmt: skip
    info = json.loads(run("store", "info", "--json")[1])
    assert [row["count"] for row in info["bulletins"] if row["kind"] == "GUIDANCE"] == [1]


def test_one_name_for_all_products(run: Run, httpserver: HTTPServer) -> None:
    httpserver.no_handler_status_code = 404
    httpserver.expect_request("/data/cache/stations.cache.json.gz").respond_with_json(STATIONS)
    url = httpserver.url_for("")
    run("collect", *NOW, "stations", "--base-url", url)
    code, out, _ = run("collect", *NOW, "guidance", "--guidance-url", url, "--json")
    assert code == 4
    assert [row["feed"] for row in json.loads(out)["feeds"]] == ["lav", "lev", "nbh", "nbs"]


def test_a_file_of_guidance_and_reports(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "mixed.txt"
    path.write_text(f"METAR XABC 282250Z 18010KT 9999 FEW020 10/05 Q1013=\n{BLOCKS}\n", encoding="utf-8")
    code, out, _ = run("collect", *NOW, str(path), "--json")
    assert code == 0
    assert [(row["feed"].split()[-1], row["new"]) for row in json.loads(out)["feeds"]] == [
        ("METAR", 1),
        ("GUIDANCE", 2),
    ]


def test_decode_in_words(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "g.txt"
    wet = {"CIG": ["8"], "VIS": ["7"], "CCG": ["3"], "CVS": ["4"], "PPO": ["40"], "PCO": ["N"], "OBV": ["N"]}
    path.write_text(
        f"{BLOCKS}\n\n{lamp(wet)}\nXYZ   1\n\nXDDD   NAM MOS GUIDANCE    8/12/2017  1200 UTC\nHR   18\n"
    )
    code, out, _ = run("decode", str(path), "--received", "2028-02-28T23:20Z")
    assert code == 0
    calm = "wind unknown (guidance gives no wind)"
    unlikely = ", 1% of a ceiling below 1,000 ft"
    # The line that is not read may have been the chance of precipitation in the hour (P01): LAMP Card 2.7.0.
    wet_too = ", if it precipitates (unknown chance) ceiling 500 ft, visibility 2 SM"
    assert out.splitlines() == [
        "XAAA  NBH V5.0 of 2028-02-28 22:00Z",
        f"  2028-02-28 23:00Z MVFR: ceiling 2,700 ft, visibility 10 SM, {calm}, 2% of a ceiling below 1,000 ft",
        f"  2028-02-29 00:00Z IFR: ceiling none below 12,000 ft (CIG -88), visibility 2 1/2 SM, {calm}{unlikely}",
        "",
        "XBBB  NBH V5.0 of 2028-02-28 22:00Z",
        # UNKNOWN: one element is, and the other alone makes it no LIFR (interface.md, Elements)
        f"  2028-02-28 23:00Z UNKNOWN: ceiling 500 ft, visibility unknown (NBH of 282200Z gives no VIS), {calm}",
        "",
        "XCCC  LAV of 2028-02-28 22:30Z",
        f"  2028-02-28 23:00Z VFR: ceiling none below 12,000 ft (CIG 8), visibility at least 6 SM, {calm}{wet_too}",
        "  not read: XYZ (not known)",
        "",
        "XDDD  NOT READ: guidance: NAM MOS guidance is not read",
        "  XDDD NAM MOS GUIDANCE 8/12/2017 1200 UTC HR 18",
    ]


def test_decode_as_json_has_the_same_keys_for_all(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "g.txt"
    path.write_text(f"METAR XABC 282250Z 18010KT 9999 FEW020 10/05 Q1013=\n{BLOCKS}\n", encoding="utf-8")
    report, first, second = json.loads(run("decode", str(path), "--received", "2028-02-28T23:20Z", "--json")[1])
    assert list(report) == list(first) == list(second)
    assert (report["kind"], report["hours"], first["kind"], first["station"]) == ("METAR", None, "GUIDANCE", "XAAA")
    assert (first["product"], first["version"], first["time"]) == ("NBH", "5.0", "2028-02-28T22:00:00Z")
    assert (first["valid_from"], first["valid_to"]) == ("2028-02-28T23:00:00Z", "2028-02-29T00:00:00Z")
    hour = first["hours"][0]
    assert (hour["time"], hour["ceiling"]["ft_agl"], hour["category"]) == ("2028-02-28T23:00:00Z", 2700, "MVFR")
    assert hour["chances_percent"] == {
        "LIC": None, "IFC": 2, "MVC": None, "LIV": None, "IFV": None, "MVV": None,
        "wet": None, "thunder": None, "freezing": None,
    }  # fmt: skip
