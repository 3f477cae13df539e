"""Every expected value in fixtures/reference says where it comes from."""

import csv
from pathlib import Path

import pytest

TABLES = sorted((Path(__file__).resolve().parents[2] / "fixtures" / "reference").glob("*.csv"))


def test_there_are_tables() -> None:
    assert TABLES


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.name)
def test_every_row_has_a_source_and_every_cell_a_column(path: Path) -> None:
    with path.open(newline="", encoding="utf-8") as file:
        reader = csv.DictReader(file, strict=True)
        rows = list(reader)
        assert reader.fieldnames is not None
        assert "source" in reader.fieldnames
    assert rows, "an empty table proves nothing"
    for number, row in enumerate(rows, start=2):
        assert None not in row, f"line {number}: more cells than columns"
        assert None not in row.values(), f"line {number}: fewer cells than columns"
        assert row["source"].strip(), f"line {number}: no source"
