"""Limits beyond which a figure of a file is a slip of the pen: a piston or turboprop single cannot have it.

All are common practice without a source, drawn wide: a figure within them is not thereby right. What is only
unusual is for ``refuge check`` to say.
"""

from pydantic import AfterValidator


def within(low: float, high: float, unit: str) -> AfterValidator:
    """Return what refuses a number outside `low` to `high`, naming both and what to look at."""

    def checked(value: float) -> float:
        if not low <= value <= high:
            bounds = f"must be from {low:,g} to {high:,g} {unit} for a single-engine aircraft"
            raise ValueError(f"{bounds}: look at the figure and its unit")
        return value

    return AfterValidator(checked)


TAS_KT = within(40, 350, "kt")
"""From the slowest that flies on instruments to the fastest turboprop single."""
DESCENT_FT_MIN = within(100, 3000, "ft/min")
CLIMB_FT_MIN = within(50, 4000, "ft/min")
RESERVE_MIN = within(0, 300, "min")
RECOGNITION_MIN = within(0, 120, "min")
LANDING_MIN = within(1, 60, "min")
"""reference.md 4.2 has 5 to 10 min; none at all would carry the landing load for nothing."""
DURATION_MIN = within(0, 600, "min")
SHED_BY_MIN = within(0, 60, "min")
UNSHED_RATIO = within(1, 20, "times the shed load")
CAPACITY_AH = within(0.1, 200, "Ah")
RATE_H = within(0.1, 24, "h")
PEUKERT = within(1, 2, "as exponent")
LOAD_A = within(0.01, 300, "A")
RATED_A = within(1, 500, "A")
WARMING_C_PER_H = within(0, 60, "C an hour")
WARMED_C = within(-40, 40, "C")
"""A box in the cabin becomes no warmer than the cabin."""
