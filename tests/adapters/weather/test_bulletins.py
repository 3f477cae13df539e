"""The short reports of fixtures/bulletins, each for one trap."""

import csv
import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from refuge.weather.category import category
from refuge.weather.metar import decode_observation
from refuge.weather.record import report_record
from refuge.weather.reports import Observation
from refuge.weather.split import decode_any, split_reports
from refuge.weather.taf import decode_forecast

BULLETINS = Path(__file__).parents[3] / "fixtures" / "bulletins"
RECEIVED_AT = datetime(2022, 10, 31, 18, tzinfo=UTC)


def rows(name: str) -> list[dict[str, str]]:
    with (BULLETINS / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def trap(row: dict[str, str]) -> str:
    return row["trap"]


SEEDS = [row["raw"] for row in rows("seeds.csv")] + ["", "\x00", "KAAA\x00 101553Z 10SM CLR", "A" * 1_000_000]


@pytest.mark.parametrize("raw", SEEDS, ids=range(len(SEEDS)))
@pytest.mark.parametrize(
    "received_at", [RECEIVED_AT, datetime(2024, 2, 29, 23, 58, tzinfo=UTC), datetime(2022, 1, 1, tzinfo=UTC)]
)
def test_what_broke_other_decoders_breaks_nothing(raw: str, received_at: datetime) -> None:
    """Each seed by each reader, alone, doubled and beside neighbours that it must not spoil."""
    for text in (raw, f"{raw} {raw}", raw[::-1]):
        for value in (
            decode_observation(text, received_at=received_at),
            decode_forecast(text, received_at=received_at),
            decode_any(text, received_at=received_at),
        ):
            json.dumps(report_record(value), allow_nan=False)
    neighbour = "KXXX 101553Z 18010KT 10SM CLR 18/12 A2992"
    assert split_reports(f"{neighbour}=\n{raw}\n\n{neighbour}").count(neighbour) == 2


def test_a_line_of_a_million_characters_ends_in_time() -> None:
    many = "KAAA 101553Z 10SM " + "ABC " * 250_000 + "OVC002"
    value = decode_observation(many, received_at=RECEIVED_AT)
    assert isinstance(value, Observation)
    assert len(value.unread) == 250_000
    assert category(value.adverse.ceiling, value.adverse.visibility) == "LIFR"


@pytest.mark.parametrize("row", rows("traps.csv"), ids=trap)
def test_trap(row: dict[str, str]) -> None:
    value = decode_observation(row["raw"], received_at=RECEIVED_AT)
    assert isinstance(value, Observation)
    assert " ".join(value.unread) == row["unread"]
    assert category(value.adverse.ceiling, value.adverse.visibility) == row["adverse_category"]
