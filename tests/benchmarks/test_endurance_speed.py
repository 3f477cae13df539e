"""How long one endurance takes: at most a millisecond an aircraft."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from refuge.aircraft.case import FlightState
from refuge.aircraft.endurance import endurance
from refuge.files.aircraft import load_aircraft

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "aircraft"
MOST_S = 1e-3


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda path: path.stem)
def test_one_aircraft(benchmark: Any, path: Path) -> None:
    """Cold and iced: derated, nominal and as if dry, each simulated anew."""
    flown = load_aircraft(path)
    state = FlightState(on=date(2026, 3, 10), oat_c=-5.0, fuel_min=200.0)
    found = benchmark(endurance, flown, state)
    assert found.information_min is not None
    if benchmark.enabled:
        assert benchmark.stats.stats.median < MOST_S
