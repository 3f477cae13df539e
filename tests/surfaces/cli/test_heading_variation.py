"""``refuge heading``: the variation given, or taken from the model where and when one is."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from refuge.cli import app
from refuge.cli.demo import load
from refuge.errors import InputError
from refuge.files.places import load_places
from refuge.packaged import packaged

LEG = ("--track", "090", "--tas", "120", "--wind", "045/40", "--distance", "60")
"""E1, E10: FAA-H-8083-25, chapter 16 (WCA -14, groundspeed 88); 40.75 min computed by hand."""

NO_CARD = "no deviation given: the compass heading is the magnetic one (--deviation, from the card)"


def run(*words: str) -> Result:
    return CliRunner().invoke(app, ["heading", *LEG, *words], catch_exceptions=True)


def body(*words: str) -> dict[str, Any]:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_without_variation_and_place_magnetic_is_true() -> None:
    found = body()
    assert found["heading_deg_mag"] == found["heading_deg_true"]
    assert found["variation_deg_e"] == 0.0


def test_the_variation_of_a_place_and_day() -> None:
    """43 N 93 E at 65 km, 2025.0: 0.50 E (official test values); lower down a tenth of a degree at most."""
    found = body("--at", "43N,93E", "--now", "2025-01-01T00:00Z")
    assert found["variation_deg_e"] == pytest.approx(0.50, abs=0.1)
    assert found["heading_deg_true"] - found["heading_deg_mag"] == pytest.approx(
        found["variation_deg_e"], abs=0.011
    )
    assert found["notes"] == [f"variation {found['variation_deg_e']:.1f} E (WMM-2025)", NO_CARD]


def test_a_variation_and_a_place_are_not_guessed_between() -> None:
    refused = run("--at", "43N,93E", "--variation", "W6").exception
    assert isinstance(refused, InputError)
    assert "each gives a variation" in str(refused)


def test_a_variation_given_counts() -> None:
    found = body("--variation", "W6", "--deviation", "0")
    assert found["variation_deg_e"] == -6.0
    assert found["notes"] == []
    assert body("--variation", "6w")["variation_deg_e"] == -6.0


def test_a_heading_is_called_what_is_known_of_it() -> None:
    """True alone; with variation magnetic too; by compass only with the card's deviation, be it 0."""
    # E1: WCA -14, so 076 true (076.4); W6 makes it 082, a correction of 2 degrees 084 (arithmetic).
    assert run().stdout.startswith("heading 076 true (WCA -13.6)")
    assert run("--variation", "W6").stdout.startswith("heading 076 true, 082 magnetic (WCA")
    card = run("--variation", "W6", "--deviation", "2").stdout
    assert card.startswith("heading 076 true, 082 magnetic, 084 compass (WCA")
    assert "082 magnetic, 082 compass" in run("--variation", "W6", "--deviation", "0").stdout


def test_outside_the_dates_the_answer_warns() -> None:
    result = run("--at", "43N,93E", "--now", "2022-10-22T03:00Z")
    assert result.exit_code == 0
    assert "WARNING: the magnetic model WMM-2025 holds from 2025 to 2030" in result.stdout


def test_at_the_magnetic_pole_the_heading_is_true_only() -> None:
    result = run("--at", "86N,140E", "--now", "2026-03-10T15:00Z")
    assert result.stdout.startswith("heading 076 true (WCA -13.6)")
    assert "no compass holds here" in result.stdout
    assert " compass (" not in result.stdout
    found = body("--at", "86N,140E", "--now", "2026-03-10T15:00Z")
    assert (found["heading_deg_mag"], found["heading_deg_compass"], found["variation_deg_e"]) == (None, None, None)


@pytest.mark.parametrize(
    ("words", "where"),
    [
        (("--variation", "6"), "--variation"),
        (("--variation", "Q6"), "--variation"),
        (("--variation", "E200"), "--variation"),
        (("--variation", ""), "--variation"),
        (("--deviation", "400"), "--deviation"),
        (("--deviation", "nan"), "--deviation"),
        (("--at", "95N,3E"), "--at"),
        (("--track", "361"), "--track"),
    ],
)
def test_what_cannot_be_is_refused(words: tuple[str, str], where: str) -> None:
    result = run(*words)
    assert isinstance(result.exception, InputError)
    assert result.exception.where == where


def test_the_place_may_be_an_airfield_of_the_store(tmp_path: Path) -> None:
    store = str(tmp_path / "refuge-demo.sqlite")
    load(store)
    field = next(field for field in load_places(packaged("demo") / "places.toml")[0] if field.id == "XORR")
    now = ("--now", "2026-03-10T15:00Z")
    there = body("--at", "XORR", "--store", store, *now)
    assert there["variation_deg_e"] == body(f"--at={field.lat_deg},{field.lon_deg}", *now)["variation_deg_e"]
    assert isinstance(run("--at", "XNON", "--store", store, *now).exception, InputError)
