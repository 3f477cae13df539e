"""The tables of expected values in fixtures/reference."""

import csv
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "reference"


def rows(topic: str) -> list[dict[str, str]]:
    """Return the rows of one table; every cell is text, empty where it has no value."""
    with (FOLDER / f"{topic}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file, strict=True))
