"""`refuge heading`: the numbers of worked triangles, and what it refuses."""

import json
from typing import Any

import pytest
from click.testing import CliRunner, Result

from refuge.cli import app
from refuge.errors import InputError


def run(*words: str) -> Result:
    return CliRunner().invoke(app, ["heading", *words])


def numbers(*words: str) -> dict[str, Any]:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    read: dict[str, Any] = json.loads(result.stdout)
    return read


def test_the_handbooks_triangle() -> None:
    """E1: FAA-H-8083-25 ch. 16, TC 090, TAS 120, wind 045/40, GS 88 (reference.md 5.1, S74); E20's 6 E and +2."""
    found = numbers(
        "--track", "090", "--tas", "120", "--wind", "045/40", "--distance", "60", "--variation", "E6",
        "--deviation", "2",
    )  # fmt: skip
    assert found["wca_deg"] == pytest.approx(-14, abs=0.5)
    assert found["gs_kt"] == pytest.approx(88, abs=0.5)
    # E10: 40.75 min, computed (reference.md 5.2).
    assert found["minutes"] == pytest.approx(40.75, abs=0.01)
    # E20: 076 - 6 + 2 = 072 (reference.md 5.3; 'east is least', from memory).
    assert found["heading_deg_compass"] == pytest.approx(72, abs=0.5)


def test_west_variation_and_negative_deviation() -> None:
    """E21: TC 350, WCA +8, 4 W, -1 -> 001 (reference.md 5.3); a wind that gives +8 is not needed for the sums."""
    found = numbers(
        *[
            "--track",
            "358",
            "--tas",
            "100",
            "--wind",
            "0/0",
            "--distance",
            "1",
            "--variation",
            "W4",
            "--deviation",
            "-1",
        ]
    )
    assert found["heading_deg_mag"] == pytest.approx(2)
    assert found["heading_deg_compass"] == pytest.approx(1)


@pytest.mark.parametrize(("wind", "why"), [("100/95", "E8: headwind"), ("190/95", "E9: crosswind")])
def test_never_is_null_and_exit_1(wind: str, why: str) -> None:
    """E8 and E9 (reference.md 5.1): no progress and no solution are "never", not a number."""
    result = run("--track", "100", "--tas", "90", "--wind", wind, "--distance", "60", "--json")
    assert result.exit_code == 1, why
    found = json.loads(result.stdout)
    assert found["minutes"] is None
    assert found["gs_kt"] is None


def test_text_prints_360_and_the_caution() -> None:
    """E23: 000 prints as 360 (reference.md 5.3)."""
    result = run("--track", "0", "--tas", "100", "--wind", "360/30", "--distance", "70")
    assert "360 true" in result.stdout
    # E4: GS 70 (reference.md 5.1).
    assert "groundspeed 70.0 kt, 60.0 min" in result.stdout
    assert "Planning aid. Not certified for navigation" in result.stdout


@pytest.mark.parametrize(
    "words",
    [
        ["--wind", "45-40"],
        ["--wind", "400/10"],
        ["--wind", "045/-3"],
        ["--variation", "6"],
        ["--tas", "0"],
        ["--distance", "-1"],
        ["--tas", "nan"],
    ],
)
def test_what_cannot_be_is_refused(words: list[str]) -> None:
    """A value that is no value is named with its option, and no number comes out."""
    base = {"--track": "90", "--tas": "120", "--wind": "045/40", "--distance": "60"}
    base |= dict(zip(words[::2], words[1::2], strict=True))
    result = run(*[word for pair in base.items() for word in pair])
    assert isinstance(result.exception, InputError)
    assert words[0] in str(result.exception)
    assert not result.stdout
