"""A plan against the brute force: whatever they do not agree on, in words."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from refuge.airfield import Airfield
from refuge.flight.decide import CheckName
from refuge.flight.route import Plan
from refuge.flight.shortlist import build as shortlist_of
from refuge.flight.track import question_at
from refuge.flight.verdict import NOT_CHECKED
from tests.core.flight.brute import Brute
from tests.core.flight.oracle import V

NEAR_ENOUGH_MIN = 1e-3
Found = dict[str, float]
CHECKS: tuple[CheckName, ...] = ("reach", "weather", "area", "break_out", "icing", "light", "runway")


def differences(plan: Plan, brute: Brute) -> Iterator[str]:
    """Yield every minute and airfield, and every part of the plan, on which both do not agree."""
    if brute.minutes != plan.track.minutes.size:
        yield f"{brute.minutes} minutes and {plan.track.minutes.size}"
        return
    found = [by_route(plan, minute) for minute in range(brute.minutes)]
    expected = [by_brute(brute, minute) for minute in range(brute.minutes)]
    visual = [brute.visual(minute) for minute in range(brute.minutes)]
    for minute in range(brute.minutes):
        yield from _of_minute(minute, expected[minute], found[minute])
        if visual[minute] != bool(plan.visual[minute]):
            yield f"minute {minute}: visual {plan.visual[minute]}"
    yield from _parts(plan, brute, expected, visual)


def by_route(plan: Plan, minute: int) -> Found:
    """Return the refuges of a minute with their minutes to break-out."""
    return {
        plan.field(int(plan.meeting.field[pair])).id: float(plan.meeting.break_out_min[pair])
        for pair in plan.ranked[minute]
    }


def by_brute(brute: Brute, minute: int) -> Found:
    """Return the same by brute force: every airfield that can be in reach is asked."""
    asked = ((field, brute.meets(minute, field)) for field in brute.candidates(minute))
    return {field.id: minutes for field, minutes in asked if minutes is not None}


def _of_minute(minute: int, expected: Found, found: Found) -> Iterator[str]:
    for name in sorted({*expected, *found}):
        if name not in found or name not in expected:
            yield (f"minute {minute}, {name}: {expected.get(name)} by brute force, {found.get(name)} by route")
        elif abs(expected[name] - found[name]) > NEAR_ENOUGH_MIN:
            yield f"minute {minute}, {name}: {expected[name]} and {found[name]} min"


def _parts(plan: Plan, brute: Brute, expected: Sequence[Found], visual: Sequence[bool]) -> Iterator[str]:
    """Yield what differs in ranks, stretches, gaps and chances; certainty alone is taken from the plan."""
    best: list[str | None] = []
    for minute, pairs in enumerate(plan.ranked):
        ranked = ranks(plan, brute, minute, pairs)
        shown = [plan.field(int(plan.meeting.field[pair])).id for pair in pairs]
        if ranked != shown:
            yield f"minute {minute}: ranked {ranked}, shown {shown}"
        best.append(ranked[0] if ranked else None)
    kinds = [
        ("refuge", name) if name else ("visual" if sees else "gap", None)
        for name, sees in zip(best, visual, strict=True)
    ]
    stretches, start = [], 0
    for kind, group in groupby(kinds):
        end = start + len(list(group))
        stretches.append((*kind, start, end))
        start = end
    shown_stretches = [
        (s.state, None if s.field is None else plan.field(s.field).id, s.from_min, s.to_min) for s in plan.stretches
    ]
    if stretches != shown_stretches:
        yield f"stretches {stretches}, shown {shown_stretches}"
    gap = sum(kind == ("gap", None) for kind in kinds)
    if gap != plan.gap_min:
        yield f"{gap} gap minutes, shown {plan.gap_min}"
    yield from _chances(plan, expected)


def ranks(plan: Plan, brute: Brute, minute: int, pairs: Sequence[int]) -> list[str]:
    """Return the refuges of a minute by certainty, then independence, then spare up to 20 min, class B behind."""
    meeting = plan.meeting
    one_by_one = sorted(
        pairs,
        key=lambda pair: (
            bool(plan.field(int(meeting.field[pair])).class_b),  # no areas are loaded here
            -int(meeting.word[pair]),
            -min(float(meeting.spare_min[pair]), 20.0),
            float(meeting.break_out_min[pair]),
            int(meeting.field[pair]),
        ),
    )
    fields = {pair: plan.field(int(meeting.field[pair])) for pair in pairs}
    used: list[frozenset[str]] = []
    heads = set()
    for pair in one_by_one:
        rests_on = brute.evidence(minute, fields[pair])
        if all(rests_on.isdisjoint(other) for other in used):
            used.append(rests_on)
            heads.add(pair)
    shown = sorted(one_by_one, key=lambda p: (bool(fields[p].class_b), -int(meeting.word[p]), p not in heads))
    return [fields[pair].id for pair in shown]


def _chances(plan: Plan, expected: Sequence[Found]) -> Iterator[str]:
    """Yield every refuge whose first or last minute is not the one of the brute force."""
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    for minute, found in enumerate(expected):
        for name in found:
            first.setdefault(name, minute)
            last[name] = minute
    shown = {plan.field(c.field).id: (c.first_min, c.last_min) for c in plan.chances}
    mine = {name: (first[name], last[name]) for name in first}
    if mine != shown:
        yield f"first and last minutes {mine}, shown {shown}"


def verdict_differences(
    plan: Plan, brute: Brute, minute: int, most: int, seen: Counter[tuple[str, str]]
) -> Iterator[str]:
    """Yield every check of the airfields in reach at a minute that comes to something else, in three values.

    At most so many airfields are asked. `seen` counts how often each check came to each value.
    """
    turn = brute.turn(minute)
    fields = [field for field in brute.candidates(minute) if in_reach(brute, minute, field)][:most]
    if not fields:
        return
    found = shortlist_of(
        question_at(plan.asked, plan.track, minute), replace(plan.situation, airfields=tuple(fields))
    )
    for i, field in enumerate(fields):
        expected = brute.verdicts(minute, field)
        shown: dict[str, V] = {
            name: V(int(found.codes[name][i])) for name in CHECKS if found.codes[name][i] != NOT_CHECKED
        }
        for name, verdict in expected.items():
            seen[name, verdict.name] += 1
            if shown.get(name, V.MEETS) is not verdict:
                yield f"minute {minute} at {turn.at}, {field.id}: {name} {verdict.name}, shown {shown.get(name)}"


def in_reach(brute: Brute, minute: int, field: Airfield) -> bool:
    """Return whether an airfield is in reach at a minute."""
    turn = brute.turn(minute)
    way = brute.way(turn, field)
    return brute.reach(turn, way, brute.break_out(way, field)) is V.MEETS


def equal_time_differences(plan: Plan, brute: Brute) -> Iterator[str]:
    """Yield every equal-time point at which the two refuges are not equally far in minutes."""
    for point in plan.equal_times:
        whole = int(np.floor(point.passes_min + 1e-9))
        turn = brute.turn(max(0, min(whole, brute.minutes - 1)))
        there = replace(turn, at=(point.at.lat_deg, point.at.lon_deg))
        one, two = (brute.way(there, plan.field(field)).nominal for field in point.fields)
        if abs(one - two) > 0.25 or abs(one - point.minutes) > 0.5:
            yield f"equal-time point at {point.passes_min}: {one} and {two} min, shown {point.minutes}"
