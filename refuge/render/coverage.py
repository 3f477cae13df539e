"""Coverage as JSON values and as text."""

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from refuge.earth import Box
from refuge.flight.caution import CAUTION
from refuge.flight.coverage import KINDS, USABLE_FT, Coverage, Hole, holes
from refuge.flight.state_arrays import Bools
from refuge.zulu import iso

ASSUMED = "with guidance assumed at every US station that reports"
MOST_NAMES = 3
WIDTH = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """What a region's airfields rest on: as the store has heard, and with guidance assumed."""

    region: str
    now: datetime
    stations: str
    heard: Coverage
    assumed: Coverage


def coverage_json(found: Covered) -> dict[str, Any]:
    """Return coverage as JSON values."""
    return {
        "region": found.region,
        "now": iso(found.now),
        "stations": found.stations,
        "airfields": len(found.heard.airfields),
        "usable": int(found.heard.usable.sum()),
        "usable_means": _usable(),
        "kinds": [
            {
                "kind": kind,
                "all": found.heard.counts(_everything(found.heard))[k],
                "usable": found.heard.counts(found.heard.usable)[k],
                "usable_with_guidance_assumed": found.assumed.counts(found.assumed.usable)[k],
            }
            for k, kind in enumerate(KINDS)
        ],
        "shares_of_usable": {"heard": _shares(found.heard), "guidance_assumed": _shares(found.assumed)},
        "assumed": ASSUMED,
        "holes": [_hole_json(hole) for hole in holes(found.heard)],
        "caution": CAUTION,
    }


def _everything(found: Coverage) -> Bools:
    return np.ones(found.kind.shape, dtype=bool)


def _shares(found: Coverage) -> dict[str, float | None]:
    """Return shares of usable airfields; ``None`` where there is none."""
    among = found.usable
    if not among.any():
        return dict.fromkeys(("own_report", "report", "report_and_forecast", "nothing"))
    masks = {
        "own_report": found.own_report,
        "report": found.report,
        "report_and_forecast": found.report & found.forecast,
        "nothing": found.kind == len(KINDS) - 1,
    }
    return {name: round(float(mask[among].mean()), 4) for name, mask in masks.items()}


def _hole_json(hole: Hole) -> dict[str, Any]:
    box = hole.box
    return {
        "south": box.lat_south_deg, "north": box.lat_north_deg, "west": box.lon_west_deg, "east": box.lon_east_deg,
        "nothing_known": hole.bare, "usable": hole.usable, "airfields": list(hole.names),
    }  # fmt: skip


def _usable() -> str:
    return f"at least {USABLE_FT:,.0f} ft of hard runway"


def coverage_text(found: Covered) -> str:
    """Return coverage as a table, with the worst holes under it."""
    return "\n".join([*_table(found), "", *_holes(holes(found.heard)), "", *textwrap.wrap(CAUTION, WIDTH)]) + "\n"


def _table(found: Covered) -> Iterator[str]:
    every = found.heard.counts(_everything(found.heard))
    now, then = found.heard.counts(found.heard.usable), found.assumed.counts(found.assumed.usable)
    usable = int(found.heard.usable.sum())
    yield f"{found.region}, as of {iso(found.now)}: {sum(every):,} airfields, {usable:,} with {_usable()}"
    yield f"Stations: {found.stations}"
    yield ""
    yield f"{'evidence within the rules':<44}{'all':>8}{'usable':>15}{'with guidance*':>17}"
    for k, kind in enumerate(KINDS):
        yield f"{kind:<44}{every[k]:>8,}{_part(now[k], usable)}  {_part(then[k], usable)}"
    yield ""
    names = {
        "own_report": "own report", "report": "own or borrowed report",
        "report_and_forecast": "report and forecast (or guidance)", "nothing": "nothing",
    }  # fmt: skip
    heard, assumed = _shares(found.heard), _shares(found.assumed)
    for key, name in names.items():
        yield f"{name:<44}{'':>8}{_percent(heard[key]):>15}{_percent(assumed[key]):>17}"
    yield f"* {ASSUMED}: an assumption, not a count"


def _part(number: int, of: int) -> str:
    share = f"{100.0 * number / of:.0f} %" if of else "-"
    return f"{number:>8,} {share:>6}"


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{100.0 * share:.1f} %"


def _holes(found: Sequence[Hole]) -> Iterator[str]:
    if not found:
        yield "No usable airfield is without any evidence."
        return
    yield "Where most usable airfields have nothing:"
    for hole in found:
        names = ", ".join(hole.names[:MOST_NAMES]) + (", ..." if len(hole.names) > MOST_NAMES else "")
        yield f"- {_corner(hole.box)}: {hole.bare} of {hole.usable} ({names})"


def _corner(box: Box) -> str:
    def side(value: float, letters: str) -> str:
        return f"{abs(value):.0f}{letters[0] if value >= 0 else letters[1]}"

    lat = f"{side(box.lat_south_deg, 'NS')} to {side(box.lat_north_deg, 'NS')}"
    return f"{lat}, {side(box.lon_west_deg, 'EW')} to {side(box.lon_east_deg, 'EW')}"
