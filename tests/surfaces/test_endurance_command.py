"""`refuge endurance`: the whole text, the JSON of interface.md, and exit codes."""

import json
import re
from pathlib import Path
from textwrap import dedent
from typing import Any

import pytest

from refuge.cli import main
from refuge.flight.caution import CAUTION

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
D40 = str(FIXTURES / "aircraft" / "D40.toml")
D43 = str(FIXTURES / "aircraft" / "D43.toml")
NOW = ("--now", "2026-02-15T12:00Z")


def run(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as caught:
        main(["endurance", *args])
    out, err = capsys.readouterr()
    assert isinstance(caught.value.code, int)
    return caught.value.code, out, err


def answer(capsys: pytest.CaptureFixture[str], *args: str) -> Any:
    code, out, _ = run(capsys, *args, *NOW, "--json")
    assert code == 0
    return json.loads(out)


def test_the_whole_text(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, str(FIXTURES / "aircraft" / "C5.toml"), *NOW)
    assert (code, err) == (0, "")
    assert out == dedent(
        """\
        C5 (test aircraft C5), failure: alternator

        Information lasts 25 min (attitude: main_battery at its end)
        Budget 5 min: less 5 min to recognise and 15 min of margin

        How long each function lasts:
                                         0                             15                            30 min
          attitude       until 25 min    ==================================================..........
          airspeed       not limited     ===========================================================>
          altitude       not limited     ===========================================================>
          heading        not limited     ===========================================================>
          navigation     until 25 min    ==================================================..........
          radio          until 25 min    ==================================================..........
          transponder    until 25 min    ==================================================..........
          pitot_heat     until 25 min    ==================================================..........
          panel_light    until 25 min    ==================================================..........
          landing_light  until 25 min    ==================================================..........
          flaps          until 25 min    ==================================================..........
          gear           absent
          engine         not limited,    ===========================================================>
                         fuel not given
          fuel_feed      not limited,    ===========================================================>
                         fuel not given
          (= works  . lost  ? not known  > further than shown)

        What happens:
          from  to  event                                   still works
          0     5   failure: alternator                     attitude, airspeed, altitude, heading,
                                                            navigation, radio, transponder, pitot heat,
                                                            panel light, landing light, flaps, engine, fuel
                                                            feed
          5     25  recognised; load shed                   the same
          25        main battery empty; lost: attitude,     airspeed, altitude, heading, engine, fuel feed
                    navigation, radio, transponder, pitot
                    heat, panel light, landing light,
                    flaps

        Other failures:
          - all: information lasts 0 min (attitude: the failure takes it at once)
          - display: information lasts 0 min (attitude: the failure takes it at once)

        What would change it:
          - shed 5 min faster: +0.0 min

        Warnings:
          - attitude hangs on a single source: main_battery; its own failure is another case
          - no temperature given: nothing is taken off for cold (--oat, --soak)
          - taken as dry or warmer than 5 C: pitot heat is not asked for (--oat, --icing)

        Assumptions:
          - recognition 5 min (with a warning light)
          - load shed 5 min after the failure
          - main_battery: 25 min from the failure of its feed (recognition and shedding included;
            reference.md 3.6, case C5)
          - fuel not given: it is taken to outlast the batteries, and nothing engine-driven is counted

        Planning aid. Not certified for navigation; weather, data and durations may be wrong or late. The
        flight manual, current regulations, and the judgement of the pilot in command and a qualified
        instructor come first.
        """
    )


def test_the_json_of_the_interface(capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, D40)
    assert {
        "information_min",
        "nominal_min",
        "limited_by",
        "budget_min",
        "dependable",
        "functions",
        "phases",
        "assumptions",
        "warnings",
    } <= found.keys()
    # D40, common practice (reference.md 4.5): 30 + 60; budget by method.md 8, C2.
    assert (found["information_min"], found["nominal_min"], found["budget_min"]) == (90, 90, 70)
    assert (found["limited_by"], found["dependable"], found["caution"]) == ("attitude", True, CAUTION)
    # interface.md, in its order
    assert list(found["functions"]) == [
        "attitude",
        "airspeed",
        "altitude",
        "heading",
        "navigation",
        "radio",
        "transponder",
        "pitot_heat",
        "panel_light",
        "landing_light",
        "flaps",
        "gear",
        "engine",
        "fuel_feed",
    ]
    assert found["functions"]["attitude"] == {"state": "until", "min": 90}
    assert found["functions"]["airspeed"] == {"state": "not_limited", "min": None}
    assert found["functions"]["gear"] == {"state": "absent", "min": None}
    assert {"from_min", "to_min", "works", "lost", "event"} <= found["phases"][0].keys()
    assert [phase["from_min"] for phase in found["phases"]] == [0, 5, 30, 90]
    assert found["phases"][-1]["to_min"] is None


def test_a_margin_of_thirty_leaves_what_common_practice_plans(capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, D40, "--margin", "30")
    # Common practice, no source: 90 less 30 is 60, recognition counted apart.
    assert found["budget_min"] + found["recognition_min"] == 60


def test_engine_driven_needs_the_fuel(capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, D43)
    assert (found["information_min"], found["budget_min"], found["dependable"]) == (None, None, False)
    assert found["functions"]["attitude"] == {"state": "unknown", "min": None}
    found = answer(capsys, D43, "--fuel-min", "180")
    assert (found["information_min"], found["dependable"]) == (135, True)  # method.md 8
    _, out, _ = run(capsys, D43, *NOW)
    assert "Information lasts: UNKNOWN" in out
    assert "--fuel-min" in out


def test_what_cannot_be_relied_upon_is_said_first(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, D40, "--now", "2024-02-15T12:00Z")  # before the batteries were new
    assert out.splitlines()[2] == "NOT DEPENDABLE: nothing may be planned on this endurance"


def test_minutes_are_rounded_down(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, D40, *NOW, "--soak=-2")
    found = answer(capsys, D40, "--soak=-2")
    assert found["information_min"] % 1 > 0.5
    assert f"Information lasts {int(found['information_min'])} min" in out


def test_every_option_is_heard(capsys: pytest.CaptureFixture[str]) -> None:
    assert answer(capsys, D40, "--failure", "all")["information_min"] == 60
    assert answer(capsys, D40, "--oat", "-10")["limited_by"] == "airspeed"
    assert answer(capsys, D40, "--icing")["information_min"] == 30
    assert answer(capsys, D40, "--night")["information_min"] == 30
    assert answer(capsys, D40, "--night", "--torch")["information_min"] == 90


GLASS = str(FIXTURES / "demo" / "aircraft" / "XA-GLASS.toml")
PAIR = str(FIXTURES / "demo" / "aircraft" / "XA-PAIR.toml")
GYRO = str(FIXTURES / "demo" / "aircraft" / "XA-GYRO.toml")


def test_what_is_not_shed_costs_time(capsys: pytest.CaptureFixture[str]) -> None:
    shed = answer(capsys, GLASS)["information_min"]
    assert answer(capsys, GLASS, "--shed-min", "15")["information_min"] < shed
    assert answer(capsys, GLASS, "--not-shed", "second_radio")["information_min"] < shed
    assert answer(capsys, GLASS, "--not-shed", "all")["information_min"] < shed
    assert answer(capsys, GLASS, "--flown", "60")["information_min"] == shed  # no box of it warms


def test_other_failures_and_small_changes_are_in_the_json(capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, GLASS, "--oat", "8")
    assert list(found["other_failures"]) == ["all", "display"]
    assert found["other_failures"]["all"].keys() == {"information_min", "limited_by", "limited_why", "dependable"}
    changes = {change["what"]: change["minutes"] for change in found["sensitivity"]}
    assert next(iter(changes)) == "a degree colder"
    assert changes["a degree colder"] < 0 < changes["shed 5 min faster"]
    assert max(minutes for what, minutes in changes.items() if what.startswith("an ampere less")) > 0
    gyro = answer(capsys, GYRO, "--fuel-min", "200")
    assert list(gyro["other_failures"]) == ["all", "pump"]
    assert gyro["other_failures"]["pump"]["information_min"] == 0


def test_two_aircraft_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, GLASS, "--compare", PAIR, *NOW)
    lines = [line.split() for line in out.splitlines()]
    assert lines[0] == ["XA-GLASS", "XA-PAIR"]
    one, two = answer(capsys, GLASS), answer(capsys, PAIR)
    information = [str(int(each["information_min"])) for each in (one, two)]
    assert lines[1] == ["information", information[0], "min", information[1], "min"]
    assert any(line[:2] == ["attitude", "1"] for line in lines)
    assert one["compared"] is None
    both = answer(capsys, GLASS, "--compare", PAIR)
    assert both.keys() == one.keys()
    assert both["information_min"] == one["information_min"]
    assert both["compared"]["name"] == "XA-PAIR"
    assert both["compared"]["information_min"] == two["information_min"]


def test_one_aircraft_in_two_states(capsys: pytest.CaptureFixture[str]) -> None:
    change = (
        "soak=-15,oat=6,shed=15,fuel=300,flown=10,night,torch,icing,failure=all,not-shed=second_radio+transponder"
    )
    both = answer(capsys, GLASS, "--compare", change)
    args = "--soak=-15 --oat=6 --shed-min=15 --fuel-min=300 --flown=10 --night --torch --icing --failure=all"
    alone = answer(capsys, GLASS, *args.split(), "--not-shed=second_radio", "--not-shed=transponder")
    assert both["compared"]["functions"] == alone["functions"]
    assert both["compared"]["name"] == change


def test_a_picture_says_under_which_conditions_it_holds(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Whoever finds the picture alone must be able to tell what it is of, and what it leaves out."""
    path = tmp_path / "bars.svg"
    run(capsys, GLASS, "--oat=8", "--soak=-3", "--night", "--torch", "--not-shed=all", "--picture", str(path), *NOW)
    drawn = " ".join(re.sub("<[^>]*>", " ", path.read_text(encoding="utf-8")).split())
    text = run(capsys, GLASS, "--oat=8", "--soak=-3", "--night", "--torch", "--not-shed=all", *NOW)[1]
    assert " ".join(text.splitlines()[2:4]) in drawn  # what limits, before derating, and the budget
    assert "XA-GLASS (Glass tourer), failure: alternator, on 15 Feb 2026" in drawn
    assert "outside +8 C; stood in -3 C; by night, a torch aboard; fuel not given; NOT shed: all" in drawn
    assert "Warnings: " in drawn
    assert "standby_attitude_battery is taken as armed and charged" in drawn
    assert CAUTION in drawn
    assert drawn.count("not limited, fuel not given") == 2


def test_the_mark_of_the_budget_does_not_cross_the_word_of_the_other(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Words lie over lines: in an SVG they come later."""
    path = tmp_path / "bars.svg"
    run(capsys, GLASS, "--night", "--picture", str(path), *NOW)
    drawn = path.read_text(encoding="utf-8")
    assert drawn.rindex("stroke-dasharray") < drawn.index(">recognised<")


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_pictures_are_drawn_alike_each_time(capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str) -> None:
    first, second = tmp_path / f"one.{kind}", tmp_path / f"two.{kind}"
    for path in (first, second):
        code, _, err = run(capsys, GYRO, "--compare", "soak=-30,icing", "--picture", str(path), *NOW)
        assert (code, err) == (0, f"note: drawn into {path}\n")
    drawn = first.read_bytes()
    assert drawn == second.read_bytes()
    assert drawn.startswith(b"\x89PNG" if kind == "png" else b"<?xml")
    if kind == "svg":
        text = drawn.decode()
        for words in (
            "XA-GYRO: Information lasts: UNKNOWN",
            "? not known",
            "lost",
            "recognised",
            "attitude",
        ):
            assert words in text
        # names.md: one hue, never the colours of traffic lights
        hues = {colour for colour in re.findall(r"#[0-9a-f]{6}", text) if colour not in {"#ffffff", "#000000"}}
        assert all(int(hue[1:3], 16) < int(hue[3:5], 16) < int(hue[5:7], 16) for hue in hues), hues


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ((GLASS, "--picture", "x.jpg"), "neither .svg nor .png"),
        ((GLASS, "--picture", "/nowhere/x.svg"), "cannot be written"),
        ((GLASS, "--compare", "soak=cold"), "is no number"),
        ((GLASS, "--compare", "wet=1"), "is no state"),
        ((GLASS, "--compare", "XX-NOWHERE"), "no aircraft file or id"),
        ((GLASS, "--not-shed", "compass"), "is nothing that XA-GLASS sheds"),
        ((GLASS, "--shed-min", "-1"), "--shed-min: -1 min cannot be"),
        ((D40, "--failure", "battery"), "is no failure"),
        ((D40, "--failure", "pump"), "no source of kind engine_drive"),
        ((D40, "--margin", "-1"), "--margin"),
        ((D40, "--margin", "nan"), "--margin"),
        ((D40, "--fuel-min", "nan"), "--fuel-min: nan"),
        ((D40, "--oat", "nan"), "--oat: nan"),
        ((D40, "--now", "2026-02-15T12:00"), "no zone"),
        (("XX-NOWHERE",), "no aircraft file or id"),
    ],
)
def test_what_is_refused(capsys: pytest.CaptureFixture[str], args: tuple[str, ...], said: str) -> None:
    code, out, err = run(capsys, *args)
    assert (code, out) == (2, "")
    assert said in err


def test_a_small_margin_is_answered_with_a_note(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, D40, "--margin", "10", *NOW)
    assert code == 0
    assert "Budget 75 min" in out
    assert err == "note: a margin of 10 min is less than the usual 15\n"
