"""What is left of a battery: temperature, age, its last capacity check, and its state of charge."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from refuge.aircraft.parts import Source
from refuge.units import celsius

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
NAMEPLATE_FACTOR = 0.8
"""Of a nameplate capacity, for deterioration between checks (CAP 562 leaflet 4.1, reference.md 4.2)."""
CHARGED_PERCENT = 90.0
"""State of charge of a battery counted in Ah, where none is stated (reference.md 4.2, from memory)."""
CHECK_VALID_DAYS = 366
"""A capacity check speaks for a year: reference.md 4.4 has 'annually', from memory."""
DAYS_A_YEAR = 365.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Derating:
    """The share of a source's published duration or rated capacity that counts, and whether it can be relied upon.

    ``notes`` say why, in words; ``doubts`` why it cannot be relied upon. Without doubts it can.
    """

    factor: float
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


def derate(source: Source, *, on: date, temperature_c: float | None) -> Derating:
    """Return what counts of `source` on the day `on`, with the battery at `temperature_c`.

    A capacity check and an age are two views of one loss: the worse counts, once. Without a
    temperature nothing is taken off for cold; the answer says so. A nameplate capacity is further from
    what a battery gives than a published duration: it starts at 80 %, and 90 % charged.
    """
    cold = _for_temperature(source, temperature_c)
    worn = _for_wear(source, on)
    charged = _for_charge(source)
    return Derating(
        factor=cold.factor * worn.factor * charged.factor,
        notes=cold.notes + worn.notes + charged.notes,
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
    note = f"{factor * 100:.0f} % at {celsius(temperature_c)} C ({kind})"
    if source.chemistry in {"lead-acid", "lithium"}:
        return Derating(factor=factor, notes=(note,))
    doubt = "how it bears cold is not known: its `chemistry` is not stated or has no table"
    return Derating(factor=factor, notes=(note,), doubts=(doubt,))


def _for_charge(source: Source) -> Derating:
    if source.charge is not None:
        percent, why = source.charge.value, f"{source.charge.basis}; {source.charge.source}"
    elif _in_ah(source):
        percent, why = CHARGED_PERCENT, "taken, as no state of charge is given; from memory"
    else:
        return Derating(factor=1.0)
    return Derating(factor=percent / 100, notes=(f"{percent:g} % charged ({why})",))


def _in_ah(source: Source) -> bool:
    return source.capacity is not None and source.duration is None


def _for_wear(source: Source, on: date) -> Derating:
    check, since = source.check, source.in_service
    passed = check is not None and check.percent >= RELIABLE_PERCENT
    tested = check is not None and passed and 0 <= (on - check.on).days <= CHECK_VALID_DAYS
    age_known = since is not None and since <= on
    old = since is None or since > on or (on - since).days > OLD_YEARS * DAYS_A_YEAR
    factor, why = 1.0, ""
    if check is not None and tested and _in_ah(source):
        factor, why = min(1.0, check.percent / 100), f"by its capacity check of {check.on} ({check.source})"
    elif _in_ah(source) and not tested:
        factor, why = NAMEPLATE_FACTOR, "of nameplate, without a capacity check in the last year (CAP 562)"
    elif old and not tested:
        factor, why = OLD_FACTOR, f"as it is over {OLD_YEARS:g} years old or of unknown age, not tested"
    doubts = [] if age_known else [f"its age on {on} is not known (`in_service`)"]
    if check is not None and not passed:
        if check.percent / 100 < factor:
            factor, why = check.percent / 100, "after its capacity check"
        doubts.append(f"its capacity check of {check.on} is below {RELIABLE_PERCENT:g} %")
    notes = (f"{factor * 100:.0f} % {why}",) if factor < 1 else ()
    return Derating(factor=factor, notes=notes, doubts=tuple(doubts))
