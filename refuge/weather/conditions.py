"""Conditions at one place: what a report says, or what one group of a forecast says."""

from dataclasses import dataclass

from refuge.weather.sky import Ceiling, Layer, Visibility
from refuge.weather.wind import Wind


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Ceiling, visibility, wind and weather at one place and time.

    ``weather`` holds the weather groups as written (``-RA``, ``VCTS``, ``FZFG``); ``layers`` the
    cloud groups, for showing and for CB and TCU. The verdict rests on ``ceiling`` and
    ``visibility``, never on ``layers``.
    """

    ceiling: Ceiling
    visibility: Visibility
    wind: Wind
    weather: tuple[str, ...] = ()
    layers: tuple[Layer, ...] = ()
