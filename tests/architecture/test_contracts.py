"""The import contracts of pyproject.toml hold, and bite."""

import ast
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

LINT = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", LINT], cwd=folder, capture_output=True, text=True, check=False)


def test_the_contracts_hold(root: Path) -> None:
    result = lint(root)
    assert result.returncode == 0, result.stdout + result.stderr


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        ("errors.py", "import refuge.zulu", "The house, one way down"),
        ("weather/sky.py", "import refuge.cli", "The house, one way down"),
        ("utils.py", "", "The house, one way down"),
        ("weather/bulletin.py", "import refuge.weather.reports", "Inside weather"),
        ("weather/helpers.py", "", "Inside weather"),
        ("weather/sky.py", "import logging", "The core touches no file, network, database, clock or log"),
        ("units.py", "import os", "The core touches no file, network, database, clock or log"),
        ("sun.py", "from pathlib import Path", "The core touches no file, network, database, clock or log"),
        ("zulu.py", "import time", "The core touches no file, network, database, clock or log"),
        ("sun.py", "import pyproj", "pyproj has one home"),
        ("cli/__init__.py", "import metar", "metar has one home"),
    ],
)
def test_a_seeded_violation_is_caught(root: Path, tmp_path: Path, module: str, line: str, contract: str) -> None:
    shutil.copy(root / "pyproject.toml", tmp_path)
    shutil.copytree(root / "refuge", tmp_path / "refuge", ignore=shutil.ignore_patterns("__pycache__"))
    with (tmp_path / "refuge" / module).open("a") as file:
        file.write(f"\n{line}\n")
    result = lint(tmp_path)
    assert result.returncode == 1, result.stdout + result.stderr
    assert f"{contract} BROKEN" in result.stdout


ANYWHERE = {"click", "numpy"}
"""numpy: anywhere from earth up; click: all of cli."""


def imported_libraries(root: Path) -> set[str]:
    """Return the top names that refuge imports, wherever in a module, less the standard library's."""
    names: set[str] = set()
    for path in (root / "refuge").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names.update(alias.name.split(".")[0] for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names.add(node.module.split(".")[0])
    return names - sys.stdlib_module_names - {"refuge"}


def contracts(root: Path) -> dict[str, dict[str, Any]]:
    settings = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    return {contract["id"]: contract for contract in settings["tool"]["importlinter"]["contracts"]}


def test_the_core_is_everything_from_flight_down(root: Path) -> None:
    """A room that is added to the house below flight is added to the pure core too."""
    floors = [re.findall(r"\w+", floor) for floor in contracts(root)["house"]["layers"]]
    below = floors[next(number for number, floor in enumerate(floors) if "flight" in floor) :]
    there = {f"refuge.{path.stem}" for path in (root / "refuge").iterdir() if path.suffix == ".py" or path.is_dir()}
    core = {f"refuge.{room}" for floor in below for room in floor} & there
    assert set(contracts(root)["core-is-pure"]["source_modules"]) == core


def test_every_library_has_a_home(root: Path) -> None:
    """A contract comes with a library's first import, and goes with its last."""
    housed = {name for contract in contracts(root).values() for name in contract.get("protected_modules", ())}
    assert housed == imported_libraries(root) - ANYWHERE
