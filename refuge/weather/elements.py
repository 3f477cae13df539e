"""The elements of one body or group, gathered in one pass over its tokens, in any order."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import reduce

from refuge.weather.sky import (
    Ceiling,
    CeilingAt,
    KnownVisibility,
    Layer,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)
from refuge.weather.tokens import (
    TEN_KM,
    Clear,
    Element,
    EndOfWeather,
    Pressure,
    Sector,
    Silent,
    Spread,
    Temperatures,
    Weather,
    read_token,
)
from refuge.weather.wind import KnownWind, UnknownWind, Wind
from refuge.weather.worse import worse_ceiling, worse_visibility

CLR_NONE_BELOW_FT = 12_000
"""What CLR of an automatic station proves (FMH-1 9.4.1)."""

_CEILING_AMOUNTS = frozenset({"BKN", "OVC", "VV", "///"})
_MAY_BE_PARTED = frozenset("0123456789MPVW")
_WHOLE = re.compile(r"[MP]?\d{1,2}", re.ASCII)
_FRACTION = re.compile(r"[MP]?\d/\d{1,2}(?:SM)?", re.ASCII)
_UNITLESS_WIND = re.compile(r"(?:\d{3}|VRB)\d{2,3}(?:G\d{2,3})?", re.ASCII)
_SHEAR_AFTER_WS = re.compile(r"(?:R|RWY|RY)\d{2}[LCR]?|ALL|RWY|TKOF|LDG|\d{2}[LCR]?", re.ASCII)


@dataclass(slots=True, kw_only=True)
class Elements:
    """What the tokens read so far say. A builder: it lives inside one decode and is then let go."""

    winds: list[Wind] = field(default_factory=list)
    spread: Spread | None = None
    visibilities: list[Visibility] = field(default_factory=list)
    lower: list[Visibility] = field(default_factory=list)
    layers: list[Layer] = field(default_factory=list)
    skies: list[NoCeiling | UnknownCeiling] = field(default_factory=list)
    weather: list[str] = field(default_factory=list)
    weather_not_observed: bool = False
    weather_ends: bool = False
    temperatures: Temperatures | None = None
    pressure: Pressure | None = None
    unread: list[str] = field(default_factory=list)

    def take(self, element: Element) -> bool:  # noqa: C901, PLR0912 - one case for each kind of element
        """Return whether the element was taken; a second one that contradicts may not be."""
        match element:
            case Layer():
                if element not in self.layers:
                    self.layers.append(element)
            case KnownVisibility() | UnknownVisibility():
                self.visibilities.append(element)
            case KnownWind() | UnknownWind():
                self.winds.append(element)
            case Temperatures():
                return self._took_temperatures(element)
            case Clear():
                self._take_clear(element)
            case UnknownCeiling():
                self.skies.append(element)
            case Pressure():
                if self.pressure is None or self.pressure.hpa is None:
                    self.pressure = element
            case Weather() | EndOfWeather():
                self._take_weather(element)
            case Sector():
                if element.prevailing is not None:
                    self.visibilities.append(element.prevailing)
                self.lower.append(element.visibility)
            case Spread():
                self.spread = element
            case Silent():
                pass
        return True

    def _took_temperatures(self, element: Temperatures) -> bool:
        """Return whether the pair was taken.

        Five solidi before any wind are the missing wind. A second pair is none, unless it repeats the
        first: it is something else, unread.
        """
        not_reported = element.temperature_c is None and element.dew_point_c is None
        if not_reported and not self.winds:
            self.winds.append(UnknownWind(reason="wind not reported (/////)"))
            return True
        if self.temperatures is not None:
            return self.temperatures == element and not not_reported
        self.temperatures = element
        return True

    def _take_clear(self, element: Clear) -> None:
        self.skies.append(element.ceiling)
        if element.cavok:
            self.visibilities.append(TEN_KM)
            self.weather_ends = True

    def _take_weather(self, element: Weather | EndOfWeather) -> None:
        if isinstance(element, EndOfWeather):
            self.weather_ends = True
        elif element.text is None:
            self.weather_not_observed = True
        else:
            self.weather.append(element.text)

    def ceiling(self, *, auto: bool = False) -> Ceiling | None:
        """Return the ceiling, or ``None`` if no token says anything of the sky.

        The lowest BKN, OVC, VV or layer of unknown amount, also one at the surface: FMH-1 knows
        partial obscurations of height zero, but only FEW000 and SCT000 are sure not to hide the
        sky. A layer that counts without a height leaves the ceiling unknown. ``NCD`` says that an
        automatic station detected no cloud: none, with no height up to which that is proved.
        """
        found: list[Ceiling] = [_ceiling_of_layer(layer) for layer in self.layers]
        found += [_seen_by_automation(sky) if auto else sky for sky in self.skies]
        return reduce(worse_ceiling, found) if found else None

    def visibility(self) -> Visibility | None:
        """Return the prevailing visibility, the first that is given, or ``None``."""
        return self.visibilities[0] if self.visibilities else None

    def lowest_visibility(self) -> Visibility | None:
        """Return the lowest visibility, with that of sectors, or ``None`` if none is given.

        A second value without direction is the lowest of any direction (9999 0700). A sector value
        alone does not say what prevails: unknown, at best that of the sector.
        """
        if not self.visibilities and not self.lower:
            return None
        prevailing = self.visibility() or UnknownVisibility(reason="no prevailing visibility")
        return reduce(worse_visibility, (*self.visibilities[1:], *self.lower), prevailing)

    def wind(self) -> Wind | None:
        """Return the wind with its spread, or ``None`` if none is given; two that differ are unknown."""
        if not self.winds:
            return None
        first = self.winds[0]
        if any(wind != first for wind in self.winds):
            return UnknownWind(reason="two wind groups that differ")
        if isinstance(first, KnownWind) and self.spread is not None:
            return replace(first, from_deg_true=self.spread.from_deg_true, to_deg_true=self.spread.to_deg_true)
        return first

    def weather_groups(self) -> tuple[str, ...] | None:
        """Return the weather groups, ``()`` if it ends or nothing goes on, ``None`` if not mentioned."""
        if self.weather:
            return tuple(dict.fromkeys(self.weather))
        return () if self.weather_ends else None


def gather(tokens: Sequence[str]) -> Elements:
    """Return the elements that the tokens give; each token is read, or kept in ``unread``."""
    elements = Elements()
    index, count, lost = 0, len(tokens), False
    while index < count:
        token, taken = tokens[index], 1
        if token[:1] in _MAY_BE_PARTED and len(token) <= 9 and index + 1 < count:
            token, taken = _joined(tokens, index)
        element = _mixed_fraction(token) if "+" in token[1:] else read_token(token)
        if lost and isinstance(element, KnownVisibility) and element.sm < 1 and "/" in token:
            element = UnknownVisibility(reason=f"what stands before {token} was not read")
        if token == "/////" and elements.winds and not _is_pressure(tokens, index + 1):
            element = None  # missing temperatures stand before the pressure; this is something else
        lost = element is None or not elements.take(element)
        if lost:
            elements.unread.extend(tokens[index : index + taken])
        index += taken
    if elements.weather_not_observed and elements.weather:
        elements.unread.append("//")  # weather is there: these solidi stand for something else
    return elements


def _is_pressure(tokens: Sequence[str], index: int) -> bool:
    return index < len(tokens) and isinstance(read_token(tokens[index]), Pressure)


def _joined(tokens: Sequence[str], index: int) -> tuple[str, int]:
    """Return the token that begins here, put together where a blank parts it, and how many it took."""
    token, following = tokens[index], tokens[index + 1]
    if _WHOLE.fullmatch(token) or _FRACTION.fullmatch(token):
        return _joined_miles(token, following, tokens[index + 2] if index + 2 < len(tokens) else "")
    if following in {"KT", "MPS"} and _UNITLESS_WIND.fullmatch(token):
        return token + following, 2
    if token == "VC" and read_token(token + following) is not None:
        return token + following, 2
    if token == "WS":
        taken = 1
        while index + taken < len(tokens) and _SHEAR_AFTER_WS.fullmatch(tokens[index + taken]):
            taken += 1
        return ("WSCONDS" if taken > 1 else token), taken
    return token, 1


def _joined_miles(token: str, following: str, third: str) -> tuple[str, int]:
    if following in {"SM", "KM"}:
        return token + following, 2
    if "/" in token or not _FRACTION.fullmatch(following) or following[0] in "MP":
        return token, 1
    if following.endswith("SM"):
        # The fraction written twice (2 1/2SM 1/2SM) is no second visibility.
        return f"{token}+{following}", 3 if third == following else 2
    return (f"{token}+{following}{third}", 3) if third == "SM" else (token, 1)


def _mixed_fraction(token: str) -> Element | None:
    """Return the visibility of a whole number and a fraction put together as ``2+1/2SM``."""
    whole, _, fraction = token.partition("+")
    if not _WHOLE.fullmatch(whole):
        return read_token(token)  # another plus: +RA, BLU+
    base, part = read_token(f"{whole}SM"), read_token(fraction)
    if isinstance(base, KnownVisibility) and isinstance(part, KnownVisibility) and part.sm < 1:
        return KnownVisibility(sm=base.sm + part.sm, bound=base.bound)
    return None


def _seen_by_automation(sky: NoCeiling | UnknownCeiling) -> NoCeiling | UnknownCeiling:
    if isinstance(sky, NoCeiling) and sky.evidence == "CLR":
        return replace(sky, none_below_ft=CLR_NONE_BELOW_FT)
    return sky


def _ceiling_of_layer(layer: Layer) -> Ceiling:
    if layer.amount not in _CEILING_AMOUNTS:
        return NoCeiling(none_below_ft=None, evidence=_written(layer))
    if layer.base_ft_agl is not None:
        return CeilingAt(ft_agl=layer.base_ft_agl)
    if layer.amount == "VV":
        return UnknownCeiling(reason="sky hidden, vertical visibility not measured (VV///)", obscured=True)
    return UnknownCeiling(reason=f"a layer without height ({_written(layer)})")


def _written(layer: Layer) -> str:
    base = "///" if layer.base_ft_agl is None else f"{layer.base_ft_agl // 100:03d}"
    return f"{layer.amount}{base}{layer.convective or ''}"
