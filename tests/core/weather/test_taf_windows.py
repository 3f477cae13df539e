"""The worked forecasts of reference.md (B20-B31) and decoding.md (T2-T7), asked for windows."""

import csv
from pathlib import Path

import pytest

from refuge.weather.category import category
from refuge.weather.expected import expected
from refuge.weather.reports import Forecast
from refuge.weather.sky import CeilingAt, KnownVisibility, NoCeiling, UnknownCeiling, UnknownVisibility
from refuge.weather.taf import decode_forecast
from refuge.zulu import parse_instant

REFERENCE = Path(__file__).parents[3] / "fixtures" / "reference"


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="") as file:
        return list(csv.DictReader(file))


TEXTS = {row["name"]: row["text"] for row in rows("tafs.csv")}


@pytest.mark.parametrize("row", rows("taf_windows.csv"), ids=lambda row: row["id"])
def test_window_of_a_worked_forecast(row: dict[str, str]) -> None:
    forecast = decode_forecast(TEXTS[row["taf"]], received_at=parse_instant(row["received_utc"]))
    assert isinstance(forecast, Forecast)
    answer = expected([forecast], forecast.station, parse_instant(row["from_utc"]), parse_instant(row["to_utc"]))
    prevailing, adverse = answer.prevailing, answer.adverse
    assert category(prevailing.ceiling, prevailing.visibility) == row["prevailing"]
    assert category(adverse.ceiling, adverse.visibility) == row["adverse"]
    assert answer.complete is (row["complete"] == "yes")
    match adverse.ceiling:
        case CeilingAt(ft_agl=ft):
            assert str(ft) == row["adverse_ceiling_ft_agl"]
        case NoCeiling():
            assert row["adverse_ceiling_ft_agl"] == "none"
        case UnknownCeiling():
            assert row["adverse_ceiling_ft_agl"] == "unknown"
    match adverse.visibility:
        case KnownVisibility(sm=sm):
            least = min(sm, 6.0)  # P6SM, 9999 and CAVOK are floors: 6 here
            assert least == pytest.approx(float(row["adverse_visibility_sm"]), abs=0.001)
        case UnknownVisibility():
            assert row["adverse_visibility_sm"] == "unknown"


def test_every_worked_forecast_is_asked() -> None:
    assert {row["taf"] for row in rows("taf_windows.csv")} == set(TEXTS)


def test_groups_that_touch_the_window_are_named() -> None:
    """Source: reference.md 2.8, B22, read by eye."""
    forecast = decode_forecast(TEXTS["KAAA"], received_at=parse_instant("2026-10-10T11:35Z"))
    assert isinstance(forecast, Forecast)
    at = parse_instant("2026-10-10T21:00Z")
    assert expected([forecast], "KAAA", at, at).groups_used == ("FM101800", "TEMPO 1020/1024")
