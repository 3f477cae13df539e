"""The coefficient file of the magnetic model that the wheel carries, parsed into a value."""

from functools import cache
from pathlib import Path

import numpy as np

from refuge.errors import InputError
from refuge.magnetism import MagneticModel
from refuge.packaged import packaged

_FILE = "WMM2025.COF"
_DEGREE, _ROWS = 12, 90
_END = "9" * 48


@cache
def magnetic_model() -> MagneticModel:
    """Return the World Magnetic Model that this installation carries."""
    return load_magnetic_model(packaged("coefficients") / _FILE)


def load_magnetic_model(path: Path) -> MagneticModel:
    """Return the model of a coefficient file: epoch, name and date, then lines of n, m, g, h and their change.

    Raises
    ------
    InputError
        If the file cannot be read, or is not a whole model of degree 12.
    """
    try:
        lines = path.read_text(encoding="ascii").splitlines()
        epoch, name, _ = lines[0].split()
        rows = [line.split() for line in lines[1:] if line.strip() and line.strip() != _END]
        numbers = {(int(n), int(m)): tuple(float(x) for x in rest) for n, m, *rest in rows}
        arrays = np.zeros((4, _DEGREE + 1, _DEGREE + 1))
        for (n, m), values in numbers.items():
            arrays[:, n, m] = values
        started = float(epoch)
    except (OSError, ValueError, IndexError) as exc:
        raise _broken(path) from exc
    wanted = {(n, m) for n in range(1, _DEGREE + 1) for m in range(n + 1)}
    if len(rows) != _ROWS or set(numbers) != wanted:
        raise _broken(path)
    g, h, g_change, h_change = arrays
    return MagneticModel(
        name=name, epoch=started, g_nt=g, h_nt=h, g_nt_a_year=g_change, h_nt_a_year=h_change
    )  # fmt: skip


def _broken(path: Path) -> InputError:
    return InputError(
        "is no whole set of coefficients of the World Magnetic Model",
        where=str(path),
        remedy="install refuge again",
    )
