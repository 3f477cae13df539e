"""``refuge find --heading``: headings by compass and timed turns, in the invented country."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import CliRunner, Result

from refuge.cli import app
from refuge.cli.demo import load
from refuge.errors import InputError
from refuge.files.aircraft import load_aircraft
from refuge.packaged import packaged

Find = Callable[..., Result]


@pytest.fixture(scope="module")
def find(tmp_path_factory: pytest.TempPathFactory) -> Find:
    store = tmp_path_factory.mktemp("demo") / "refuge-demo.sqlite"
    load(str(store))

    def call(*words: str, aircraft: str = "XA-GLASS", now: str = "2026-03-10T15:00Z") -> Result:
        fixed = ["--at=44.0,-38.0", "--minimums", "XS-SCHOOL", "--altitude", "6000", "--lowest-safe", "2200"]
        return CliRunner().invoke(
            app, ["find", *fixed, "--aircraft", aircraft, "--now", now, "--store", str(store), *words]
        )

    return call


def body(result: Result) -> dict[str, Any]:
    assert result.exit_code in (0, 1, 3), result.exception
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def flown(answer: dict[str, Any]) -> list[dict[str, Any]]:
    entries = [entry for entry in answer["entries"] if entry["minutes"] is not None]
    assert entries
    return entries


def test_every_heading_is_true_less_variation_and_the_card(find: Find) -> None:
    """By hand: from the variation said, and the lines of the invented card, between which it runs straight."""
    answer = body(find("--json"))
    [said] = [note for note in answer["assumptions"] if note.startswith("headings are by compass: variation ")]
    west = float(said.split()[5])
    assert said.split()[6] == "W"
    card = load_aircraft(packaged("demo") / "aircraft" / "XA-GLASS.toml").compass_card
    assert card is not None
    assert card.steer_radios_off_deg is not None
    for entry in flown(answer):
        magnetic = (entry["heading_deg_true"] + west) % 360.0
        sector = int(magnetic // 30)
        low, high = (card.steer_radios_off_deg[i % 12] - card.for_deg_mag[i % 12] for i in (sector, sector + 1))
        wanted = magnetic + low + (high - low) * (magnetic % 30) / 30
        assert abs((entry["heading_deg_compass"] - wanted + 180) % 360 - 180) < 0.1
        assert entry["turn"] is None


def test_a_turn_from_a_true_heading(find: Find) -> None:
    answer = body(find("--json", "--heading", "270T"))
    assert answer["question"]["heading"] == {"deg": 270.0, "reference": "true"}
    for entry in flown(answer):
        change = (entry["heading_deg_true"] - 270.0 + 180.0) % 360.0 - 180.0
        assert entry["turn"]["degrees"] == pytest.approx(abs(change), abs=0.02)
        assert entry["turn"]["seconds"] == pytest.approx(abs(change) / 3.0, abs=0.02)
        assert entry["turn"]["side"] == ("right" if change > 0 else "left")


def test_a_turn_from_a_heading_by_compass_begins_at_the_true_heading_that_it_shows(find: Find) -> None:
    """268 on the card is 270 magnetic; less the variation to the west it is true."""
    answer = body(find("--json", "--heading", "268"))
    west = float(next(n for n in answer["assumptions"] if n.startswith("headings are by compass")).split()[5])
    for entry in flown(answer):
        change = (entry["heading_deg_true"] - (270.0 - west) + 180.0) % 360.0 - 180.0
        assert entry["turn"]["degrees"] == pytest.approx(abs(change), abs=0.1)


def test_the_table_names_its_headings_and_the_turn(find: Find) -> None:
    assert " comp hdg   NM " in find().stdout
    assert " comp hdg        turn   NM " in find("--heading", "270").stdout
    bare = find(aircraft="XA-GYRO").stdout
    assert " mag hdg   NM " in bare
    assert "deviation not applied: the aircraft's file has no compass" in " ".join(bare.split())


def test_the_explanation_can_be_followed_by_hand(find: Find) -> None:
    text = " ".join(find("--heading", "270", "--explain", "XCOR").stdout.split())
    for words in (
        "by compass: true ", "so magnetic ", "deviation by the card, radios off", "Turn: right ",
        "by the clock at 3 degrees a second", "19 degrees of bank at 125 kt; the compass is erratic beyond 18",
        "roll out as it reads ", "undershoot north, overshoot south, by 37 degrees at this latitude",
        "swings north while speeding up, south while slowing down",
    ):  # fmt: skip
        assert words in text, words
    assert "turning left" not in text
    both = " ".join(find("--explain", "XCOR").stdout.split())
    assert "turning right or " in both
    assert "turning left" in both


def test_outside_the_dates_of_the_model_the_answer_warns(find: Find) -> None:
    result = find(now="2031-03-10T15:00Z")
    assert result.stdout.count("WARNING: the magnetic model WMM-2025 holds from 2025 to 2030") == 1
    assert result.stdout.index("WARNING") < result.stdout.index("verdict")
    assert any(
        "WARNING: the magnetic model" in note
        for note in body(find("--json", now="2031-03-10T15:00Z"))["assumptions"]
    )
    assert "WARNING: the magnetic model" in find("--explain", "XORR", now="2031-03-10T15:00Z").stdout


@pytest.mark.parametrize("text", ["361", "-1", "east", "", "T", "nan", "270X"])
def test_what_is_no_heading_is_refused(find: Find, text: str) -> None:
    result = find(f"--heading={text}")
    assert isinstance(result.exception, InputError)
    assert result.exception.where == "--heading"
