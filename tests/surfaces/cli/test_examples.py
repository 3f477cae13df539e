"""The example of each command's help, typed on the demo's store: a newcomer's first calls work."""

import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest

from refuge.cli import COMMANDS, app
from refuge.packaged import packaged
from tests.architecture.test_commands import commands_under, example_of

BEYOND = {
    "refuge collect": "asks the service",
    "refuge work": "asks the service",
    "refuge import": "asks a service",
    "refuge import airfields": "wants tables of their own",
    "refuge import stations": "wants a list of its own",
    "refuge import areas": "wants a file of its own",
    "refuge serve": "does not end",
}
"""What no example can be run of here."""
EXAMPLES = [
    pytest.param(example_of(command)[1:], id=name)
    for each in COMMANDS
    for name, command in commands_under(each)
    if name not in BEYOND
]
ANSWERS = (0, 1)
"""interface.md: an answer, good or bad; 2 to 4 are no answers."""


@pytest.fixture(scope="module")
def demo_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = tmp_path_factory.mktemp("kept") / "refuge-demo.sqlite"
    assert refuge(store.parent, ["demo", "--keep", store.name]).returncode == 0
    return store


@pytest.fixture
def folder(demo_store: Path, tmp_path: Path, root: Path) -> Path:
    """Give a folder with the demo's store, and the files that the examples name."""
    shutil.copy(demo_store, tmp_path)
    (tmp_path / "fixtures").symlink_to(root / "fixtures")
    shutil.copy(packaged("demo") / "bulletins" / "1455Z.txt", tmp_path / "reports.txt")
    (tmp_path / "roster.csv").write_text(roster_of_the_help(), encoding="utf-8")
    return tmp_path


def roster_of_the_help() -> str:
    """Return the roster that the help of `refuge brief` shows."""
    command = app.get_command(click.Context(app), "brief")
    assert command is not None
    lines = [line.strip() for line in (command.help or "").splitlines()]
    start = next(n for n, line in enumerate(lines) if line.startswith("flight,"))
    return "\n".join(lines[start : lines.index("", start)]) + "\n"


def refuge(folder: Path, words: list[str]) -> subprocess.CompletedProcess[str]:
    program = "from refuge.__main__ import main; main()"
    return subprocess.run(
        [sys.executable, "-c", program, *words], cwd=folder, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("words", EXAMPLES)
def test_the_example_works(folder: Path, words: list[str]) -> None:
    if words[:2] == ["demo", "--keep"]:
        (folder / words[2]).unlink()
    done = refuge(folder, words)
    assert done.returncode in ANSWERS, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout
