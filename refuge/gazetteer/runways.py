"""OurAirports' table of runways to `Runway` values, by airport."""

import re
from collections import defaultdict

import numpy as np
import pandas as pd

from refuge.airfield import Runway
from refuge.gazetteer.columns import known, numbers
from refuge.gazetteer.report import Tally
from refuge.gazetteer.surfaces import surface_of

LONGEST_FT = 20_000.0
"""No paved runway is longer (the longest has about 18,000 ft; from memory): more is a mistake."""
WIDEST_FT = 6_000.0
"""Landing areas (``ALL``) reach a mile; more is a mistake."""
MOST_VARIATION_DEG = 60.0
"""Where runways are numbered magnetic north, no airfield's variation is larger (WMM2025, outside the
polar caps), so a heading further from the runway's number is a mistake."""

_HELIPAD = re.compile(r"H(?:\d+.*|EL.*|I|-.*|\d*)$")
_NUMBER = re.compile(r"(\d{1,2})[LCRWGSU]?$")
_LIT = {"1": True, "0": False}


def runways_by_airport(
    table: pd.DataFrame, wanted: "pd.Series[str]", gone: "set[str]", tally: Tally
) -> dict[str, tuple[Runway, ...]]:
    """Return the runways of each wanted airport, by the airport's number in the source.

    Parameters
    ----------
    table : DataFrame
        The runways as text.
    wanted : Series of str
        Idents of the airports that are kept, indexed by their numbers.
    gone : set of str
        Numbers of the airports that were left out as closed.
    """
    refs, names = table["airport_ref"].str.strip(), table["airport_ident"]
    mine = refs.isin(wanted.index)
    of_closed = refs.isin(gone)
    unflagged = of_closed & (table["closed"].str.strip() != "1")
    tally.add("dropped", "runway of a closed airfield, flagged closed itself", names[of_closed & ~unflagged])
    tally.add("dropped", "runway of a closed airfield, not flagged closed itself", names[unflagged])
    rest = names[~mine & ~of_closed]
    tally.add("dropped", "runway of a place left out (heliport and the like), or of none", rest)
    table = table[mine].assign(ref=refs[mine], at=refs[mine].map(wanted))
    table = table[~_helipads(table, tally)]
    found: dict[str, list[Runway]] = defaultdict(list)
    for ref, runway in zip(table["ref"], _values(table, tally), strict=True):
        found[ref].append(runway)
    return {ref: _merged(runways, wanted[ref], tally) for ref, runways in found.items()}


def _helipads(table: pd.DataFrame, tally: Tally) -> "pd.Series[bool]":
    pads = table["le_ident"].str.strip().str.upper().str.match(_HELIPAD)
    tally.add("dropped", "helipad among an airfield's runways", table["at"][pads])
    return pads


def _values(table: pd.DataFrame, tally: Tally) -> list[Runway]:
    at = table["at"]
    length = numbers(table["length_ft"], 1.0, LONGEST_FT, what="runway length", names=at, tally=tally)
    width = numbers(table["width_ft"], 1.0, WIDEST_FT, what="runway width", names=at, tally=tally)
    heading = numbers(table["le_heading_degT"], 0.0, 360.0, what="runway heading", names=at, tally=tally)
    swapped = width > length
    tally.add("changed", "runway wider than long: length and width taken as unknown", at[swapped])
    length[swapped] = width[swapped] = np.nan
    idents = [_idents(low, high) for low, high in zip(table["le_ident"], table["he_ident"], strict=True)]
    heading = _plausible(heading, idents, at, tally)
    texts = table["surface"].str.strip()
    said_closed = texts.str.lower().str.contains("closed", regex=False)
    tally.add("changed", "runway whose surface says closed: taken as closed", at[said_closed])
    not_open = (table["closed"].str.strip() != "0") | said_closed
    tally.add("noted", "closed runway of an open airfield: kept, marked closed", at[not_open])
    lit = table["lighted"].str.strip().map(_LIT.get)
    columns = zip(idents, length, width, texts, lit, not_open, heading, strict=True)
    return [
        Runway(
            idents=ident,
            length_ft=None if np.isnan(long) else round(long),
            width_ft=None if np.isnan(wide) else round(wide),
            surface=surface_of(text),
            surface_text=text,
            lighted=None if lights is None else bool(lights),
            closed=bool(shut),
            heading_deg_true=known(head),
        )
        for ident, long, wide, text, lights, shut, head in columns
    ]


def _idents(low: str, high: str) -> str:
    low, high = low.strip(), high.strip()
    return f"{low}/{high}" if low and high else low or high


def _plausible(heading: np.ndarray, idents: list[str], at: "pd.Series[str]", tally: Tally) -> np.ndarray:
    """Return the headings, NaN where the runway's own number says something quite different."""
    numbered = np.array(
        [int(m[1]) * 10.0 if (m := _NUMBER.match(ident.split("/")[0])) else np.nan for ident in idents]
    )
    with np.errstate(invalid="ignore"):
        off = np.abs((heading - numbered + 180.0) % 360.0 - 180.0) > MOST_VARIATION_DEG
    which = [
        f"{name} {ident}: {h:.0f}"
        for name, ident, h in zip(at[off], np.array(idents)[off], heading[off], strict=True)
    ]
    tally.add("changed", "runway heading contradicts the runway's number: taken as unknown", which)
    return np.where(off, np.nan, heading)


def _merged(runways: list[Runway], at: str, tally: Tally) -> tuple[Runway, ...]:
    """Return the runways with twin rows made one: the shorter, for it may be the true one."""
    kept: dict[str, Runway] = {}
    for runway in runways:
        key = runway.idents or f"#{len(kept)}"
        twin = kept.get(key)
        kept[key] = runway if twin is None else _worse(twin, runway)
        if twin is not None:
            tally.add("merged", "two rows of one runway: the worse of each value kept", [f"{at} {key}"])
    return tuple(kept.values())


def _worse(a: Runway, b: Runway) -> Runway:
    return Runway(
        idents=a.idents,
        length_ft=None if a.length_ft is None or b.length_ft is None else min(a.length_ft, b.length_ft),
        width_ft=None if a.width_ft is None or b.width_ft is None else min(a.width_ft, b.width_ft),
        surface=a.surface if a.surface == b.surface else "unknown",
        surface_text=" | ".join(dict.fromkeys((a.surface_text, b.surface_text))),
        lighted=a.lighted if a.lighted == b.lighted else None,
        closed=a.closed or b.closed,
        heading_deg_true=a.heading_deg_true if a.heading_deg_true == b.heading_deg_true else None,
    )
