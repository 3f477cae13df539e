"""Files of 400 lines and functions of 40 at most, docstring and decorators not counted."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

FILES = sorted((Path(__file__).resolve().parents[2] / "refuge").rglob("*.py"))
MOST_LINES_FILE = 400
MOST_LINES_FUNCTION = 40


def functions(text: str) -> Iterator[tuple[str, int]]:
    """Yield the name and the length of each function, from ``def`` to its end, less the docstring."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert node.end_lineno is not None
            length = node.end_lineno - node.lineno + 1
            first = node.body[0]
            if ast.get_docstring(node) is not None:
                assert first.end_lineno is not None
                length -= first.end_lineno - first.lineno + 1
            yield node.name, length


@pytest.mark.parametrize("path", FILES, ids=lambda path: "/".join(path.parts[path.parts.index("refuge") :]))
def test_sizes(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= MOST_LINES_FILE
    too_long = [f"{name}: {length}" for name, length in functions(text) if length > MOST_LINES_FUNCTION]
    assert too_long == []


def test_the_measure_itself() -> None:
    text = '@decorated\ndef one():\n    """Say.\n\n    More.\n    """\n    x = 1\n    return x\n'
    assert list(functions(text)) == [("one", 3)]
