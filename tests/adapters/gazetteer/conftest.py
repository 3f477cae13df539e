from collections.abc import Callable
from pathlib import Path

import pytest

from refuge.gazetteer.gazette import Gazette
from refuge.gazetteer.ourairports import read_ourairports
from refuge.gazetteer.report import Tally
from refuge.gazetteer.table_files import read_tables

Reader = Callable[..., Gazette]


@pytest.fixture(scope="session")
def samples(root: Path) -> Path:
    return root / "fixtures" / "gazetteer"


@pytest.fixture
def read(samples: Path) -> Reader:
    """Return a reader of the sample tables, with lines added to each."""

    def reader(*, airports: str = "", runways: str | None = "", countries: str | None = "") -> Gazette:
        more = {"airports": airports, "runways": runways, "countries": countries}
        files = [
            (name, (samples / f"{name}.csv").read_bytes() + text.encode())
            for name, text in more.items()
            if text is not None
        ]
        tally = Tally()
        return read_ourairports(read_tables(files, tally), tally)

    return reader
