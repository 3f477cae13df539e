"""Columns of text to numbers, each cell that is none counted."""

import numpy as np
import numpy.typing as npt
import pandas as pd

from refuge.gazetteer.report import Tally


def numbers(
    column: "pd.Series[str]", low: float, high: float, *, what: str, names: "pd.Series[str]", tally: Tally
) -> npt.NDArray[np.float64]:
    """Return the numbers of a text column, NaN where there is none or none between `low` and `high`.

    What is written and is no such number is counted as changed to unknown; an empty cell is not.
    The NaN never leaves this package: see `known`.
    """
    values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=float)
    with np.errstate(invalid="ignore"):
        good = (values >= low) & (values <= high)
    wrong = ~good & (column.str.strip() != "").to_numpy(dtype=bool)
    tally.add(
        "changed",
        f"{what} is no number from {low:,.0f} to {high:,.0f}: taken as unknown",
        [f"{name}: {text}" for name, text in zip(names[wrong], column[wrong], strict=True)],
    )
    return np.where(good, values, np.nan)


def known(value: float) -> float | None:
    """Return `value`, or ``None`` for NaN."""
    return None if np.isnan(value) else float(value)
