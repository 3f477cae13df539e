"""Runway surfaces: hundreds of spellings to hard, soft, water or unknown.

A spelling is split into words. Every word must stand in the table below, or the surface is
unknown. A runway that is partly soft is soft, one that is partly water is water, and one with a
part that nobody understands is unknown: never better than its worst part. Single letters
(``G``, ``C``, ``S``...) are left unknown: grass or gravel, concrete or clay, sod or sand?

Sources: FAA NASR layout of APT_RWY, SURFACE_TYPE_CODE (ASPH, CONC, GRVL, TURF, DIRT, TREATED,
MATS, PEM, SNOW, ICE, WATER, and the condition E, G, F, P after a dash); three-letter codes
(ASP, CON, GRE, GRS, GVL, COM, COP, LAT, MAC, PER, PSP...) as in US Government flight information
tables, from memory; the rest are plain words, in the languages in which they are found.
"""

import re
from functools import lru_cache

from refuge.airfield import Surface

HARD = """
    asphalt asph asp asb asfalt asfalto ashpalt ashphalt asphault ashp apsh concrete conc con cocrete
    coccrete cdncrete c0n cement cem bitumen bituminous bitum bit tar tarmac tarred blacktop chipseal
    brick bri paved paving pavement sealed hard per pem pfc
"""
"""Paved. PEM: part concrete, part asphalt or bitumen-bound. PER: permanent. ``hard`` beside a soft
word (hard clay) is soft by the rule for parts."""

SOFT = """
    turf tuef torf grass gras graas grasss grassy grassed grs gra gre sod herba herbe erba moss
    gravel grvl gvl grv grav dirt earth eartth eerth ground soil clay blackclay cla silt silty loam mud
    sand sandy san salt shale shaly schist rock rocky stone limestone slag cinders shells coral cor
    corral caliche calcrete laterite lat lakebed picarra piçarra piçaara piç pic saibro maicillo murram
    zahorra oilgravel oligravel aggregate macadam mac hardcore unpaved unsealed treated trtd oiled
    graded soft com cop psp planking mats mat lake loose
"""
"""Not paved, or not all of it. COM and COP: composite, partly permanent. MATS and PSP: landing mats.
TREATED: oiled or stabilised soil. GRE: graded earth."""

WATER = "water wat"

NEUTRAL = """
    and or with of on over the not natural terrain compacted compacta compactada packed rolled crushed
    grooved grvd surfaced surface runway coating reinforced penetration good red brown black white grey
    yellow river granite volcanic ash impregnated rough dry disk dust blocks ceramic summer
"""
"""Words that say nothing about the kind. They count only beside a word that does."""

_SAYS: dict[str, Surface | None] = {
    **dict.fromkeys(HARD.split(), "hard"),
    **dict.fromkeys(SOFT.split(), "soft"),
    **dict.fromkeys(WATER.split(), "water"),
    **dict.fromkeys(NEUTRAL.split()),
}
_CONDITION = re.compile(r"-[EGFP]$", re.IGNORECASE)
"""Excellent, good, fair, poor after an FAA code; failed (``-L``) is not taken off: unknown."""
_WORD = re.compile(r"\w+")


@lru_cache(maxsize=4096)
def surface_of(text: str) -> Surface:
    """Return the kind of surface that `text` names; ``unknown`` unless every word is understood."""
    words = _WORD.findall(_CONDITION.sub("", text.strip()).lower())
    if not all(word in _SAYS for word in words):
        return "unknown"
    kinds = {_SAYS[word] for word in words}
    if "water" in kinds:
        return "water"
    if "soft" in kinds:
        return "soft"
    return "hard" if "hard" in kinds else "unknown"
