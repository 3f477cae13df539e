"""What is left of a battery's published duration: temperature, age, and its last capacity check."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from refuge.aircraft.network import Source

LEAD_ACID = ((-29.0, 0.20), (-18.0, 0.40), (0.0, 0.75), (20.0, 1.0))
"""Share of capacity by temperature in C: TM 10-6140-200-14 for 0 and -18 C, TM 5-4210-230 (cranking)
for -29 C. Colder than the table counts as empty (method.md 8)."""
LITHIUM = ((-20.0, 0.50), (0.0, 0.80), (20.0, 1.0))
"""The low ends of reference.md 4.4, from memory. Colder than the table counts as empty."""
RELIABLE_PERCENT = 80.0
"""A battery that measures less cannot be relied upon in an emergency (reference.md 4.4)."""
OLD_YEARS = 5.0
OLD_FACTOR = 0.8
"""Past five years and not tested, at most this is left (reference.md 4.4, a proposal)."""
CHECK_VALID_DAYS = 366
"""A capacity check speaks for a year: reference.md 4.4 has 'annually', from memory."""
DAYS_A_YEAR = 365.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Derating:
    """The share of a source's published duration that counts, and whether it can be relied upon.

    ``notes`` say why, in words; ``doubts`` why it cannot be relied upon. Without doubts it can.
    """

    factor: float
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


def derate(source: Source, *, on: date, temperature_c: float | None) -> Derating:
    """Return what counts of `source` on the day `on`, with the battery at `temperature_c`.

    A capacity check and an age are two views of one loss: the worse counts, once. Without a
    temperature nothing is taken off for cold; the answer says so.
    """
    cold = _for_temperature(source, temperature_c)
    worn = _for_wear(source, on)
    return Derating(
        factor=cold.factor * worn.factor,
        notes=cold.notes + worn.notes,
        doubts=cold.doubts + worn.doubts,
    )


def share_at(table: Sequence[tuple[float, float]], temperature_c: float) -> float:
    """Return the share at `temperature_c`, linear between rows; 0 below the table, 1 above it."""
    if temperature_c < table[0][0]:
        return 0.0
    for (low_c, low), (high_c, high) in pairwise(table):
        if temperature_c <= high_c:
            return low + (high - low) * (temperature_c - low_c) / (high_c - low_c)
    return 1.0


def _for_temperature(source: Source, temperature_c: float | None) -> Derating:
    if temperature_c is None or temperature_c >= LEAD_ACID[-1][0]:
        return Derating(factor=1.0)
    if source.chemistry == "lead-acid":
        factor, kind = share_at(LEAD_ACID, temperature_c), "lead-acid"
    elif source.chemistry == "lithium":
        factor, kind = share_at(LITHIUM, temperature_c), "lithium, from memory"
    else:
        factor = min(share_at(LEAD_ACID, temperature_c), share_at(LITHIUM, temperature_c))
        kind = "the worse of the known kinds"
    note = f"{factor * 100:.0f} % at {temperature_c:g} C ({kind})"
    if source.chemistry in {"lead-acid", "lithium"}:
        return Derating(factor=factor, notes=(note,))
    doubt = "how it bears cold is not known: its `chemistry` is not stated or has no table"
    return Derating(factor=factor, notes=(note,), doubts=(doubt,))


def _for_wear(source: Source, on: date) -> Derating:
    check, since = source.check, source.in_service
    tested = (
        check is not None and check.percent >= RELIABLE_PERCENT and 0 <= (on - check.on).days <= CHECK_VALID_DAYS
    )
    age_known = since is not None and since <= on
    old = since is None or since > on or (on - since).days > OLD_YEARS * DAYS_A_YEAR
    factor = OLD_FACTOR if old and not tested else 1.0
    notes: list[str] = []
    doubts: list[str] = []
    if factor < 1:
        notes.append(f"{factor * 100:.0f} % as it is over {OLD_YEARS:g} years old or of unknown age, not tested")
    if not age_known:
        doubts.append(f"its age on {on} is not known (`in_service`)")
    if check is not None and check.percent < RELIABLE_PERCENT:
        factor = min(factor, check.percent / 100)
        notes.append(f"{factor * 100:.0f} % after its capacity check")
        doubts.append(f"its capacity check of {check.on} is below {RELIABLE_PERCENT:g} %")
    return Derating(factor=factor, notes=tuple(notes), doubts=tuple(doubts))
