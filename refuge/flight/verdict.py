"""Meets, misses or unknown: in arrays an int8 code whose least is the worst, in words a verdict."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

Word = Literal["meets", "misses", "unknown", "not_checked"]
Codes = npt.NDArray[np.int8]

MISSES, UNKNOWN, MEETS, NOT_CHECKED = np.int8(0), np.int8(1), np.int8(2), np.int8(3)
"""Ordered so that the minimum of several checks is their sum: one miss makes a miss, otherwise one
unknown makes unknown. A check that was not made (NOT_CHECKED) is never counted."""

WORDS: tuple[Word, ...] = ("misses", "unknown", "meets", "not_checked")


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """The outcome of one check in words: the verdict, and why."""

    verdict: Word
    why: str


def worst(*codes: Codes) -> Codes:
    """Return the element-wise sum of several checks; UNKNOWN where none was made at all."""
    stacked = np.minimum.reduce(np.broadcast_arrays(*codes))
    return np.where(stacked == NOT_CHECKED, UNKNOWN, stacked).astype(np.int8)


def at_best_unknown(codes: Codes) -> Codes:
    """Return `codes` with every MEETS turned into UNKNOWN."""
    return np.minimum(codes, UNKNOWN).astype(np.int8)


def no_worse_than_unknown(codes: Codes) -> Codes:
    """Return `codes` with every MISSES turned into UNKNOWN; nothing becomes MEETS."""
    return np.maximum(codes, UNKNOWN).astype(np.int8)
