"""One source's airfields with every code they go by."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from refuge.airfield import Airfield
from refuge.gazetteer.report import ImportReport, Tally

LOWEST_FT = -1500.0
"""Below the shore of the Dead Sea (about -1,410 ft), the lowest dry land: lower is a mistake."""
HIGHEST_FT = 20_000.0
"""Above the highest airfield (about 14,470 ft) and the highest known strip with some to spare."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gazette:
    """Airfields, and for each id the codes by which a station may go that stands at the field.

    The codes come in order of trust: the first is the one that the authority gives now.
    """

    airfields: tuple[Airfield, ...]
    codes: Mapping[str, tuple[str, ...]]
    report: ImportReport


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
