"""``refuge expect``: what it prints, from files and from the store, and what it refuses."""

import json
from pathlib import Path
from textwrap import dedent
from typing import Any

import pytest
from click.testing import CliRunner, Result

from refuge.cli import app
from refuge.errors import InputError, MissingDataError, RefugeError

# Source: reference.md 2.8 (stations fictitious), B20-B29.
BULLETINS = """\
FTUS80 KXXX 101130
TAF KAAA 101130Z 1012/1112 18008KT P6SM SCT040
  FM101800 20012KT 5SM BR OVC025
  TEMPO 1020/1024 2SM -RA BR OVC008
  FM110200 27010KT P6SM BKN040=
METAR KAAA 101153Z 18008KT 10SM SCT040 18/12 A2992

TAF EAAA 100500Z 1006/1106 01007KT 0300 FG VV001
  BECMG 1008/1010 CAVOK
"""


@pytest.fixture
def bulletins(tmp_path: Path) -> str:
    path = tmp_path / "taf.txt"
    path.write_text(BULLETINS)
    return str(path)


def run(*words: str) -> Result:
    return CliRunner().invoke(app, ["expect", *words])


def window(start: str, end: str | None = None) -> list[str]:
    return ["--from", f"2026-10-{start}Z", "--to", f"2026-10-{end or start}Z"]


def body(result: Result) -> dict[str, Any]:
    assert result.exit_code == 0, result.output
    read: dict[str, Any] = json.loads(result.stdout)
    return read


def refused(result: Result) -> RefugeError:
    assert isinstance(result.exception, RefugeError), result.output
    return result.exception


def test_the_answer_for_a_terminal(bulletins: str) -> None:
    result = run("kaaa", *window("10T21:00"), "--bulletins", bulletins, "--now", "2026-10-10T12:00Z")
    assert result.exit_code == 0
    assert result.stderr == ""
    assert result.stdout == dedent(
        """\
        KAAA, 2026-10-10 21:00Z to 2026-10-10 21:00Z, from forecasts alone

          prevailing: MVFR
            ceiling 2,500 ft, visibility 5 SM, wind 200/12 kt, BR
          adverse: IFR
            ceiling 800 ft, visibility 2 SM, wind 200/12 kt, BR -RA

        Each state that may be met:
          FM101800, 101800Z to 110200Z: MVFR
            ceiling 2,500 ft, visibility 5 SM, wind 200/12 kt, BR
          TEMPO 1020/1024, 102000Z to 110000Z: IFR
            ceiling 800 ft, visibility 2 SM, wind 200/12 kt, -RA BR

        Why:
          forecast of 101130Z, valid 101200Z to 111200Z

        Planning aid. Not certified for navigation; weather, data and durations may be wrong or late. The
        flight manual, current regulations, and the judgement of the pilot in command and a qualified
        instructor come first.
        """
    )


def test_a_window_past_the_end_is_not_complete(bulletins: str) -> None:
    asked = ["KAAA", *window("11T10:30", "11T12:30"), "--bulletins", bulletins, "--now", "2026-10-10T12:00Z"]
    text = run(*asked).stdout
    assert "NOT COMPLETE: a part of this time has no forecast, and counts as unknown." in text
    answer = body(run(*asked, "--json"))
    assert answer["complete"] is False
    assert (answer["prevailing"]["category"], answer["adverse"]["category"]) == ("VFR", "UNKNOWN")
    assert answer["adverse"]["ceiling"]["state"] == "unknown"


def test_the_keys_of_the_object(bulletins: str) -> None:
    """Source: interface.md, `refuge expect` and 'Elements'."""
    answer = body(
        run("EAAA", *window("10T09:00"), "--bulletins", bulletins, "--received", "2026-10-10T05:05Z", "--json")
    )
    assert {"station", "from", "to", "prevailing", "adverse", "complete", "groups_used", "why"} <= answer.keys()
    for name in ("prevailing", "adverse"):
        assert {"ceiling", "visibility", "wind", "weather", "category"} <= answer[name].keys()
        assert answer[name]["category"] == "LIFR"
    assert (answer["from"], answer["to"]) == ("2026-10-10T09:00:00Z", "2026-10-10T09:00:00Z")
    assert answer["complete"] is True
    assert answer["groups_used"] == ["base", "BECMG 1008/1010"]


def test_before_the_validity_there_is_an_answer_and_it_is_unknown(bulletins: str) -> None:
    """Source: reference.md 2.8, B26."""
    answer = body(
        run("KAAA", *window("10T11:00"), "--bulletins", bulletins, "--now", "2026-10-10T12:00Z", "--json")
    )
    assert (answer["prevailing"]["category"], answer["adverse"]["category"]) == ("UNKNOWN", "UNKNOWN")
    assert answer["complete"] is False
    assert answer["why"] == ["no forecast before 101200Z: unknown there"]


@pytest.mark.parametrize("as_json", [True, False])
def test_no_forecast_at_all_is_data_missing(bulletins: str, as_json: bool) -> None:
    words = ["KZZZ", *window("10T21:00"), "--bulletins", bulletins, "--now", "2026-10-10T12:00Z"]
    result = run(*words, *(["--json"] if as_json else []))
    error = refused(result)
    assert isinstance(error, MissingDataError)
    assert error.exit_code == 3
    assert "KZZZ" in str(error)
    assert "UNKNOWN" in result.stdout


def test_what_was_received_later_than_now_is_not_used(bulletins: str) -> None:
    words = ["KAAA", *window("10T21:00"), "--bulletins", bulletins, "--now", "2026-10-10T12:00Z"]
    assert body(run(*words, "--received", "2026-10-10T12:00Z", "--json"))["complete"] is True
    assert refused(run(*words, "--received", "2026-10-10T12:01Z")).exit_code == 3


def test_an_amendment_in_a_second_file_stands(bulletins: str, tmp_path: Path) -> None:
    amended = tmp_path / "amended.txt"
    amended.write_text("TAF AMD KAAA 101900Z 1019/1112 20012KT 1/4SM FG VV001")
    answer = body(
        run(
            "KAAA", *window("10T18:30", "10T21:00"), "--bulletins", bulletins, "--bulletins", str(amended),
            "--now", "2026-10-10T19:05Z", "--json",
        )
    )  # fmt: skip
    assert answer["prevailing"]["category"] == "LIFR"
    assert answer["complete"] is True
    assert answer["groups_used"] == ["base", "FM101800"]


@pytest.mark.parametrize(
    "text",
    ["TAF AMD KAAA 101900Z 1019/1112 CNL", "TAF KAAA 101900Z NIL", "TAF AMD KAAA 101900Z garbled beyond reading"],
    ids=["cancelled", "nil", "unreadable"],
)
def test_nothing_older_comes_back(bulletins: str, tmp_path: Path, text: str) -> None:
    """An amendment that cannot be read may be the one that makes everything worse."""
    later = tmp_path / "later.txt"
    later.write_text(text)
    result = run(
        "KAAA", *window("10T20:00"), "--bulletins", bulletins, "--bulletins", str(later),
        "--now", "2026-10-10T19:05Z", "--json",
    )  # fmt: skip
    answer = body(result)
    assert (answer["prevailing"]["category"], answer["complete"]) == ("UNKNOWN", False)
    assert ("note:" in result.stderr) == ("garbled" in text)
    assert answer["why"][0].startswith("forecast of 101900Z (")


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (["--from", "2026-10-10T21:00", "--to", "2026-10-10T22:00Z"], "zone"),
        (["--from", "2026-10-10T22:00Z", "--to", "2026-10-10T21:00Z"], "before it starts"),
        (["--from", "tonight", "--to", "2026-10-10T21:00Z"], "not a time"),
        (
            ["--from", "2026-10-10T21:00Z", "--to", "2026-10-10T21:00Z", "--bulletins", "no/such/file"],
            "no such file",
        ),
    ],
)
def test_what_is_refused(words: list[str], reason: str) -> None:
    error = refused(run("KAAA", *words))
    assert isinstance(error, InputError)
    assert error.exit_code == 2
    assert reason in str(error)


def test_a_station_without_a_forecast_is_told_from_a_store_without_one(bulletins: str, tmp_path: Path) -> None:
    error = refused(run("KAAB", *window("10T21:00"), "--bulletins", bulletins, "--now", "2026-10-10T12:00Z"))
    assert isinstance(error, MissingDataError)
    assert error.exit_code == 3
    assert "no forecast of KAAB was received by 2026-10-10T12:00Z; did you mean KAAA?" in str(error)
    assert "these files had forecasts of " in str(error)
    store = str(tmp_path / "empty.sqlite")
    CliRunner().invoke(app, ["store", "upgrade", "--store", store])
    error = refused(run("KAAA", *window("10T21:00"), "--store", store, "--now", "2026-10-10T12:00Z"))
    assert error.exit_code == 3
    assert "the store had no forecast at all by then" in str(error)


def test_from_the_store_the_answer_is_the_same(bulletins: str, tmp_path: Path) -> None:
    store = str(tmp_path / "store.sqlite")
    collected = CliRunner().invoke(
        app, ["collect", bulletins, "--store", store, "--now", "2026-10-10T12:00Z"], catch_exceptions=False
    )
    assert collected.exit_code == 0, collected.output
    words = ["KAAA", *window("10T20:00", "10T22:00"), "--now", "2026-10-10T12:00Z", "--json"]
    assert body(run(*words, "--store", store)) == body(run(*words, "--bulletins", bulletins))
    earlier = run("KAAA", *window("10T21:00"), "--now", "2026-10-10T11:59Z", "--store", store)
    assert refused(earlier).exit_code == 3
