"""How long a full battery carries a current, and how fast a published duration is used up."""

from refuge.aircraft.parts import Capacity, Chemistry, Duration

UNSHED_RATIO = 2.0
"""Unshed load by shed load where a file does not say: method.md 2."""
ONE_HOUR_OF_FIVE = 0.85
"""Capacity at the 1-hour rate from that at the 5-hour rate (CAP 562 leaflet 4.1, reference.md 4.2)."""
PEUKERT: dict[Chemistry | None, float] = {"lead-acid": 1.3, "lithium": 1.05, "other": 1.6, None: 1.6}
"""Exponents where a file states none: the top of the range of reference.md 4.3 for lead-acid, and of
all kinds where the kind is not known; lithium from memory."""


def peukert_min(*, ah: float, rate_h: float, exponent: float, amps: float) -> float:
    """Return minutes at `amps` of a battery of `ah` at the `rate_h` rate: t = 60 H (C / (I H))^k."""
    return float(60.0 * rate_h * (ah / (amps * rate_h)) ** exponent)


class Cell:
    """One battery counted in Ah, at full charge: what a current takes out of it."""

    __slots__ = ("ah", "exponent", "full_amp_min", "rate_h")

    def __init__(self, capacity: Capacity, chemistry: Chemistry | None) -> None:
        five = capacity.rate_h == 5  # the one other rate with a published conversion
        self.ah = capacity.ah * ONE_HOUR_OF_FIVE if five else capacity.ah
        self.rate_h = 1.0 if five else capacity.rate_h
        self.exponent = PEUKERT[chemistry] if capacity.peukert is None else capacity.peukert
        self.full_amp_min = 60.0 * self.ah

    def full_min(self, amps: float) -> float:
        """Return how long it carries `amps` when full: by Peukert's law, and never more than nameplate."""
        capped = self.full_amp_min / amps
        return min(capped, peukert_min(ah=self.ah, rate_h=self.rate_h, exponent=self.exponent, amps=amps))


def used_per_min(duration: Duration, now_min: float, *, shed_min: float, usual_shed_min: float) -> float:
    """Return how many published minutes one minute in use costs at `now_min` after the failure.

    A duration counted from the failure foresees the unshed load until `shed_by_min`, else until the usual
    recognition time; one counted from shed is held with the unshed load until then at least, since shedding sooner
    earns nothing. Later, each minute with the load not shed costs `unshed_ratio` minutes.
    """
    ratio = UNSHED_RATIO if duration.unshed_ratio is None else duration.unshed_ratio
    by_min = usual_shed_min if duration.shed_by_min is None else duration.shed_by_min
    if duration.counts_from == "failure":
        return ratio if by_min <= now_min < shed_min else 1.0
    return ratio if now_min < max(by_min, shed_min) else 1.0


def idle_per_min(duration: Duration, now_min: float, factor: float) -> float:
    """Return what one idle minute costs: what was foreseen for the unshed load is not kept for later."""
    if duration.counts_from == "failure" or duration.shed_by_min is None or now_min >= duration.shed_by_min:
        return 0.0
    return factor * (UNSHED_RATIO if duration.unshed_ratio is None else duration.unshed_ratio)


def held_min(duration: Duration) -> float:
    """Return the whole of a published duration in minutes at the shed load, at the failure."""
    if duration.counts_from == "failure" or duration.shed_by_min is None:
        return duration.minutes
    ratio = UNSHED_RATIO if duration.unshed_ratio is None else duration.unshed_ratio
    return duration.minutes + ratio * duration.shed_by_min
