"""The compass card of an aircraft file: read as it stands, optional, refused with every fault."""

from pathlib import Path

import pytest

from refuge.errors import InputError
from refuge.files.aircraft import load_aircraft

ROOT = Path(__file__).resolve().parents[3]
TEMPLATE = (ROOT / "fixtures" / "aircraft" / "template.toml").read_text(encoding="utf-8")


def with_card(tmp_path: Path, *, wrong: tuple[str, str] = ("", "")) -> Path:
    """Return the template with its commented card taken in, and one piece of it replaced."""
    start, end = TEMPLATE.index("# [compass_card]"), TEMPLATE.index("# --- Sources")
    card = "\n".join(line.removeprefix("# ") for line in TEMPLATE[start:end].splitlines())
    assert wrong[0] in card
    path = tmp_path / "XX-CARD.toml"
    path.write_text(TEMPLATE[:start] + card.replace(*wrong) + "\n" + TEMPLATE[end:], encoding="utf-8")
    return path


def test_the_card_of_the_template(tmp_path: Path) -> None:
    card = load_aircraft(with_card(tmp_path)).compass_card
    assert card is not None
    assert card.for_deg_mag[:3] == (360, 30, 60)
    assert card.steer_deg[:3] == (358, 29, 60)
    assert card.steer_radios_off_deg is not None
    assert card.steer_radios_off_deg[-1] == 330
    assert card.source.startswith("compass card of")


def test_an_aircraft_need_not_have_one() -> None:
    assert load_aircraft(ROOT / "fixtures" / "aircraft" / "template.toml").compass_card is None


def test_the_second_column_is_optional(tmp_path: Path) -> None:
    line = next(line for line in TEMPLATE.splitlines() if "steer_radios_off =" in line).removeprefix("# ")
    card = load_aircraft(with_card(tmp_path, wrong=(line, ""))).compass_card
    assert card is not None
    assert card.steer_radios_off_deg is None


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (("[358, 29,", "[358, 209,"), "compass_card.steer: must run clockwise once round"),
        (("[358, 29,", "[361, 29,"), "compass_card.steer 1"),
        (("[358, 29,", '["358", 29,'), "compass_card.steer 1"),
        (("source = ", "origin = "), "compass_card.source: is missing"),
        (("360, 30, 60, 90", "360, 30, 90, 60"), "compass_card.for: must run clockwise once round"),
    ],
)
def test_a_wrong_card_is_refused_by_file_and_key(tmp_path: Path, wrong: tuple[str, str], said: str) -> None:
    path = with_card(tmp_path, wrong=wrong)
    with pytest.raises(InputError) as caught:
        load_aircraft(path)
    assert said in str(caught.value)
    assert str(path) in str(caught.value)
