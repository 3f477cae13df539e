"""Surface wind, known or unknown."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownWind:
    """Wind in knots, from degrees true.

    ``dir_deg_true`` is ``None`` when the direction is variable (VRB) or the air is calm;
    ``from_deg_true`` and ``to_deg_true`` hold a reported spread such as 240V300.
    """

    dir_deg_true: int | None
    speed_kt: float
    gust_kt: float | None = None
    variable: bool = False
    from_deg_true: int | None = None
    to_deg_true: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownWind:
    """Nobody knows the wind."""

    reason: str


Wind = KnownWind | UnknownWind
