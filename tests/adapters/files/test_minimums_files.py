"""Minimums files: read, refused below the floor, and every fault named."""

from pathlib import Path

import pytest

from refuge.errors import InputError
from refuge.files.minimums import load_minimums
from refuge.flight.minimums import FLOOR, Limits

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"


def test_j3_the_school_raises_the_pilot() -> None:
    found = load_minimums(FIXTURES / "minimums" / "J3.toml")
    # reference.md 10.1
    assert (found.id, found.day) == ("J3", Limits(ceiling_ft=3000, visibility_sm=6))
    assert len(found.said) == 2


def test_j4_below_the_floor_is_refused() -> None:
    path = FIXTURES / "minimums" / "J4.toml"
    with pytest.raises(InputError, match="day ceiling_ft 1,200 is below the floor") as caught:
        load_minimums(path)
    assert (caught.value.where, caught.value.exit_code) == (str(path), 2)


def test_the_template_can_be_read() -> None:
    found = load_minimums(FIXTURES / "minimums" / "template.toml")
    # J5, reference.md 10.1: ceiling of the school, visibility of the pilot
    assert found.day == Limits(ceiling_ft=3000, visibility_sm=8)
    assert found.night == "not planned"
    assert (found.runway_length_ft, found.hard_surface, found.max_crosswind_kt) == (2500, True, 10)
    assert (found.margin_min, found.said) == (20, ())


def test_the_demo_school_can_be_read() -> None:
    found = load_minimums(FIXTURES / "demo" / "minimums" / "XS-SCHOOL.toml")
    assert found.id == "XS-SCHOOL"
    assert found.said == ()


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "minimums.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_an_empty_file_has_the_floor_and_nothing_else(tmp_path: Path) -> None:
    found = load_minimums(written(tmp_path, 'id = "bare"\n'))
    assert (found.day, found.night, found.margin_min) == (FLOOR.day, FLOOR.night, None)


def test_what_is_set_in_part_leaves_the_rest_at_the_floor(tmp_path: Path) -> None:
    found = load_minimums(written(tmp_path, 'id = "x"\n[pilot]\nsource = "s"\nnight = {ceiling_ft = 5000}\n'))
    assert found.night == Limits(ceiling_ft=5000, visibility_sm=5)


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("[pilot]\nsource = 's'\n", "id: is missing"),
        ("id = 'x'\n[pilot]\n", "pilot.source: is missing"),
        ("id = 'x'\n[pilot]\nsource = 's'\nday = {ceiling = 3000}\n", "pilot.day.ceiling: is not a key"),
        (
            "id = 'x'\n[pilot]\nsource = 's'\nday = {ceiling_ft = '3000'}\n",
            "pilot.day.ceiling_ft: must be a number",
        ),
        (
            "id = 'x'\n[pilot]\nsource = 's'\nday = {ceiling_ft = inf}\n",
            "pilot.day.ceiling_ft: must be a finite number",
        ),
        ("id = 'x'\n[school]\nsource = 's'\nadverse = ['fatigue']\n", "school.adverse: is not a key"),
        ("id = 'x'\n[school]\nsource = 's'\nnight = 'never'\n", "school.night"),
        ("id = 'x'\n[instructor]\nsource = 's'\n", "instructor: is not a key"),
    ],
)
def test_faults_name_the_key(tmp_path: Path, text: str, fault: str) -> None:
    path = written(tmp_path, text)
    with pytest.raises(InputError) as caught:
        load_minimums(path)
    assert fault in caught.value.what
    assert caught.value.where == str(path)
    assert caught.value.remedy is not None
