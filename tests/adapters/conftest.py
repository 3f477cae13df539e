"""Stores to test on: a file and one in memory."""

import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from refuge.store.engine import open_engine
from refuge.store.opening import opened_store


@pytest.fixture(scope="session")
def empty_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the file of an empty store, migrated once for all tests: to be copied, never written."""
    path = tmp_path_factory.mktemp("store") / "empty.sqlite"
    with opened_store(str(path)):
        pass
    return path


@pytest.fixture(params=["file", "memory"])
def engine(request: pytest.FixtureRequest, tmp_path: Path, empty_store: Path) -> Iterator[Engine]:
    """Give an empty store, its schema up to date."""
    if request.param == "file":
        shutil.copy(empty_store, tmp_path / "store.sqlite")
        opened = open_engine(f"sqlite:///{tmp_path / 'store.sqlite'}")
    else:
        opened = open_engine("sqlite://")
        source, target = sqlite3.connect(empty_store), opened.raw_connection()
        source.backup(target.driver_connection)  # type: ignore[arg-type]  # it is sqlite3's own
        source.close()
        target.close()
    yield opened
    opened.dispose()
