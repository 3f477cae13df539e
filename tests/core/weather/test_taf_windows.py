"""The worked forecasts of reference.md (B20-B31) and decoding.md (T2-T7), asked for windows."""

import csv
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from refuge.weather.category import Category, category, rank
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


def usefulness(forecast: Forecast, at: datetime) -> int:
    """Return how good the adverse category of one hour is; LIFR and UNKNOWN serve nobody alike."""
    answer = expected([forecast], forecast.station, at, at + timedelta(hours=1))
    return max(rank(category(answer.adverse.ceiling, answer.adverse.visibility)), rank(Category.LIFR))


@pytest.mark.parametrize("name", TEXTS)
@pytest.mark.parametrize("change", ["unreadable", "repeated"])
def test_no_token_made_unreadable_or_repeated_improves_any_hour(name: str, change: str) -> None:
    """The law of decoding.md, on the whole way from text to answer."""
    received_at = parse_instant(next(row["received_utc"] for row in rows("taf_windows.csv") if row["taf"] == name))
    whole = decode_forecast(TEXTS[name], received_at=received_at)
    assert isinstance(whole, Forecast)
    assert whole.valid_from is not None
    assert whole.valid_to is not None
    hours = [whole.valid_from]
    while hours[-1] + timedelta(hours=1) < whole.valid_to:
        hours.append(hours[-1] + timedelta(hours=1))
    before = [usefulness(whole, at) for at in hours]
    tokens = TEXTS[name].split()
    first = next(number for number, token in enumerate(tokens) if "/" in token) + 1
    for number in range(first, len(tokens)):
        put = ["XYZZY"] if change == "unreadable" else [tokens[number]] * 2
        odd = decode_forecast(" ".join([*tokens[:number], *put, *tokens[number + 1 :]]), received_at=received_at)
        assert isinstance(odd, Forecast)
        after = [usefulness(odd, at) for at in hours]
        assert all(a <= b for a, b in zip(after, before, strict=True)), f"{tokens[number]} as {put}"
