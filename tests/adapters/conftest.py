"""Stores to test on: a file and one in memory."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from refuge.store.opening import opened_store


@pytest.fixture(params=["file", "memory"])
def engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """Give an empty store, its schema up to date."""
    with opened_store(str(tmp_path / "store.sqlite") if request.param == "file" else ":memory:") as opened:
        yield opened
