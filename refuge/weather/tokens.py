"""One token of a report or forecast, and what it says; the vocabulary of METAR and TAF bodies.

:func:`read_token` knows each token by itself, whatever stands around it, so groups may come in
any order. A token that no rule reads gives ``None``, and whoever asked keeps it as unread.
Codes: WMO-No. 306 FM 15 and FM 51, FMH-1 chapter 12.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from refuge.units import M_PER_SM, hpa_from_inhg, kt_from_kmh, kt_from_mps
from refuge.weather.sky import (
    Bound,
    KnownVisibility,
    Layer,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)
from refuge.weather.wind import KnownWind, UnknownWind, Wind

LONGEST_TOKEN = 24
"""Longer tokens are no group of either code; they are unread without being looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """The wind turns between these directions (240V300)."""

    from_deg_true: int
    to_deg_true: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sector:
    """The visibility in one direction, or the lowest of any (1200NW).

    ``prevailing`` is the value that stands before it in the same token (9999/8000).
    """

    visibility: KnownVisibility
    prevailing: KnownVisibility | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Temperatures:
    """Temperature and dew point; ``None`` is not reported."""

    temperature_c: float | None
    dew_point_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressure:
    """Pressure at sea level; ``None`` is not reported."""

    hpa: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """One weather group as written; ``None`` is not observed (``//``)."""

    text: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Clear:
    """A word for a sky without ceiling: what it proves, and whether it is CAVOK."""

    ceiling: NoCeiling
    cavok: bool = False


class EndOfWeather:
    """NSW: the weather ends; visibility and cloud stay as they are (WMO-No. 306, 51.5.2)."""


class Silent:
    """Read, and it changes nothing that a decision uses (runway range and state, colour codes)."""


END_OF_WEATHER = EndOfWeather()
SILENT = Silent()

Element = (
    KnownWind
    | UnknownWind
    | Spread
    | KnownVisibility
    | UnknownVisibility
    | Sector
    | Layer
    | Clear
    | UnknownCeiling
    | Weather
    | EndOfWeather
    | Temperatures
    | Pressure
    | Silent
)


def _re(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.ASCII | re.VERBOSE)


_WIND = _re(
    r"""(?P<dir>\d{3}|VRB|///) (?P<more>P|ABV)? (?P<speed>\d{2,3}|///?)
        (?:G (?P<gust_more>P|ABV)? (?P<gust>\d{2,3}|///?))? (?P<unit>KTS?|MPS|KMH|KPH)?"""
)
_SPREAD = _re(r"(\d{3}|///)V(\d{3}|///)")
_METRES = _re(r"(?P<bound>[MP])? (?P<m>\d{4}|////) (?P<dir>NDV|[NS]?[EW]|[NS])?")
_TWO_METRES = _re(r"(\d{4})/(\d{4})")
_MILES = _re(
    r"""(?P<bound>[MP])? (?: (?P<whole>\d{1,3}) | (?P<num>\d{1,3})/(?P<den>\d{1,2}) | //// )
        (?P<unit>SM|KM) | (?P<none>////SM)"""
)
_LAYER = _re(
    r"""(?P<amount>FEW|SCT|BKN|OVC|VV|///) (?P<base>\d{3}|///)
        (?P<type>CB|TCU|TCU/CB|CB/TCU|///|//|CU|SC|ST|AC|AS|NS|CI|CC|CS|ACC|SF|CF)?"""
)
_CONVECTIVE_ALONE = _re(r"(?:///|FEW|SCT|BKN|OVC)(CB|TCU)")
_WORD = r"""(?: (?:MI|PR|BC|DR|BL|SH|TS|FZ)
          | (?:DZ|RA|SN|SG|IC|PL|GR|GS|UP|BR|FG|FU|VA|DU|SA|HZ|PY|PO|SQ|FC|SS|DS) ){1,5}"""
_WEATHER = _re(rf"(?:RE)? [-+]? (?:VC)? {_WORD} (?: / [-+]? (?:VC)? {_WORD} )*")
_TEMPERATURES = _re(r"(M?\d{2}|XX|MM?)/(M?\d{2}|//|XX|MM?)?")
_PRESSURE = _re(r"(?P<unit>Q|QNH|A) (?P<value>\d{4}(?:\.\d)?|////) (?:INS|HPA)?")
_SOLIDI = _re(r"/+")
_SILENT = _re(
    r"""R\d{2}[LCR]{0,2}/[PM]?(?:\d{4}|////)(?:V[PM]?(?:\d{4}|////))?(?:FT)?/?[UDN]?   # visual range
      | R\d{2}[LCR]{0,2}/(?:[\d/]{6}|CLRD[\d/]{0,2}|/{2,5}|\d{2}D|D|SNOCLO) | R///////        # runway state
      | R/SNOCLO | SNOCLO | \d{2}(?:CLRD[\d/]{2}|[\d/]{6}) | RVRNO
      | (?:/?(?:BLACK)?(?:BLU|WHT|GRN|YLO[12]?|AMB|RED)\+?)+ | BLACK                   # colour codes
      | W(?:M?\d{2}|//)/(?:[SH][\d/]{1,3}) | W///[SH][\d/]{1,3}                        # sea
      | RF[\d/]{2}[./][\d/](?:/[\d/]{3}[./][\d/])?                                     # rainfall
      | QFE\d{3}(?:[./]\d{1,4})? | QFF\d{4} | WS\d{3}/\d{5,6}KT | WSCONDS
      | RE// | NOSIG | NOSPECI | RTD | \$ """
)

_CLEAR_TO_FT: dict[str, int | None] = {"CLR": None, "SKC": None, "NCD": None, "NSC": 5000}
_MILES_DENOMINATORS = (2, 4, 8, 16)

TEN_KM = KnownVisibility(sm=10_000 / M_PER_SM, bound=Bound.AT_LEAST)
"""10 km or more: 9999 and CAVOK."""

_TABLE_M = (0, 400, 800, 1200, 1600, 2400, 3200, 4000, 4800, 8000)
"""Rows of the handbook's table (AFMAN 15-111, 8.1) that reckon a statute mile as 1,600 m."""
_TABLE_M_PER_SM = 1600.0


def sm_from_m(visibility_m: float) -> float:
    """Return statute miles from a reported visibility in metres.

    Exact (1,609.344 m), except that from a round value of the handbook's table upwards at least
    that value counts: 1,600 m = 1 SM, 4,800 m = 3, 8,000 m = 5. So it never falls as metres grow,
    and is too good by 0.6 % at most. The table's 6,000 m = 4 SM and 9,000 m = 6 SM are not taken:
    they are 7 % too good.
    """
    table_m = max(row_m for row_m in _TABLE_M if row_m <= visibility_m)
    return max(visibility_m / M_PER_SM, table_m / _TABLE_M_PER_SM)


def sm_from_fraction(numerator: str, denominator: str) -> float | None:
    """Return statute miles of a fraction, ``None`` if no station may report it.

    A whole number glued to it is told apart: improper fractions are not reportable, so 11/2 is
    1 1/2 (FMH-1 table 12-1). Where two readings are left, the lower one counts.
    """
    den = int(denominator)
    if den not in _MILES_DENOMINATORS:
        return None
    readings = []
    for cut in range(len(numerator)):
        whole, num = int(numerator[:cut] or 0), int(numerator[cut:])
        if 0 < num < den and not (cut and numerator[cut] == "0"):
            readings.append(whole + num / den)
    return min(readings, default=None)


def read_token(token: str) -> Element | None:
    """Return what one token says, or ``None`` if no rule reads it."""
    return _read(token) if len(token) <= LONGEST_TOKEN else None


@lru_cache(maxsize=16_384)
def _read(token: str) -> Element | None:
    for reader in _READERS:
        element = reader(token)
        if element is not None:
            return element
    return None


def _read_word(token: str) -> Element | None:
    if token in _CLEAR_TO_FT:
        return Clear(ceiling=NoCeiling(none_below_ft=_CLEAR_TO_FT[token], evidence=token))
    if token == "CAVOK":
        return Clear(ceiling=NoCeiling(none_below_ft=5000, evidence=token), cavok=True)
    if token == "NSW":
        return END_OF_WEATHER
    return SILENT if _SILENT.fullmatch(token) else None


def _read_wind(token: str) -> Wind | Spread | None:
    match = _WIND.fullmatch(token)
    if match is None:
        spread = _SPREAD.fullmatch(token)
        if spread is None:
            return None
        if "///" in spread.groups():
            return UnknownWind(reason=f"wind not reported ({token})") if token == "///V///" else None
        return Spread(from_deg_true=int(spread[1]), to_deg_true=int(spread[2]))
    if "/" in token:
        # Without a unit it is no wind: ///47 is a layer that lost a digit.
        return UnknownWind(reason=f"wind not fully reported ({token})") if match["unit"] else None
    if match["unit"] is None:
        return UnknownWind(reason=f"wind without a unit ({token})")
    direction = None if match["dir"] == "VRB" else int(match["dir"])
    if direction is not None and direction > 360:
        return None
    speed_kt = _knots(match["speed"], match["unit"], more=match["more"])
    gust_kt = None if match["gust"] is None else _knots(match["gust"], match["unit"], more=match["gust_more"])
    if speed_kt == 0 and not gust_kt:
        return KnownWind(dir_deg_true=None, speed_kt=0.0)
    if direction == 0:
        return UnknownWind(reason=f"direction 000 is calm, the speed is not ({token})")
    return KnownWind(dir_deg_true=direction, speed_kt=speed_kt, gust_kt=gust_kt, variable=direction is None)


def _knots(digits: str, unit: str, *, more: str | None) -> float:
    """Return knots; P99 and ABV49 count as one unit more, the least that they can be."""
    value = float(digits) + (1.0 if more else 0.0)
    if unit == "MPS":
        return kt_from_mps(value)
    return kt_from_kmh(value) if unit in {"KMH", "KPH"} else value


def _read_metres(token: str) -> Visibility | Sector | None:
    match = _METRES.fullmatch(token)
    if match is None:
        return _read_two_metres(token)
    if match["m"] == "////":
        return None if match["bound"] else UnknownVisibility(reason="visibility not reported (////)")
    visibility = _visibility_of_m(match["m"], match["bound"])
    if visibility is None or match["dir"] in {None, "NDV"}:
        return visibility
    return Sector(visibility=visibility)


def _read_two_metres(token: str) -> Sector | None:
    pair = _TWO_METRES.fullmatch(token)
    if pair is None:
        return None
    prevailing, lowest = _visibility_of_m(pair[1], None), _visibility_of_m(pair[2], None)
    if prevailing is None or lowest is None:
        return None
    return Sector(visibility=lowest, prevailing=prevailing)


def _visibility_of_m(digits: str, bound: str | None) -> KnownVisibility | None:
    if digits == "9999":
        return None if bound == "M" else TEN_KM
    visibility_m = int(digits)
    if visibility_m % 50:
        return None  # no step of either code ends otherwise: these digits are something else
    return KnownVisibility(sm=sm_from_m(visibility_m), bound=_bound(bound))


def _bound(letter: str | None) -> Bound:
    return {"M": Bound.LESS_THAN, "P": Bound.AT_LEAST}.get(letter or "", Bound.EXACTLY)


def _read_miles(token: str) -> Visibility | None:
    match = _MILES.fullmatch(token)
    if match is None:
        return None
    if "////" in token:
        return UnknownVisibility(reason=f"visibility not reported ({token})")
    if match["whole"] is None:
        sm = sm_from_fraction(match["num"], match["den"]) if match["unit"] == "SM" else None
        return None if sm is None else KnownVisibility(sm=sm, bound=_bound(match["bound"]))
    if match["unit"] == "KM":
        return KnownVisibility(sm=sm_from_m(float(match["whole"]) * 1000.0), bound=_bound(match["bound"]))
    return KnownVisibility(sm=float(match["whole"]), bound=_bound(match["bound"]))


def _read_sky(token: str) -> Layer | UnknownCeiling | None:
    alone = _CONVECTIVE_ALONE.fullmatch(token)
    if alone is not None:
        return Layer(amount=token[: -len(alone[1])], base_ft_agl=None, convective=alone[1])
    match = _LAYER.fullmatch(token)
    if match is None or (match["amount"] == "///" and match["base"] == "///" and match["type"] in {None, "//"}):
        return None  # plain solidi are read last
    kind = match["type"] or ""
    convective = "CB" if "CB" in kind else "TCU" if "TCU" in kind else None
    base_ft = None if match["base"] == "///" else int(match["base"]) * 100
    return Layer(amount=match["amount"], base_ft_agl=base_ft, convective=convective)


def _read_weather(token: str) -> Weather | None:
    return Weather(text=token) if _WEATHER.fullmatch(token) else None


def _read_temperatures(token: str) -> Temperatures | None:
    match = _TEMPERATURES.fullmatch(token)
    if match is None:
        return None
    return Temperatures(temperature_c=_celsius(match[1]), dew_point_c=_celsius(match[2]))


def _celsius(text: str | None) -> float | None:
    if text is None or not text[-1].isdigit():
        return None
    return -float(text[1:]) if text[0] == "M" else float(text)


def _read_pressure(token: str) -> Pressure | None:
    match = _PRESSURE.fullmatch(token)
    if match is None:
        return None
    if match["value"] == "////":
        return Pressure(hpa=None)
    value = float(match["value"])
    in_inches = match["unit"] == "A" or token.endswith("INS")
    return Pressure(hpa=hpa_from_inhg(value / 100.0) if in_inches else value)


def _read_solidi(token: str) -> Element | None:
    """Return what a group of solidi alone leaves open; its length tells which group it was."""
    if not _SOLIDI.fullmatch(token):
        return None
    by_length: dict[int, Element | None] = {
        1: None,
        2: Weather(text=None),
        4: UnknownVisibility(reason="visibility not reported (////)"),
        5: Temperatures(temperature_c=None, dew_point_c=None),
    }
    return by_length.get(len(token), UnknownCeiling(reason=f"sky not observed ({token})"))


_READERS = (
    _read_solidi,
    _read_sky,
    _read_miles,
    _read_metres,
    _read_wind,
    _read_temperatures,
    _read_pressure,
    _read_word,
    _read_weather,
)
