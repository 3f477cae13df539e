"""The adjudicated reports and forecasts: reference.md A and B, decoding.md M and T."""

import csv
from datetime import UTC, datetime
from pathlib import Path

import pytest

from refuge.weather.category import category
from refuge.weather.metar import decode_observation
from refuge.weather.reports import Forecast, Observation
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)
from refuge.weather.taf import decode_forecast
from refuge.zulu import parse_instant

REFERENCE = Path(__file__).parents[3] / "fixtures" / "reference"
RECEIVED_AT = datetime(2022, 10, 15, 12, tzinfo=UTC)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def identity(row: dict[str, str]) -> str:
    return row["id"] + (f"-{row['group']}" if "group" in row else "")


def is_ceiling(ceiling: Ceiling | None, expected: str) -> bool:
    """Return whether the ceiling is what a table's cell says: a height, none, none<height, unknown."""
    match ceiling:
        case None:
            return expected == ""
        case CeilingAt(ft_agl=ft):
            return expected == str(ft)
        case NoCeiling(none_below_ft=below_ft):
            return expected == ("none" if below_ft is None else f"none<{below_ft}")
        case UnknownCeiling():
            return expected == "unknown"


def is_visibility(visibility: Visibility | None, expected: str) -> bool:
    """Return whether the visibility is what a table's cell says: a distance, <, >= or unknown."""
    if visibility is None:
        return expected == ""
    if isinstance(visibility, UnknownVisibility):
        return expected == "unknown"
    sign = {Bound.EXACTLY: "", Bound.AT_LEAST: ">=", Bound.LESS_THAN: "<"}[visibility.bound]
    digits = expected.removeprefix(">=").removeprefix("<")
    if expected != sign + digits or not digits[0].isdigit():
        return False
    return abs(visibility.sm - float(digits)) < 0.001


def decoded(raw: str) -> Observation:
    observation = decode_observation(raw, received_at=RECEIVED_AT)
    assert isinstance(observation, Observation)
    return observation


@pytest.mark.parametrize("row", rows("categories.csv"), ids=identity)
def test_category_of_each_reference_case(row: dict[str, str]) -> None:
    groups = f"{row['visibility_group']} {row['sky_groups']}"
    observation = decoded(f"METAR KAAA 101553Z 18010KT {groups} 18/12 Q1013")
    assert is_ceiling(observation.body.ceiling, row["ceiling_ft_agl"])
    assert category(observation.adverse.ceiling, observation.adverse.visibility) == row["category"]
    assert not observation.unread


@pytest.mark.parametrize("row", rows("reports.csv"), ids=identity)
def test_report_is_read_as_adjudicated(row: dict[str, str]) -> None:
    observation = decoded(row["raw"])
    body, adverse = observation.body, observation.adverse
    assert observation.unread == ()
    assert is_ceiling(body.ceiling, row["ceiling_ft_agl"]), body.ceiling
    assert is_visibility(body.visibility, row["visibility_sm"]), body.visibility
    assert category(body.ceiling, body.visibility) == row["category"]
    assert is_ceiling(adverse.ceiling, row["adverse_ceiling_ft_agl"]), adverse.ceiling
    assert is_visibility(adverse.visibility, row["adverse_visibility_sm"]), adverse.visibility
    assert category(adverse.ceiling, adverse.visibility) == row["adverse_category"]


@pytest.mark.parametrize("row", rows("forecasts.csv"), ids=identity)
def test_forecast_group_is_read_as_adjudicated(row: dict[str, str]) -> None:
    forecast = decode_forecast(row["raw"], received_at=parse_instant(row["received_utc"]))
    assert isinstance(forecast, Forecast)
    assert forecast.unread == ()
    assert len(forecast.groups) == int(row["group_count"])
    group = forecast.groups[int(row["group"])]
    assert group.kind == row["kind"]
    assert (group.start, group.end) == (parse_instant(row["from_utc"]), parse_instant(row["to_utc"]))
    assert str(group.probability or "") == row["probability_percent"]
    assert is_ceiling(group.ceiling, row["ceiling_ft_agl"]), group.ceiling
    assert is_visibility(group.visibility, row["visibility_sm"]), group.visibility
    if row["category"]:
        assert group.ceiling is not None
        assert group.visibility is not None
        assert category(group.ceiling, group.visibility) == row["category"]


def test_hidden_sky_without_a_height_is_marked() -> None:
    """decoding.md M13 and T5: a ceiling exists, and counts as the lowest category."""
    ceiling = decoded("EDXW 220220Z AUTO 17005KT 9999 // VV/// 11/11 Q1008").adverse.ceiling
    assert isinstance(ceiling, UnknownCeiling)
    assert ceiling.obscured
    assert category(ceiling, KnownVisibility(sm=10.0)) == "LIFR"


def test_trend_is_a_forecast_and_not_the_observation() -> None:
    """decoding.md M19 (WMO-No. 306, 15.14): BECMG TL0120 0500 SCT003."""
    report = "ZSNJ 230000Z 08003MPS 0100 R06/0250N R07/0350 FG VV001 14/14 Q1025 BECMG TL0120 0500 SCT003"
    observation = decode_observation(report, received_at=datetime(2022, 10, 23, 0, 5, tzinfo=UTC))
    assert isinstance(observation, Observation)
    (group,) = observation.trend
    assert group.kind == "BECMG"
    assert (group.start, group.end) == (
        datetime(2022, 10, 23, 0, 0, tzinfo=UTC),
        datetime(2022, 10, 23, 1, 20, tzinfo=UTC),
    )
    assert is_visibility(group.visibility, "0.311")  # 500 m / 1,609.344
    assert is_ceiling(group.ceiling, "none")
    assert not observation.nosig


def test_canadian_correction_is_marked() -> None:
    """decoding.md M18 (MANOBS): CCx is correction x."""
    observation = decoded("METAR CYQI 101400Z CCA 11021G33KT 1 1/4SM -PL DRSN OVC011 M02/M03 A2981")
    assert observation.corrected
    assert observation.unread == ()
