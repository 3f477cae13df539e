"""`refuge decode`: the whole text, the JSON of interface.md, receipt times and exit codes."""

import io
import json
import os
import sys
from pathlib import Path
from textwrap import dedent
from typing import Any

import pytest

from refuge.cli import main

RECEIVED = ("--received", "2022-10-10T16:00Z")
REPORTS = dedent(
    """\
    SAUS70 KWBC 101600
    METAR KAAA 101553Z AUTO 18010G20KT 2SM BR OVC008 18/12 A2992 RMK AO2 CIG 005V010=
    KBBB 101553Z 18010KT 10SM FEW020 XYZ
    KXXX is closed
    METAR EAAA 101550Z VRB02KT CAVOK 18/12 Q1013 NOSIG
    METAR KDDD 101553Z NIL

    TAF AMD EGGG 101100Z 1012/1112 00000KT 0800 FG VV/// PROB30 TEMPO 1014/1018 M1/4SM BKN01 BECMG 1020/1022 NSW
         FM110600 27010G20KT P6SM SKC AMD NOT SKED=
    TAF KCCC 101130Z NIL=
    """
)


def run(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as caught:
        main(["decode", *args])
    out, err = capsys.readouterr()
    assert isinstance(caught.value.code, int)
    return caught.value.code, out, err


@pytest.fixture
def reports(tmp_path: Path) -> str:
    path = tmp_path / "reports.txt"
    path.write_text(REPORTS, encoding="utf-8")
    return str(path)


def test_the_whole_text(capsys: pytest.CaptureFixture[str], reports: str) -> None:
    code, out, err = run(capsys, reports, *RECEIVED)
    assert (code, err) == (0, "")
    assert out == dedent(
        """\
        KAAA  METAR 2022-10-10 15:53Z  AUTO  IFR
          reported IFR: ceiling 800 ft, visibility 2 SM, wind 180/10 kt gusting 20, weather BR
          at worst IFR: ceiling 500 ft, visibility 2 SM, wind 180/10 kt gusting 20, weather BR

        KBBB  METAR 2022-10-10 15:53Z  UNKNOWN
          reported VFR: ceiling none (FEW020), visibility 10 SM, wind 180/10 kt
          at worst UNKNOWN: ceiling unknown (not read: XYZ), visibility unknown (not read: XYZ, 10 SM at best), wind 180/10 kt
          not read: XYZ

        KXXX  NOT READ: no station and time (ddhhmmZ) at the start
          KXXX is closed

        EAAA  METAR 2022-10-10 15:50Z  VFR
          ceiling none below 5,000 ft (CAVOK), visibility at least 6.2 SM, wind variable/2 kt
          no significant change expected for two hours

        KDDD  METAR 2022-10-10 15:53Z  NIL: no report was made

        EGGG  TAF issued 2022-10-10 11:00Z, valid 2022-10-10 12:00Z to 2022-10-11 12:00Z  amended
          BASE 2022-10-10 12:00Z to 2022-10-11 06:00Z: visibility 1/2 SM, ceiling unknown (sky hidden, vertical visibility not measured (VV///)), wind calm, weather FG
          TEMPO 30% 2022-10-10 14:00Z to 2022-10-10 18:00Z: visibility less than 1/4 SM, NOT READ BKN01
          BECMG 2022-10-10 20:00Z to 2022-10-10 22:00Z: weather ends
          FM 2022-10-11 06:00Z to 2022-10-11 12:00Z: visibility at least 6 SM, ceiling none (SKC), wind 270/10 kt gusting 20
          amendments are not scheduled

        KCCC  TAF issued 2022-10-10 11:30Z  NIL: no forecast was made
        """  # noqa: E501 - lines as printed
    )


def test_json_is_one_object_a_report_in_input_order(capsys: pytest.CaptureFixture[str], reports: str) -> None:
    """interface.md, `refuge decode`."""
    code, out, err = run(capsys, reports, *RECEIVED, "--json")
    assert (code, err) == (0, "")
    found: list[dict[str, Any]] = json.loads(out)
    assert [record["station"] for record in found] == ["KAAA", "KBBB", "KXXX", "EAAA", "KDDD", "EGGG", "KCCC"]
    assert [record["kind"] for record in found] == ["METAR", "METAR", None, "METAR", "METAR", "TAF", "TAF"]
    assert len({tuple(record) for record in found}) == 1
    first, second, bad, clear, nil, forecast, no_forecast = found
    assert first["time"] == "2022-10-10T15:53:00Z"
    assert (first["ceiling"]["ft_agl"], first["adverse"]["ceiling"]["ft_agl"]) == (800, 500)
    assert first["wind"] | {"dir_deg_true": 180, "speed_kt": 10, "gust_kt": 20, "variable": False} == first["wind"]
    assert first["remarks"] == "AO2 CIG 005V010"
    assert (second["unread"], second["category"], second["adverse"]["category"]) == (["XYZ"], "VFR", "UNKNOWN")
    assert bad["error"]
    assert clear["ceiling"]["none_below_ft"] == 5000
    assert (nil["nil"], nil["error"], nil["category"]) == (True, None, "UNKNOWN")
    assert (forecast["amended"], forecast["not_scheduled"]) == (True, True)
    assert (forecast["valid_from"], forecast["valid_to"]) == ("2022-10-10T12:00:00Z", "2022-10-11T12:00:00Z")
    assert [(g["kind"], g["from"], g["probability"], g["category"]) for g in forecast["groups"]] == [
        ("BASE", "2022-10-10T12:00:00Z", None, "LIFR"),
        ("TEMPO", "2022-10-10T14:00:00Z", 30, None),
        ("BECMG", "2022-10-10T20:00:00Z", None, None),
        ("FM", "2022-10-11T06:00:00Z", None, "VFR"),
    ]
    assert (no_forecast["nil"], no_forecast["error"], no_forecast["groups"]) == (True, None, [])


def test_receipt_is_the_files_time(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "old.txt"
    path.write_text("KAAA 312350Z 18010KT 10SM CLR", encoding="utf-8")
    os.utime(path, (1_640_995_800, 1_640_995_800))  # 2022-01-01T00:10Z
    code, out, _ = run(capsys, str(path), "--json")
    assert code == 0
    assert json.loads(out)[0]["time"] == "2021-12-31T23:50:00Z"


def test_standard_input(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    stdin = io.TextIOWrapper(io.BytesIO(b"KAAA 101553Z 18010KT 10SM CLR \xff"))
    monkeypatch.setattr(sys, "stdin", stdin)
    code, out, _ = run(capsys, *RECEIVED, "--json")
    assert code == 0
    assert json.loads(out)[0]["unread"] == ["\ufffd"]


def test_no_report(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "empty.txt"
    path.write_text("SAUS70 KWBC 101600\n", encoding="utf-8")
    code, out, err = run(capsys, str(path), "--json")
    assert (code, out) == (2, "[]\n")
    assert f"{path}: no report found" in err
    assert run(capsys, str(path))[:2] == (2, "")


def test_what_holds_no_report_is_shown_and_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A name, a letter: nothing in them is a station with a time. One report among them is an answer."""
    path = tmp_path / "letter.txt"
    path.write_text("Dear pilot,\nthe weather is fine.\n", encoding="utf-8")
    code, out, err = run(capsys, str(path), *RECEIVED)
    assert code == 2
    assert "NOT READ" in out
    assert "no report found" in err
    with path.open("a", encoding="utf-8") as file:
        file.write("\nKAAA 101553Z 18010KT 1/8SM FG VV001\n")
    code, out, err = run(capsys, str(path), *RECEIVED)
    assert (code, err) == (0, "")
    assert "NOT READ" in out
    assert "visibility 1/8 SM" in out


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("/nowhere/reports.txt",), "cannot be read"),
        (("-", "--received", "2022-10-10T16:00"), "has no zone"),
        (("-", "--received", "today"), "is not a time"),
    ],
)
def test_bad_input_is_refused_with_its_reason(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...], says: str
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"")))
    code, out, err = run(capsys, *args)
    assert (code, out) == (2, "")
    assert says in err


def test_a_file_that_is_no_text_is_refused_before_it_is_shown(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "demo.sqlite"
    path.write_bytes(b"SQLite format 3\x00\x10\x00")
    code, out, err = run(capsys, str(path))
    assert (code, out) == (2, "")
    assert err == f"refuge: {path}: is no text file - name a file of reports\n"


def test_nothing_unprintable_reaches_the_terminal(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "odd.txt"
    path.write_bytes(b"METAR KAAA \x1b[2J\x07 nothing\n")
    out = run(capsys, str(path), *RECEIVED)[1]
    assert "KAAA ?[2J? nothing" in out


def test_a_dispute_and_a_trend_in_words(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "dispute.txt"
    path.write_text("NFTF 101500Z COR 07004 KT 9999 FEW006 BKN120 25/22 Q1017 TEMPO ////\n", encoding="utf-8")
    code, out, _ = run(capsys, str(path), *RECEIVED)
    assert code == 0
    assert "NFTF  METAR 2022-10-10 15:00Z  corrected  VFR" in out
    assert "  disputed wind: 070 4 kt here, 070 8 kt by the second opinion" in out
    assert (
        "  trend TEMPO 2022-10-10 15:00Z to 2022-10-10 17:00Z: visibility unknown (visibility not reported (////))"
        in out
    )
