"""A start imports no heavy library: a command imports what it needs when it is called."""

import subprocess
import sys

import pytest

HEAVY = [
    "alembic",
    "apscheduler",
    "fastapi",
    "geopandas",
    "httpx",
    "matplotlib",
    "metar",
    "numpy",
    "pandas",
    "pydantic",
    "pyproj",
    "rich",
    "shapely",
    "sqlalchemy",
    "stamina",
]


@pytest.mark.parametrize("call", ["", "main(['--help'])", "main(['--version'])", "main(['no-such-command'])"])
def test_the_door_opens_without_heavy_libraries(call: str) -> None:
    program = f"""
import sys
from refuge.cli import main
try:
    {call or "pass"}
except SystemExit:
    pass
print("loaded:", *sorted(set({HEAVY!r}) & set(sys.modules)))
"""
    result = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert result.stdout.splitlines()[-1].split() == ["loaded:"]
