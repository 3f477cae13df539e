"""What the cells of a block of guidance mean, hour by hour.

LAMP gives ceiling and visibility as categories, which count at the bottom of their range; the
National Blend gives heights and distances, and beside them per cent chances of less. Codes and
their meaning: NWS MDL, 'Definitions of Categorical Elements', 'LAMP Card 2.7.0', 'NBM Card v4.2',
as data/README.md ('Station guidance') has them. A cell that is no known code is unknown.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from refuge.units import c_from_f
from refuge.weather.guidance import Guidance
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)
from refuge.weather.wind import KnownWind, UnknownWind, Wind

NONE_BELOW_FT = 12_000
"""Category 8 is above it, or no ceiling. The Blend's "unlimited" is taken to say no more: guidance that
goes into it calls a ceiling unlimited from there on (NWS, Technical Implementation Notice 11-18)."""
_CIG_FT = {"1": 0, "2": 200, "3": 500, "4": 1000, "5": 2000, "6": 3100, "7": 6600}
_VIS_SM = {"1": 0.0, "2": 0.5, "3": 1.0, "4": 2.0, "5": 3.0, "6": 6.0}
_OBSCURED = {"N": (), "HZ": ("HZ",), "BR": ("BR",), "FG": ("FG",), "BL": ("BL",)}
_HIGHEST_HUNDREDS = 998
"""Larger values are printed as 998 (NBM Card v4.2, 'Large values')."""
BELOW_FT = {"LIC": 500, "IFC": 1000, "MVC": 3000}
"""The chance is that of a ceiling below it; of MVC, at or below it."""
BELOW_SM = {"LIV": 1.0, "IFV": 3.0, "MVV": 5.0}
"""The same for visibility."""
_NOTHING = ""
_ONE_MISSING = 4
"""From this version on -99 is missing and -88 unlimited; before, 999 and 888 (samples of both)."""
_STRONGEST_KT = 250
"""No gust is stronger; 999 is a missing one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """What is known of the chance of less than a minimum: it lies from ``at_least`` to ``at_most``, per cent.

    ``at_most`` is ``None`` where nothing bounds it from above.
    """

    at_least: int
    at_most: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidanceHour:
    """What guidance says of one instant.

    ``ceiling_if_wet`` and ``visibility_if_wet`` hold given that it precipitates; ``None``: the
    product has no such element (the Blend). ``wet_percent`` is the chance that it does,
    ``thunder_percent`` and ``freezing_percent`` (rain, drizzle or pellets) those of the worst of
    it; ``None`` is not known, never none. ``ceiling_chances`` and ``visibility_chances`` pair
    the limits of `BELOW_FT` and `BELOW_SM` with per cent, those that are known. ``weather`` is what
    obscures, ``None`` if not known.
    """

    at: datetime
    ceiling: Ceiling
    visibility: Visibility
    wind: Wind
    temperature_c: float | None = None
    dew_point_c: float | None = None
    weather: tuple[str, ...] | None = None
    ceiling_if_wet: Ceiling | None = None
    visibility_if_wet: Visibility | None = None
    wet_percent: int | None = None
    thunder_percent: int | None = None
    freezing_percent: int | None = None
    ceiling_chances: tuple[tuple[float, int], ...] = ()
    visibility_chances: tuple[tuple[float, int], ...] = ()


def hours_of(guidance: Guidance) -> tuple[GuidanceHour, ...]:
    """Return what a block says of each of its hours, in order."""
    rows, count = guidance.rows, len(guidance.times)
    cells = {name: [row[at : at + 3].strip() for at in range(0, 3 * count, 3)] for name, row in rows.items()}
    read = _lamp_hour if guidance.product in ("LAV", "LEV") else _blend_hour
    return tuple(
        read(guidance, at, {name: values[number] for name, values in cells.items()})
        for number, at in enumerate(guidance.times)
    )


def chance_of_less(known: Iterable[tuple[float, int]], minimum: float) -> Chance:
    """Return what the chances of less than some limits say of that of less than `minimum`."""
    pairs = list(known)
    at_most = min((percent for limit, percent in pairs if limit >= minimum), default=None)
    at_least = max((percent for limit, percent in pairs if limit < minimum), default=0)
    return Chance(at_least=at_least, at_most=at_most)


def _lamp_hour(guidance: Guidance, at: datetime, cells: dict[str, str]) -> GuidanceHour:
    wet_percent = _wet_percent(guidance, cells)
    return GuidanceHour(
        at=at,
        ceiling=_category_ceiling(cells, "CIG", guidance),
        visibility=_category_visibility(cells, "VIS", guidance),
        wind=_wind(cells, "WGS"),
        temperature_c=_temperature_c(cells, "TMP", "999"),
        dew_point_c=_temperature_c(cells, "DPT", "999"),
        weather=_OBSCURED.get(cells.get("OBV", _NOTHING)),
        ceiling_if_wet=_category_ceiling(cells, "CCG", guidance),
        visibility_if_wet=_category_visibility(cells, "CVS", guidance),
        wet_percent=wet_percent,
        thunder_percent=_percent(cells, "LP1"),
        freezing_percent=_both(_percent(cells, "POZ"), wet_percent),
    )


def _wet_percent(guidance: Guidance, cells: dict[str, str]) -> int | None:
    """Return the chance of rain or snow on the hour (PPO) or in it (P01), the greater; ``None`` if one is lost.

    A yes (PCO) is 100. LEV never has PPO and PCO, nor old LAV P01: that one of them is missing says
    something only where a line could not be read, which may have been it.
    """
    usual = ("P01",) if guidance.product == "LEV" else ("PPO",)
    named = [name for name in ("PPO", "P01") if name in usual or name in cells or guidance.unread]
    known = [_percent(cells, name) for name in named]
    yes = cells.get("PCO", "N" if guidance.product == "LEV" else _NOTHING)
    if yes == "Y":
        return 100
    if yes != "N" or any(percent is None for percent in known):
        return None
    return max((percent for percent in known if percent is not None), default=None)


def _blend_hour(guidance: Guidance, at: datetime, cells: dict[str, str]) -> GuidanceHour:
    old = guidance.version is None or int(guidance.version.partition(".")[0]) < _ONE_MISSING
    missing = "999" if old else "-99"
    wet_percent = _percent(cells, "P01")
    thunder = _percent(cells, "T01" if guidance.product == "NBH" else "T03")
    rain, pellets = _percent(cells, "PZR"), _percent(cells, "PPL")
    freezing = None if rain is None or pellets is None else min(100, rain + pellets)
    return GuidanceHour(
        at=at,
        ceiling=_height(cells, guidance, unlimited=("888", "-88") if old else ("-88",)),
        visibility=_distance(cells, guidance),
        wind=_wind(cells, "GST"),
        temperature_c=_temperature_c(cells, "TMP", missing),
        dew_point_c=_temperature_c(cells, "DPT", missing),
        wet_percent=wet_percent,
        thunder_percent=thunder,
        freezing_percent=_both(freezing, wet_percent),
        ceiling_chances=_chances(cells, BELOW_FT),
        visibility_chances=_chances(cells, BELOW_SM),
    )


def _category_ceiling(cells: dict[str, str], name: str, guidance: Guidance) -> Ceiling:
    cell = cells.get(name, _NOTHING)
    if cell == "8":
        return NoCeiling(none_below_ft=NONE_BELOW_FT, evidence=f"{name} 8")
    if cell in _CIG_FT:
        return CeilingAt(ft_agl=_CIG_FT[cell])
    return UnknownCeiling(reason=_why(guidance, name, cell))


def _category_visibility(cells: dict[str, str], name: str, guidance: Guidance) -> Visibility:
    cell = cells.get(name, _NOTHING)
    if cell == "7":
        return KnownVisibility(sm=6.0, bound=Bound.AT_LEAST)
    if cell in _VIS_SM:
        return KnownVisibility(sm=_VIS_SM[cell])
    return UnknownVisibility(reason=_why(guidance, name, cell))


def _height(cells: dict[str, str], guidance: Guidance, *, unlimited: tuple[str, ...]) -> Ceiling:
    cell = cells.get("CIG", _NOTHING)
    if cell in unlimited:
        return NoCeiling(none_below_ft=NONE_BELOW_FT, evidence=f"CIG {cell}")
    hundreds = _number(cell)
    # 888 of a version that has another code for unlimited would be 88,800 ft.
    if hundreds is None or not 0 <= hundreds <= _HIGHEST_HUNDREDS or cell == "888":
        return UnknownCeiling(reason=_why(guidance, "CIG", cell))
    return CeilingAt(ft_agl=hundreds * 100)


def _distance(cells: dict[str, str], guidance: Guidance) -> Visibility:
    cell = cells.get("VIS", _NOTHING)
    tenths = _number(cell)
    if tenths is None or not 0 <= tenths <= _HIGHEST_HUNDREDS:
        return UnknownVisibility(reason=_why(guidance, "VIS", cell))
    return KnownVisibility(sm=tenths / 10)


def _wind(cells: dict[str, str], gust_name: str) -> Wind:
    """Return the wind; LAMP writes NG for no gust, 99 and 999 for missing, as the Blend -99 and 999."""
    tens, speed = _number(cells.get("WDR", _NOTHING)), _number(cells.get("WSP", _NOTHING))
    gust_cell = cells.get(gust_name, _NOTHING)
    gust = None if gust_cell == "NG" else _number(gust_cell)
    if tens is None or not 0 <= tens <= 36 or speed is None or not 0 <= speed < 99:
        return UnknownWind(reason="guidance gives no wind")
    if gust_cell != "NG" and (gust is None or not 0 <= gust <= _STRONGEST_KT):
        return UnknownWind(reason="guidance gives no gust, nor that there is none")
    gust_kt = float(gust) if gust is not None and gust > speed else None
    if tens == 0:
        return KnownWind(dir_deg_true=None, speed_kt=float(speed), gust_kt=gust_kt, variable=speed > 0)
    direction = None if speed == 0 else tens * 10 % 360
    return KnownWind(dir_deg_true=direction, speed_kt=float(speed), gust_kt=gust_kt)


def _temperature_c(cells: dict[str, str], name: str, missing: str) -> float | None:
    cell = cells.get(name, _NOTHING)
    degrees_f = _number(cell)
    if degrees_f is None or cell in (missing, "999", "-99"):
        return None
    return round(c_from_f(degrees_f), 1)


def _chances(cells: dict[str, str], limits: dict[str, int] | dict[str, float]) -> tuple[tuple[float, int], ...]:
    found = ((limit, _percent(cells, name)) for name, limit in limits.items())
    return tuple((limit, percent) for limit, percent in found if percent is not None)


def _percent(cells: dict[str, str], name: str) -> int | None:
    percent = _number(cells.get(name, _NOTHING))
    return percent if percent is not None and 0 <= percent <= 100 else None


def _both(given_wet: int | None, wet: int | None) -> int | None:
    """Return the chance of what has a chance given that it precipitates; if nobody knows whether, it does."""
    if given_wet is None:
        return None
    return given_wet if wet is None else -(-given_wet * wet // 100)


def _number(cell: str) -> int | None:
    return int(cell) if cell.lstrip("-").isdecimal() else None


def _why(guidance: Guidance, name: str, cell: str) -> str:
    made = f"{guidance.product} of {guidance.based_on:%d%H%M}Z"
    return f"{made} gives no {name}" if name not in guidance.rows or not cell else f"{made} says {name} {cell}"
