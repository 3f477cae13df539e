"""`refuge airfield`, `refuge import areas` and `--from nasr`, and the demo's night, as typed."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from refuge.cli import app
from refuge.cli.demo import AIRCRAFT, AT, MINIMUMS, NIGHT_NOW
from refuge.cli.demo import load as load_demo

FIND = [
    f"--at={AT}", "--aircraft", AIRCRAFT, "--minimums", MINIMUMS, "--altitude", "6000", "--lowest-safe", "2200",
    "--now", NIGHT_NOW, "--torch",
]  # fmt: skip


@pytest.fixture(scope="module")
def night_store(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = str(tmp_path_factory.mktemp("night") / "refuge-demo.sqlite")
    load_demo(path, night=True)
    return path


def run(*arguments: str) -> tuple[int, str]:
    result = CliRunner().invoke(app, list(arguments), catch_exceptions=True)
    return result.exit_code, result.stdout


def verdicts(store: str, *more: str) -> dict[str, tuple[str, str]]:
    _, out = run("find", "--store", store, *FIND, "--json", *more)
    return {
        e["airfield"]["id"]: (e["verdict"], e["checks"]["light"]["verdict"]) for e in json.loads(out)["entries"]
    }


def test_a_lit_a_radio_lit_and_a_dark_field_differ(night_store: str) -> None:
    without, with_radio = verdicts(night_store), verdicts(night_store, "--handheld")
    lit, by_radio, dark, until = "XSIL", "XLUM", "XV07", "XCOR"
    assert without[lit] == with_radio[lit] == ("meets", "meets")
    assert (without[by_radio], with_radio[by_radio]) == (("misses", "misses"), ("meets", "meets"))
    assert without[dark][1] == with_radio[dark][1] == "misses"
    assert (without[until], with_radio[until]) == (("misses", "misses"), ("meets", "meets"))


def test_the_night_is_told() -> None:
    code, out = run("demo", "--night")
    assert code == 0
    for words in ("Lit:", "a radio turns its lights on", "no lights at all", "light gun; own aircraft unlit"):
        assert words in out


def test_explain_goes_from_evidence_to_verdict_and_to_what_to_do(night_store: str) -> None:
    _, out = run("find", "--store", night_store, *FIND, "--explain", "XSIL")
    for words in ("Instruments:", "Way:", "Times:", "Held to: ceiling 4,000 ft", "light      meets", "best runway",
                  "TAF XSIL", "What to do there:", "steady green", "lowest safe height"):  # fmt: skip
        assert words in out, words


def test_what_is_known_of_a_field_and_from_where(night_store: str) -> None:
    code, out = run("airfield", "xcor", "--store", night_store)
    assert code == 0
    assert "burn from dusk to 2030 local without a radio, then a radio turns them on [invented for the demo]" in out
    body = json.loads(run("airfield", "XSIL", "--store", night_store, "--json")[1])
    assert body["tower"]["hours_local"] == ["daily 0600-2200"]
    assert (body["lights"]["without_radio"], body["private"], body["time_zone"]) == (
        "dusk_to_dawn",
        None,
        "Etc/GMT+2",
    )
    assert [end["ident"] for end in body["runways"][0]["ends"]] == ["10", "28"]
    assert "private   unknown (the source does not say" in out
    unknown = CliRunner().invoke(app, ["airfield", "XCOS", "--store", night_store])
    assert "is no airfield of the store; did you mean XCOR?" in str(unknown.exception)


def test_areas_change_the_answer(tmp_path: Path) -> None:
    store = str(tmp_path / "refuge-demo.sqlite")
    load_demo(store, night=True)
    ring = [[-36.2, 43.9], [-35.7, 43.9], [-35.7, 44.3], [-36.2, 44.3], [-36.2, 43.9]]
    shape = {"type": "Polygon", "coordinates": [ring]}
    feature = {"type": "Feature", "properties": {"name": "XP-1", "kind": "prohibited"}, "geometry": shape}
    path = tmp_path / "areas.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}), encoding="utf-8")
    code, out = run("import", "areas", str(path), "--store", store, "--now", NIGHT_NOW, "--json")
    assert code == 0
    assert json.loads(out)["reports"][0]["kept"] == {"prohibited": 1}
    _, found = run("find", "--store", store, *FIND, "--json")
    checks = {e["airfield"]["id"]: e["checks"]["airspace"] for e in json.loads(found)["entries"]}
    assert checks["XSIL"]["verdict"] == "misses"
    assert "prohibited area XP-1 (areas.geojson)" in checks["XSIL"]["why"]
    assert checks["XORR"]["verdict"] == "meets"


def test_the_faas_tables_go_over_the_store(shared_data: Path, tmp_path: Path) -> None:
    store = str(tmp_path / "store.sqlite")
    folder = shared_data / "airfields"
    assert (
        run("import", "airfields", str(folder / "airports.csv"), str(folder / "runways.csv"), "--store", store)[0]
        == 0
    )
    samples = [str(path) for path in sorted((folder / "nasr").glob("sample_APT_[BR]*.csv"))]
    code, out = run("import", "airfields", "--from", "nasr", *samples, "--store", store, "--json")
    assert code == 0
    report = json.loads(out)["reports"][0]
    assert report["read"]["sites"] == 15
    assert any("conflict" in finding["reason"] for finding in report["findings"])
    body = json.loads(run("airfield", "KBFZ", "--store", store, "--json")[1])
    assert (body["lights"]["without_radio"], body["lights"]["until_local"]) == ("until", "23:00")
    assert body["time_zone"] == "America/Chicago"


def test_what_an_import_takes_away_is_said(tmp_path: Path, root: Path) -> None:
    store = str(tmp_path / "store.sqlite")
    tables = [str(root / "fixtures" / "gazetteer" / f"{name}.csv") for name in ("airports", "runways")]
    assert run("import", "airfields", *tables, "--store", store)[0] == 0
    result = CliRunner().invoke(app, ["import", "airfields", *tables, "--store", store])
    assert "FAA's tables said is gone" not in result.stderr
    site = '"2025/09/04","1.","A","ZZ9","US"'
    header = (
        '"EFF_DATE","SITE_NO","SITE_TYPE_CODE","ARPT_ID","COUNTRY_CODE","ARPT_NAME","FACILITY_USE_CODE","LAT_DECIMAL",'
        '"LONG_DECIMAL","ELEV","ARPT_STATUS","LGT_SKED","BCN_LGT_SKED","TWR_TYPE_CODE","ICAO_ID"'
    )
    faa = tmp_path / "APT_BASE.csv"
    faa.write_text(
        f'{header}\n{site},"MADE UP","PU","-60.0","-120.0","10","O","","","NON-ATCT",""\n', encoding="utf-8"
    )
    assert run("import", "airfields", "--from", "nasr", str(faa), "--store", store)[0] == 0
    assert run("airfield", "ZZ9", "--store", store)[0] == 0
    result = CliRunner().invoke(app, ["import", "airfields", *tables, "--store", store])
    assert "FAA's tables said is gone" in result.stderr
