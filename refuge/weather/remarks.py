"""The remarks that make a report worse than its body (reference.md 2.3; FMH-1 12.7.1).

Remarks never improve anything. A number that follows ``VIS`` or ``CIG`` counts at its lowest,
whatever place it is for: a second site, a tower, a sector.
"""

import re
from collections.abc import Sequence

from refuge.weather.conditions import Conditions
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    Layer,
    UnknownCeiling,
    Visibility,
)
from refuge.weather.tokens import sm_from_fraction, sm_from_m
from refuge.weather.worse import doubted_ceiling, doubted_visibility, worse_ceiling, worse_visibility

_CEILING = re.compile(
    r"\bCIG(?:S| LWR| VRB| ESTD)*(?: (?:[NSEW]{1,3}|M))? ?M?(\d{1,3})(?:V\d{1,3}|-\d{1,3})?(?![\d/])", re.ASCII
)
_CEILING_WITHOUT_NUMBER = re.compile(r"\b(?:CHINO|(?:CIG|CLD|SKY) (?:MISG|LWR\b(?!(?: [NSEW]+)? \d)))", re.ASCII)
_VARIABLE_SKY = re.compile(r"\b(FEW|SCT|BKN|OVC)(\d{3})? V (FEW|SCT|BKN|OVC)\b", re.ASCII)
_OBSCURATION = re.compile(
    r"\b(?:FG|BR|FU|HZ|DU|SA|VA|PY|SS|DS|BLSN|BLDU|BLSA|\+?-?(?:SN|RA|DZ)) (BKN|OVC)(\d{3}|///)(?!\S)", re.ASCII
)
_VISIBILITY = re.compile(r"\bVIS\b", re.ASCII)
_VISIBILITY_WITHOUT_NUMBER = re.compile(r"\b(?:VISNO|VIS (?:MISG|LWR))\b", re.ASCII)
_PLACE = re.compile(r"(?:[NSEW]{1,3}|NORTH|SOUTH|EAST|WEST)(?:-[NSEW]{1,3})*", re.ASCII)
_WORDS = frozenset({"MIN", "VRB", "LWR", "AND", "SECTOR", "QUAD"})
_MILES = re.compile(r"(M)?(\d{1,2})?(?:(?<=\d)V.*|-.*|SM)?", re.ASCII)
_FRACTION = re.compile(r"(M)?(\d{1,2})/(\d{1,2})(?:V.*|-.*|SM)?", re.ASCII)
_METRES = re.compile(r"(\d{4})(?:V.*|M)?", re.ASCII)


def after_remarks(body: Conditions, lowest: Visibility, remarks: str | None) -> Conditions:
    """Return the conditions with the lowest visibility and all that the remarks take away.

    Parameters
    ----------
    body : Conditions
        What the body says.
    lowest : Visibility
        The lowest visibility of the body, sectors included.
    remarks : str or None
        The text after RMK.
    """
    ceiling, visibility = body.ceiling, lowest
    if remarks:
        if "CIG" in remarks or " V " in remarks or "BKN" in remarks or "OVC" in remarks:
            ceiling = _remarked_ceiling(ceiling, body.layers, remarks)
        if "VIS" in remarks:
            visibility = _remarked_visibility(visibility, remarks)
        if _CEILING_WITHOUT_NUMBER.search(remarks):
            ceiling = doubted_ceiling(ceiling, "remark: ceiling missing or lower nearby")
        if _VISIBILITY_WITHOUT_NUMBER.search(remarks):
            visibility = doubted_visibility(visibility, "remark: visibility missing or lower nearby")
    if ceiling is body.ceiling and visibility is body.visibility:
        return body
    return Conditions(
        ceiling=ceiling, visibility=visibility, wind=body.wind, weather=body.weather, layers=body.layers
    )


def _remarked_ceiling(ceiling: Ceiling, layers: Sequence[Layer], remarks: str) -> Ceiling:
    for match in _CEILING.finditer(remarks):
        ceiling = worse_ceiling(ceiling, CeilingAt(ft_agl=int(match[1]) * 100))
    for match in _OBSCURATION.finditer(remarks):
        hidden: Ceiling = UnknownCeiling(reason=f"remark: {match[0]}")
        if match[2] != "///":
            hidden = CeilingAt(ft_agl=int(match[2]) * 100)
        ceiling = worse_ceiling(ceiling, hidden)
    for match in _VARIABLE_SKY.finditer(remarks):
        ceiling = worse_ceiling(ceiling, _variable_ceiling(ceiling, layers, match))
    return ceiling


def _variable_ceiling(ceiling: Ceiling, layers: Sequence[Layer], match: re.Match[str]) -> Ceiling:
    """Return the ceiling at the layer that varies, where one side of it is BKN or OVC."""
    amounts = {match[1], match[3]}
    if not amounts & {"BKN", "OVC"}:
        return ceiling
    if match[2] is not None:
        return CeilingAt(ft_agl=int(match[2]) * 100)
    bases_ft = [layer.base_ft_agl for layer in layers if layer.amount in amounts and layer.base_ft_agl is not None]
    if not bases_ft:
        return UnknownCeiling(reason=f"remark {match[0]} without a layer that it fits")
    return CeilingAt(ft_agl=min(bases_ft))


def _remarked_visibility(visibility: Visibility, remarks: str) -> Visibility:
    for match in _VISIBILITY.finditer(remarks):
        for value in _values_after(remarks[match.end() : match.end() + 60].split()):
            visibility = worse_visibility(visibility, value)
    return visibility


def _values_after(words: Sequence[str]) -> list[KnownVisibility]:
    """Return the visibilities that follow VIS, up to the first word that belongs to no visibility."""
    values: list[KnownVisibility] = []
    whole: KnownVisibility | None = None
    for word in words:
        fraction = _FRACTION.fullmatch(word)
        if fraction is not None:
            sm = sm_from_fraction(fraction[2], fraction[3])
            if sm is None:
                break
            value = KnownVisibility(sm=sm, bound=_bound(fraction[1]))
            if whole is not None and sm < 1:
                value = KnownVisibility(sm=whole.sm + sm, bound=whole.bound)
                values.pop()
            values.append(value)
            whole = None
            continue
        miles, metres = _MILES.fullmatch(word), _METRES.fullmatch(word)
        if miles is not None and miles[2] is not None:
            values.append(KnownVisibility(sm=float(miles[2]), bound=_bound(miles[1])))
            if "V" in word or "-" in word:
                break  # what follows is the upper end
            whole = values[-1]
        elif metres is not None:
            values.append(KnownVisibility(sm=sm_from_m(float(metres[1]))))
            whole = None
        elif word in _WORDS or _PLACE.fullmatch(word):
            whole = None
        else:
            break
    return values


def _bound(letter: str | None) -> Bound:
    return Bound.LESS_THAN if letter else Bound.EXACTLY
