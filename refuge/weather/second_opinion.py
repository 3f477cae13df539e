"""The second opinion: what the ``metar`` library reads in the same report, and where it differs.

The library's known faults decide what counts as an opinion (decoding.md): an empty sky or a
missing value is none; its 10 km for ``////`` and its metres a second for a wind without a unit are
none either, because there our reading is "unknown", which no opinion improves.
"""

import warnings
from dataclasses import replace
from datetime import datetime
from functools import reduce

from metar.Metar import Metar

from refuge.weather.conditions import Conditions
from refuge.weather.reports import Dispute
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    NoCeiling,
    UnknownCeiling,
    Visibility,
)
from refuge.weather.wind import KnownWind, UnknownWind, Wind
from refuge.weather.worse import worse_ceiling, worse_visibility

_LONGEST_TEXT = 2_000
"""No real report is longer; the library's time grows with the square of the length."""
_SAME_SHARE = 0.01
"""Visibilities closer than this are the same: 1,600 m is 1 SM to us and 0.994 SM to the library."""
_SAME_KT = 0.6


def with_second_opinion(
    raw: str, body: Conditions, adverse: Conditions, *, observed_at: datetime
) -> tuple[Conditions, tuple[Dispute, ...]]:
    """Return `adverse` made worse where the library reads worse than `body`, and the disputes."""
    theirs = _read(raw, observed_at)
    disputes = _differences(body, theirs)
    for dispute in disputes:
        if dispute.element == "ceiling" and theirs.ceiling is not None:
            adverse = replace(adverse, ceiling=worse_ceiling(adverse.ceiling, theirs.ceiling))
        elif dispute.element == "visibility" and theirs.visibility is not None:
            adverse = replace(adverse, visibility=worse_visibility(adverse.visibility, theirs.visibility))
        elif dispute.element == "wind" and theirs.wind is not None:
            adverse = replace(adverse, wind=_worse_of_both(adverse.wind, theirs.wind))
    return adverse, disputes


class _Theirs:
    """What the library reads; ``None`` is no opinion."""

    __slots__ = ("ceiling", "visibility", "wind")

    def __init__(self, ceiling: Ceiling | None, visibility: KnownVisibility | None, wind: KnownWind | None) -> None:
        self.ceiling = ceiling
        self.visibility = visibility
        self.wind = wind


def _read(raw: str, observed_at: datetime) -> _Theirs:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of each group that it cannot read
        report = Metar(raw[:_LONGEST_TEXT], month=observed_at.month, year=observed_at.year, strict=False)
    return _Theirs(_ceiling(report), _visibility(report), _wind(report))


def _ceiling(report: Metar) -> Ceiling | None:
    found: list[Ceiling] = []
    for cover, height, _ in report.sky:
        if cover not in {"BKN", "OVC", "VV", "///"}:
            found.append(NoCeiling(none_below_ft=None, evidence=str(cover)))
        elif height is None:
            return None
        else:
            found.append(CeilingAt(ft_agl=round(height.value("FT"))))
    return reduce(worse_ceiling, found) if found else None


def _visibility(report: Metar) -> KnownVisibility | None:
    if report.vis is None or report.vis_dir is not None:
        return None
    return KnownVisibility(sm=report.vis.value("SM"))


def _wind(report: Metar) -> KnownWind | None:
    if report.wind_speed is None:
        return None
    direction = None if report.wind_dir is None else round(report.wind_dir.value())
    gust_kt = None if report.wind_gust is None else report.wind_gust.value("KT")
    return KnownWind(dir_deg_true=direction, speed_kt=report.wind_speed.value("KT"), gust_kt=gust_kt)


def _differences(ours: Conditions, theirs: _Theirs) -> tuple[Dispute, ...]:
    found = []
    if theirs.ceiling is not None and _ceilings_differ(ours.ceiling, theirs.ceiling):
        found.append(Dispute(element="ceiling", ours=_in_words(ours.ceiling), theirs=_in_words(theirs.ceiling)))
    if theirs.visibility is not None and _visibilities_differ(ours.visibility, theirs.visibility):
        found.append(
            Dispute(element="visibility", ours=_in_words(ours.visibility), theirs=_in_words(theirs.visibility))
        )
    if theirs.wind is not None and _winds_differ(ours.wind, theirs.wind):
        found.append(Dispute(element="wind", ours=_in_words(ours.wind), theirs=_in_words(theirs.wind)))
    return tuple(found)


def _ceilings_differ(ours: Ceiling, theirs: Ceiling) -> bool:
    if isinstance(ours, UnknownCeiling):
        return False
    if isinstance(ours, CeilingAt) and isinstance(theirs, CeilingAt):
        return ours.ft_agl != theirs.ft_agl
    return isinstance(ours, CeilingAt) != isinstance(theirs, CeilingAt)


def _visibilities_differ(ours: Visibility, theirs: KnownVisibility) -> bool:
    if not isinstance(ours, KnownVisibility):
        return False
    return abs(ours.sm - theirs.sm) > _SAME_SHARE * max(ours.sm, theirs.sm)


def _winds_differ(ours: Wind, theirs: KnownWind) -> bool:
    if not isinstance(ours, KnownWind):
        return False
    if abs(ours.speed_kt - theirs.speed_kt) > _SAME_KT:
        return True
    if abs((ours.gust_kt or ours.speed_kt) - (theirs.gust_kt or theirs.speed_kt)) > _SAME_KT:
        return True
    return _directions_differ(ours, theirs)


def _directions_differ(ours: KnownWind, theirs: KnownWind) -> bool:
    if ours.dir_deg_true is None or theirs.dir_deg_true is None:
        return False
    return ours.dir_deg_true % 360 != theirs.dir_deg_true % 360


def _worse_of_both(ours: Wind, theirs: KnownWind) -> Wind:
    if isinstance(ours, UnknownWind):
        return ours
    if _directions_differ(ours, theirs):
        return UnknownWind(reason="the second opinion reads another direction")
    gusts_kt = [gust for gust in (ours.gust_kt, theirs.gust_kt) if gust is not None]
    return replace(ours, speed_kt=max(ours.speed_kt, theirs.speed_kt), gust_kt=max(gusts_kt, default=None))


def _in_words(value: Ceiling | Visibility | Wind) -> str:
    match value:
        case CeilingAt(ft_agl=ft):
            return f"{ft} ft"
        case NoCeiling(evidence=evidence):
            return f"none ({evidence})"
        case KnownVisibility(sm=sm, bound=bound):
            sign = {Bound.EXACTLY: "", Bound.AT_LEAST: "at least ", Bound.LESS_THAN: "less than "}[bound]
            return f"{sign}{sm:.2f} SM"
        case KnownWind(dir_deg_true=direction, speed_kt=speed, gust_kt=gust):
            direction_text = "variable" if direction is None else f"{direction:03d}"
            return f"{direction_text} {speed:.0f} kt" + ("" if gust is None else f" gusting {gust:.0f}")
        case _:
            return f"unknown: {value.reason}"
