"""The raw text of one report or forecast, with where it came from and when it was received."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Kind(StrEnum):
    """What a bulletin holds."""

    METAR = "METAR"
    """One surface observation, METAR or SPECI."""
    TAF = "TAF"
    """One aerodrome forecast."""
    WINDS = "WINDS"
    """One whole winds and temperatures aloft bulletin (FD/FB), with its header."""
    GUIDANCE = "GUIDANCE"
    """One station's block of LAMP or National Blend guidance, with its header."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bulletin:
    """One bulletin as received; append-only, never edited.

    ``raw`` is the text of exactly one report (METAR, TAF), block (GUIDANCE) or one whole bulletin (WINDS).
    ``received_at`` is aware UTC; every DDHHMM inside is resolved against it.
    """

    kind: Kind
    raw: str
    source: str
    received_at: datetime
