"""The least weather and runway that a pilot accepts: the strictest of floor, school and pilot."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from refuge.aircraft.endurance import MARGIN_MIN
from refuge.errors import InputError

NotPlanned = Literal["not planned"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The lowest ceiling and visibility accepted."""

    ceiling_ft: float
    visibility_sm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What one party asks for: a school's table, or a pilot's own. ``None`` is "not set".

    ``adverse`` names what speaks against the pilot today (fatigue, an unfamiliar aircraft).
    """

    day_ceiling_ft: float | None = None
    day_visibility_sm: float | None = None
    night: NotPlanned | None = None
    night_ceiling_ft: float | None = None
    night_visibility_sm: float | None = None
    runway_length_ft: float | None = None
    hard_surface: bool | None = None
    no_private: bool | None = None
    max_crosswind_kt: float | None = None
    margin_min: float | None = None
    adverse: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Minimums:
    """The minimums that count, element by element; ``None`` is not set, and is not checked.

    ``said`` holds what the answer must tell of how they came about.
    """

    id: str
    day: Limits
    night: Limits | NotPlanned
    runway_length_ft: float | None = None
    hard_surface: bool | None = None
    no_private: bool | None = None
    max_crosswind_kt: float | None = None
    margin_min: float | None = None
    said: tuple[str, ...] = ()


FLOOR = Minimums(
    id="floor",
    day=Limits(ceiling_ft=1500, visibility_sm=3),
    night=Limits(ceiling_ft=2000, visibility_sm=5),
)
"""Nothing below is ever accepted: method.md 5. Only a floor, whatever the law allows."""
STANDARD = Minimums(
    id="standard",
    day=Limits(ceiling_ft=2500, visibility_sm=5),
    night=Limits(ceiling_ft=4000, visibility_sm=6),
)
"""What counts where nobody has set anything: method.md 5."""
SHOWN_SM, SHOWN_AT_MOST_SM = 6.0, 10.0
"""What P6SM, 9999 and CAVOK show, and 10SM: a minimum above counts as shown by them (method.md 4)."""
ADVERSE_CEILING_FT = 500.0
ADVERSE_VISIBILITY_SM = 0.5
ADVERSE_CROSSWIND_KT = 5.0
ADVERSE_RUNWAY_FT = 500.0
"""What stress, fatigue or an unfamiliar aircraft or field add, at least (reference.md 10.1)."""


def strictest(
    *, school: Wanted | None = None, pilot: Wanted | None = None, floor: Minimums = FLOOR, name: str = "minimums"
) -> Minimums:
    """Return the strictest of floor, school and pilot, element by element.

    A pilot below the school is raised to it, and that is said. Adverse factors are added once.

    Raises
    ------
    InputError
        If school or pilot ask for less than the floor.
    """
    parties = {"school": school or Wanted(), "pilot": pilot or Wanted()}
    faults = [fault for who, wanted in parties.items() for fault in _faults(who, wanted, floor)]
    if faults:
        raise InputError("; ".join(faults), remedy="raise it to the floor or leave it out")
    ours, theirs = parties["school"], parties["pilot"]
    crosswinds = [kt for kt in (ours.max_crosswind_kt, theirs.max_crosswind_kt) if kt is not None]
    found = Minimums(
        id=name,
        day=Limits(
            ceiling_ft=_most(floor.day.ceiling_ft, ours.day_ceiling_ft, theirs.day_ceiling_ft),
            visibility_sm=_most(floor.day.visibility_sm, ours.day_visibility_sm, theirs.day_visibility_sm),
        ),
        night=_night(floor, ours, theirs),
        runway_length_ft=_most_set(ours.runway_length_ft, theirs.runway_length_ft),
        hard_surface=True if True in (ours.hard_surface, theirs.hard_surface) else None,
        no_private=True if True in (ours.no_private, theirs.no_private) else None,
        max_crosswind_kt=min(crosswinds, default=None),
        margin_min=_margin_min(ours, theirs),
        said=tuple(_raised(ours, theirs)),
    )
    return _with_adverse(found, theirs.adverse)


def beyond_reports(minimums: Minimums) -> tuple[str, ...]:
    """Return what to say of a visibility minimum that most reports cannot show to be met; nothing without one."""
    limits = [minimums.day] if minimums.night == "not planned" else [minimums.day, minimums.night]
    asked_sm = max(limit.visibility_sm for limit in limits)
    if asked_sm <= SHOWN_SM:
        return ()
    words = "P6SM, 9999, CAVOK and 10SM" if asked_sm > SHOWN_AT_MOST_SM else "P6SM, 9999 and CAVOK"
    return (f"visibility minimum {asked_sm:g} SM: {words} count as meeting it, which say no more themselves",)


def _most(first: float, *rest: float | None) -> float:
    return max([first, *(value for value in rest if value is not None)])


def _most_set(*values: float | None) -> float | None:
    return max((value for value in values if value is not None), default=None)


def _night(floor: Minimums, ours: Wanted, theirs: Wanted) -> Limits | NotPlanned:
    if floor.night == "not planned" or "not planned" in (ours.night, theirs.night):
        return "not planned"
    return Limits(
        ceiling_ft=_most(floor.night.ceiling_ft, ours.night_ceiling_ft, theirs.night_ceiling_ft),
        visibility_sm=_most(floor.night.visibility_sm, ours.night_visibility_sm, theirs.night_visibility_sm),
    )


def _margin_min(ours: Wanted, theirs: Wanted) -> float | None:
    """Return the school's margin, or the usual one, or the pilot's if that is more; unset if neither is."""
    if ours.margin_min is None and theirs.margin_min is None:
        return None
    return _most(MARGIN_MIN if ours.margin_min is None else ours.margin_min, theirs.margin_min)


def _faults(who: str, wanted: Wanted, floor: Minimums) -> Iterator[str]:
    limits = [
        ("day ceiling_ft", wanted.day_ceiling_ft, floor.day.ceiling_ft),
        ("day visibility_sm", wanted.day_visibility_sm, floor.day.visibility_sm),
    ]
    if floor.night != "not planned":
        limits += [
            ("night ceiling_ft", wanted.night_ceiling_ft, floor.night.ceiling_ft),
            ("night visibility_sm", wanted.night_visibility_sm, floor.night.visibility_sm),
        ]
    for key, value, least in limits:
        if value is not None and not least <= value < float("inf"):
            yield f"{who}: {key} {value:,g} is below the floor of {least:,g}"
    others = {
        "runway_length_ft": wanted.runway_length_ft,
        "max_crosswind_kt": wanted.max_crosswind_kt,
        "margin_min": wanted.margin_min,
    }
    for key, value in others.items():
        if value is not None and not 0 <= value < float("inf"):
            yield f"{who}: {key} must be 0 or more, not {value:,g}"


def _raised(ours: Wanted, theirs: Wanted) -> Iterator[str]:
    """Yield what the pilot set below the school, and what counts instead."""
    for key, school, pilot in (
        ("day ceiling_ft", ours.day_ceiling_ft, theirs.day_ceiling_ft),
        ("day visibility_sm", ours.day_visibility_sm, theirs.day_visibility_sm),
        ("night ceiling_ft", ours.night_ceiling_ft, theirs.night_ceiling_ft),
        ("night visibility_sm", ours.night_visibility_sm, theirs.night_visibility_sm),
        ("runway_length_ft", ours.runway_length_ft, theirs.runway_length_ft),
        ("margin_min", ours.margin_min, theirs.margin_min),
    ):
        if school is not None and pilot is not None and pilot < school:
            yield f"pilot's {key} of {pilot:,g} is below the school's: {school:,g} counts"
    if ours.margin_min is None and theirs.margin_min is not None and theirs.margin_min < MARGIN_MIN:
        yield f"pilot's margin_min of {theirs.margin_min:,g} is below the usual margin: {MARGIN_MIN:g} counts"
    school, pilot = ours.max_crosswind_kt, theirs.max_crosswind_kt
    if school is not None and pilot is not None and pilot > school:
        yield f"pilot's max_crosswind_kt of {pilot:,g} is above the school's: {school:,g} counts"
    if ours.night == "not planned" and theirs.night_ceiling_ft is not None:
        yield "pilot's night minimums do not count: the school plans no night flight"


def _with_adverse(found: Minimums, adverse: tuple[str, ...]) -> Minimums:
    """Return `found` made stricter, once, for whatever speaks against the pilot today."""
    if not adverse:
        return found
    said = [f"stricter by 500 ft, 1/2 SM, 5 kt and 500 ft of runway for {', '.join(adverse)}"]
    if len(adverse) > 1:
        said.append("several factors against: these steps are the least, think of more or of another day")
    crosswind, runway = found.max_crosswind_kt, found.runway_length_ft
    return replace(
        found,
        day=_stricter(found.day),
        night="not planned" if found.night == "not planned" else _stricter(found.night),
        max_crosswind_kt=None if crosswind is None else max(0.0, crosswind - ADVERSE_CROSSWIND_KT),
        runway_length_ft=None if runway is None else runway + ADVERSE_RUNWAY_FT,
        said=(*found.said, *said),
    )


def _stricter(limits: Limits) -> Limits:
    return Limits(
        ceiling_ft=limits.ceiling_ft + ADVERSE_CEILING_FT,
        visibility_sm=limits.visibility_sm + ADVERSE_VISIBILITY_SM,
    )
