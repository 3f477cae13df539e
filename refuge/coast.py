"""Coasts and borders as values: what a map draws under an answer. No verdict ever rests on them."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Line = npt.NDArray[np.float64]
"""Points along a line, shape (n, 2): longitude and latitude in degrees. It may cross 180 degrees anywhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coast:
    """Land as polygons (each an outer ring and its holes), coasts and borders as lines, and whose they are."""

    land: tuple[tuple[Line, ...], ...]
    coasts: tuple[Line, ...]
    borders: tuple[Line, ...]
    said: str

    def joined(self, other: "Coast") -> "Coast":
        """Return both in one."""
        return Coast(
            land=self.land + other.land,
            coasts=self.coasts + other.coasts,
            borders=self.borders + other.borders,
            said=f"{self.said}; {other.said}",
        )
