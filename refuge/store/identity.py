"""What makes two receipts the same bulletin."""

import hashlib
import re
from datetime import datetime
from functools import lru_cache

from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.metar import past_instants
from refuge.zulu import aware_utc, iso

_DDHHMM = re.compile(r"(?<![\w/])(\d{2})(\d{2})(\d{2})Z?(?![\w/])")
_CORRECTION = re.compile(r"(?<!\S)(?:COR|CC([A-Z]))(?!\S)")


def digest_of(bulletin: Bulletin) -> str:
    """Return 32 hex digits that two receipts share exactly when they are one bulletin.

    They are when kind, text (spaces and a closing ``=`` aside) and the instant that the first
    DDHHMM group resolves to are equal: the same words a month later are another bulletin. A text
    without such a group is told apart by its day of receipt. What the decoder makes of the rest has
    no say, so that decoding anew never changes what is one bulletin. Guidance is told apart by
    its text alone, which gives its date in full.
    """
    text = _normal(bulletin)
    received_at = aware_utc(bulletin.received_at)
    if bulletin.kind is Kind.GUIDANCE:
        anchor = ""
    else:
        match = _DDHHMM.search(text)
        anchor = _anchor(match[0], received_at) if match else _day(received_at)
    whole = f"{bulletin.kind}\n{anchor}\n{text}".encode(errors="surrogatepass")
    return hashlib.blake2b(whole, digest_size=16).hexdigest()


@lru_cache(maxsize=4096)  # a cycle of thousands has few such groups
def _anchor(group: str, received_at: datetime) -> str:
    match = _DDHHMM.fullmatch(group)
    instants = past_instants(match, received_at) if match else []
    return iso(instants[0]) if instants else _day(received_at)


def _day(received_at: datetime) -> str:
    return received_at.date().isoformat()


def correction_rank(raw: str, *, corrected: bool) -> int:
    """Return 0 for an original, 1 for a correction (COR, CCA), 2 for CCB, and so on."""
    if not corrected:
        return 0
    match = _CORRECTION.search(raw.upper().partition(" RMK ")[0])
    return ord(match[1]) - ord("A") + 1 if match and match[1] else 1


def _normal(bulletin: Bulletin) -> str:
    if bulletin.kind in (Kind.WINDS, Kind.GUIDANCE):
        # Read by column: only the ends of lines are free.
        return "\n".join(map(str.rstrip, bulletin.raw.strip("\r\n").splitlines()))
    return " ".join(bulletin.raw.split()).upper().rstrip("= ")
