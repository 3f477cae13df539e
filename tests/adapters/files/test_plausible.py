"""Figures that no single-engine aircraft has are refused where a file is read: they would make answers better.

The limits are common practice without a source, as `refuge/files/plausible.py` has them.
"""

from pathlib import Path

import pytest

from refuge.errors import InputError
from refuge.files.aircraft import parse_aircraft

ROOT = Path(__file__).resolve().parents[3]
DEMO = (ROOT / "fixtures" / "demo" / "aircraft" / "XA-GLASS.toml").read_text(encoding="utf-8")
TEMPLATE = (ROOT / "fixtures" / "aircraft" / "template.toml").read_text(encoding="utf-8")
BASIS = ', basis = "b", source = "s"}\n'


def refusal(text: str) -> str:
    with pytest.raises(InputError) as caught:
        parse_aircraft(text, "slip.toml")
    assert caught.value.where == "slip.toml"
    assert caught.value.remedy
    return caught.value.what


def head(key: str, value: str) -> str:
    """Return the demo's aircraft with one figure at its head, in place of the one that stands there."""
    lines = [line for line in DEMO.splitlines(keepends=True) if not line.startswith(f"{key} =")]
    return f"{key} = {{value = {value}{BASIS}" + "".join(lines)


@pytest.mark.parametrize(
    ("key", "low", "high", "unit"),
    [
        ("cruise_tas_kt", 40, 350, "kt"),
        ("climb_tas_kt", 40, 350, "kt"),
        ("descent_ft_min", 100, 3000, "ft/min"),
        ("climb_ft_min", 50, 4000, "ft/min"),
        ("fuel_reserve_min", 0, 300, "min"),
        ("landing_min", 1, 60, "min"),
    ],
)
def test_a_figure_is_taken_up_to_its_limits_and_refused_past_them(
    key: str, low: float, high: float, unit: str
) -> None:
    pair = {"climb_tas_kt": "climb_ft_min", "climb_ft_min": "climb_tas_kt"}.get(key)
    other = "" if pair is None else f"{pair} = {{value = 100{BASIS}"
    for value in (low, high):
        assert getattr(parse_aircraft(other + head(key, str(value)), "x"), key) == value
    for value in (low - 0.5, high + 0.5):
        said = refusal(other + head(key, str(value)))
        assert said.startswith(
            f"{key}.value: must be from {low:,g} to {high:,g} {unit} for a single-engine aircraft"
        )
        assert said.endswith(f"look at the figure and its unit (there stands {value})")


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('minutes = {value = 30, from = "failure"', 'minutes = {value = 3000, from = "failure"', ".minutes.value"),
        ("shed_by_min = 5", "shed_by_min = 500", ".minutes.shed_by_min"),
    ],
)
def test_a_published_duration_that_cannot_be(old: str, new: str, key: str) -> None:
    assert old in TEMPLATE
    said = refusal(TEMPLATE.replace(old, new, 1))
    assert f"{key}: must be from 0 to " in said
    assert said.count("must be") == 1


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ("capacity = {value_ah = 2400, rate_h = 1", "capacity.value_ah: must be from 0.1 to 200 Ah"),
        ("capacity = {value_ah = 24, rate_h = 100", "capacity.rate_h: must be from 0.1 to 24 h"),
        ("capacity = {value_ah = 24, rate_h = 1, peukert = 11.5", "capacity.peukert: must be from 1 to 2"),
        ("warming = {c_per_h = 10, up_to_c = 150", "warming.up_to_c: must be from -40 to 40 C"),
        ("rated_a = {value = 6000", "rated_a.value: must be from 1 to 500 A"),
    ],
)
def test_a_source_that_cannot_be(table: str, says: str) -> None:
    text = f'{DEMO}\n[source.slip]\nkind = "battery"\n{table}{BASIS}'
    assert says in refusal(text)


@pytest.mark.parametrize("amps", ["0.001", "4500"])
def test_a_load_that_cannot_be(amps: str) -> None:
    text = f'{DEMO}\n[load.slip]\nfed_by = ["main"]\ngives = []\namps = {{value = {amps}{BASIS}'
    assert "load.slip.amps.value: must be from 0.01 to 300 A" in refusal(text)
