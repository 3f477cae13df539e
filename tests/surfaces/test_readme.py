"""README's tour is what the program prints: each block that begins with a command is run and compared.

This holds the document to the program, and says nothing of whether an answer is right.
"""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from refuge.cli import app

README = Path(__file__).resolve().parents[2] / "README.md"
LEFT_OUT = "..."
"""Stands in a block for lines that README leaves out."""


def blocks() -> Iterator[tuple[list[str], list[str]]]:
    """Yield the commands of each block, and the lines that the last of them prints."""
    for block in re.findall(
        r"^```\n(\$ refuge .*?)^```$", README.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE
    ):
        lines = block.replace("\\\n", " ").splitlines()
        commands = [line.removeprefix("$ refuge ") for line in lines if line.startswith("$ refuge ")]
        yield commands, [line for line in lines if not line.startswith("$ ")]


def parts(lines: list[str]) -> Iterator[str]:
    """Yield the texts between lines that are left out."""
    text = "\n".join(lines)
    for part in re.split(rf"^{re.escape(LEFT_OUT)}$", text, flags=re.MULTILINE):
        if part.strip():
            yield part.strip("\n")


BLOCKS = list(blocks())


def test_the_tour_shows_its_commands() -> None:
    shown = " ".join(command for commands, _ in BLOCKS for command in commands)
    assert all(word in shown for word in ("demo", "find", "--explain", "endurance", "route", "--ways", "brief"))


@pytest.mark.parametrize(
    ("commands", "lines"),
    [block for block in BLOCKS if "RJTT" not in block[0][0]],  # real reports are not in the clone
    ids=lambda value: value[-1][:40] if value and isinstance(value[-1], str) else None,
)
def test_what_readme_shows_is_what_is_printed(
    commands: list[str], lines: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    roster = re.search(r"^```csv\n(.*?)^```$", README.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)
    assert roster is not None
    Path("roster.csv").write_text(roster[1], encoding="utf-8")
    for kept in (["--keep", "demo.sqlite"], ["--night", "--keep", "night.sqlite"]):
        assert CliRunner().invoke(app, ["demo", *kept]).exit_code == 0
    printed = ""
    for command in commands:
        done = CliRunner().invoke(app, shlex.split(command))
        assert done.exit_code in {0, 1, 2}, (command, done.output)
        printed = done.stdout
    at = 0
    for part in parts(lines):
        found = printed.find(part, at)
        assert found >= 0, (
            f"README shows, and `refuge {commands[-1]}` does not print there:\n{part}\n---\n{printed}"
        )
        at = found + len(part)
