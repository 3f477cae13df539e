"""A path where no store is: what only reads says so and makes none, what writes makes it."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from refuge.cli import app
from refuge.errors import MissingDataError

READERS = [
    "find --at 44,-38 --aircraft fixtures/demo/aircraft/XA-GLASS.toml --minimums fixtures/minimums/template.toml",
    "route XA01 XA02 --aircraft XA --minimums XS",
    "brief {folder}/roster.csv",
    "airfield XA01",
    "expect XA01 --from 2026-03-10T15:00Z --to 2026-03-10T16:00Z",
    "heading --track 90 --tas 100 --wind 0/0 --distance 10 --at XA01",
    "coverage",
    "status",
    "serve",
    "store info",
    "store redecode",
]
ROSTER = "flight,from,to,departs,aircraft,minimums\n1,XA01,XA02,2026-03-10T15:00Z,XA,XS\n"


@pytest.mark.parametrize("words", READERS)
@pytest.mark.parametrize("written", ["{folder}/no/typo.sqlite", "sqlite:///{folder}/no/typo.sqlite"])
def test_a_mistyped_path_is_named_and_no_file_made(tmp_path: Path, words: str, written: str) -> None:
    (tmp_path / "roster.csv").write_text(ROSTER, encoding="utf-8")
    store = written.format(folder=tmp_path)
    done = CliRunner().invoke(app, [*words.format(folder=tmp_path).split(), "--store", store])
    assert isinstance(done.exception, MissingDataError), done.output
    assert done.exception.exit_code == 3
    assert f"no store at {tmp_path}/no/typo.sqlite - check the path" in str(done.exception)
    assert done.stdout == ""
    assert [path.name for path in tmp_path.iterdir()] == ["roster.csv"]


def test_a_new_machine_is_told_what_to_run_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.delenv("REFUGE_STORE", raising=False)
    done = CliRunner().invoke(app, ["status"])
    assert isinstance(done.exception, MissingDataError)
    assert f"{tmp_path}/refuge/refuge.sqlite" in str(done.exception)
    assert "refuge collect stations, refuge import airfields" in str(done.exception)
    assert list(tmp_path.iterdir()) == []


def test_a_copy_of_nothing_makes_nothing(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["store", "copy", f"{tmp_path}/typo.sqlite", f"{tmp_path}/no/copy.sqlite"])
    assert isinstance(done.exception, MissingDataError)
    assert list(tmp_path.iterdir()) == []


def test_what_writes_makes_the_store(tmp_path: Path) -> None:
    store = tmp_path / "new" / "refuge.sqlite"
    assert CliRunner().invoke(app, ["store", "upgrade", "--store", str(store)]).exit_code == 0
    assert store.is_file()
