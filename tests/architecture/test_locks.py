"""The lock files pin and hash what pyproject.toml asks for, and name no index."""

import re
import tomllib
from pathlib import Path

import pytest

LOCKS = ("requirements.txt", "requirements-test.txt")
PIN = re.compile(r"^([a-z0-9-]+)==(\S+)((?: ; [^\\]+)?) \\$", re.MULTILINE)


def pins(path: Path) -> dict[str, str]:
    return {match[1]: match[2] for match in PIN.finditer(path.read_text())}


def normal(requirement: str) -> str:
    """Return a requirement's name as the index spells it (PEP 503)."""
    match = re.match(r"[A-Za-z0-9._-]+", requirement)
    assert match is not None
    return re.sub(r"[-_.]+", "-", match[0]).lower()


@pytest.mark.parametrize("name", LOCKS)
def test_every_line_is_a_pin_or_a_hash(root: Path, name: str) -> None:
    lines = (root / "deploy" / name).read_text().splitlines()
    strange = [
        line
        for line in lines
        if not PIN.match(line) and not re.fullmatch(r"    --hash=sha256:[0-9a-f]{64}( \\)?", line)
    ]
    assert strange == []


def test_what_is_asked_for_is_locked(root: Path) -> None:
    project = tomllib.loads((root / "pyproject.toml").read_text())
    run, test = (pins(root / "deploy" / name) for name in LOCKS)
    asked = [*project["project"]["dependencies"], *project["build-system"]["requires"]]
    assert {normal(each) for each in asked} <= run.keys()
    assert {normal(each) for each in project["project"]["optional-dependencies"]["test"]} <= test.keys()


def test_tests_run_on_the_releases_that_are_shipped(root: Path) -> None:
    run, test = (pins(root / "deploy" / name) for name in LOCKS)
    assert run.items() <= test.items()
