"""One source's airfields with every code they go by."""

from collections.abc import Mapping
from dataclasses import dataclass

from refuge.airfield import Airfield
from refuge.gazetteer.report import ImportReport

LOWEST_FT = -1500.0
"""Below the shore of the Dead Sea (about -1,410 ft), the lowest dry land: lower is a mistake."""
HIGHEST_FT = 20_000.0
"""Above the highest airfield (about 14,470 ft) and the highest known strip with some to spare."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gazette:
    """Airfields, and for each id the codes by which a station may go that stands at the field.

    The codes come in order of trust: the first is the one that the authority gives now.
    """

    airfields: tuple[Airfield, ...]
    codes: Mapping[str, tuple[str, ...]]
    report: ImportReport
