"""What is found as packaged in a clone is what the wheel carries and the image is built from."""

import re
import tomllib
from pathlib import Path

from refuge.packaged import _IN_CLONE, packaged


def test_wheel_and_clone_hold_the_same(root: Path) -> None:
    settings = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    forced = settings["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    assert forced == {folder: f"refuge/_data/{name}" for name, folder in _IN_CLONE.items()}
    for name, folder in _IN_CLONE.items():
        assert packaged(name) == root / folder


def test_the_image_is_built_with_all_of_it(root: Path) -> None:
    text = (root / "deploy" / "Containerfile").read_text(encoding="utf-8")
    assert set(_IN_CLONE.values()) <= set(re.findall(r"^COPY (\S+) \S+$", text, re.MULTILINE))
