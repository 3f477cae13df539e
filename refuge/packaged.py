"""Files that the wheel carries (migrations, coefficients, map, demo), found alike in a wheel and in a clone."""

from pathlib import Path

from refuge.errors import MissingDataError

_PACKAGE = Path(__file__).resolve().parent
_IN_CLONE = {"coefficients": "coefficients", "map": "map", "migrations": "migrations", "demo": "fixtures/demo"}
"""Name in the wheel (below ``refuge/_data``) -> path from the root of a clone; see pyproject's force-include."""


def packaged(name: str) -> Path:
    """Return the folder of this name: in a clone the one being edited, else the wheel's copy.

    Raises
    ------
    MissingDataError
        If neither is there: the installation is incomplete.
    """
    clone = _PACKAGE.parent
    # A stray folder beside site-packages must not be taken for a clone.
    if (clone / "pyproject.toml").is_file() and (clone / _IN_CLONE[name]).is_dir():
        return clone / _IN_CLONE[name]
    inside = _PACKAGE / "_data" / name
    if inside.is_dir():
        return inside
    raise MissingDataError(
        f"the packaged folder {name!r} is missing", where=str(inside), remedy="install refuge again"
    )
