"""Laws of method.md on the whole shortlist: nothing worse, and nothing missing, makes an answer better."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refuge.aircraft.timeline import FunctionEnd
from refuge.flight.minimums import FLOOR
from refuge.flight.question import Question, Wind
from refuge.flight.shortlist import Shortlist, build
from refuge.flight.situation import Situation
from refuge.flight.verdict import MEETS, MISSES, UNKNOWN
from refuge.flight.words import explain, reasons
from refuge.weather.conditions import Conditions
from refuge.weather.guidance import Guidance
from refuge.weather.reports import Forecast, Group, Observation
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
from refuge.weather.wind import UnknownWind
from tests.core.flight import situations as s
from tests.core.flight.worlds import worlds

World = tuple[Question, Situation]
few = settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
BREAKS = UnknownCeiling(reason="made unreadable")


def verdicts(found: Shortlist) -> dict[str, dict[str, int]]:
    """Return every code by airfield and check, with the sum as ``all``."""
    return {
        field.id: {
            **{name: int(codes[i]) for name, codes in found.codes.items()},
            "all": int(found.verdict[i]),
        }
        for i, field in enumerate(found.basis.airfields)
    }


def better(before: Shortlist, after: Shortlist, *checks: str) -> list[tuple[str, str, int, int]]:
    """Return what became better, other than a miss that became unknown."""
    was, now = verdicts(before), verdicts(after)
    for codes in (*was.values(), *now.values()):
        # The way down lies over the area: what its stations leave open of cloud and ice stands in its own check.
        codes["icing"] = min(codes["icing"], codes["area"])
    return [
        (field, name, was[field][name], code)
        for field, codes in now.items()
        for name, code in codes.items()
        if (not checks or name in checks)
        and code > was[field][name]
        and (was[field][name], code) != (int(MISSES), int(UNKNOWN))
    ]


# --- worse weather ---------------------------------------------------------------------------------


def low(ceiling: Ceiling | None, cap_ft: int) -> Ceiling | None:
    match ceiling:
        case None:
            return None
        case CeilingAt(ft_agl=ft):
            return CeilingAt(ft_agl=min(ft, cap_ft))
        case NoCeiling(none_below_ft=below):
            return CeilingAt(ft_agl=cap_ft if below is None else min(below, cap_ft))
        case UnknownCeiling(at_best_ft_agl=best):
            return replace(ceiling, at_best_ft_agl=cap_ft if best is None else min(best, cap_ft))


def short(visibility: Visibility | None, cap_sm: float) -> Visibility | None:
    match visibility:
        case None:
            return None
        case KnownVisibility(sm=sm, bound=Bound.AT_LEAST):
            return KnownVisibility(sm=min(sm, cap_sm))
        case KnownVisibility(sm=sm):
            return replace(visibility, sm=min(sm, cap_sm))
        case UnknownVisibility(at_best_sm=best):
            return replace(visibility, at_best_sm=cap_sm if best is None else min(best, cap_sm))


def altered(situation: Situation, change: Callable[[Any], Any], names: list[str]) -> Situation:
    """Return the situation with `change` made to reports, trends and forecasts of these stations."""

    def of_report(seen: Observation) -> Observation:
        if seen.station not in names:
            return seen
        said = change(seen.adverse)
        return replace(seen, body=said, adverse=said, trend=tuple(change(g) for g in seen.trend))

    def of_forecast(one: Forecast) -> Forecast:
        return replace(one, groups=tuple(change(g) for g in one.groups)) if one.station in names else one

    return replace(
        situation,
        observations={name: of_report(seen) for name, seen in situation.observations.items()},
        forecasts={name: tuple(map(of_forecast, found)) for name, found in situation.forecasts.items()},
    )


@few
@given(worlds(), st.sampled_from((100, 1400, 2400)), st.sampled_from((0.5, 2.5, 4.5)), st.data())
def test_lower_cloud_shorter_sight_and_storms_improve_nothing(
    world: World, cap_ft: int, cap_sm: float, data: st.DataObject
) -> None:
    question, situation = world
    which = data.draw(st.sampled_from(("ceiling", "visibility", "storm")))
    names = [name for name in situation.stations if data.draw(st.booleans())]

    def worse(said: Conditions | Group) -> Conditions | Group:
        if which == "ceiling":
            return replace(said, ceiling=low(said.ceiling, cap_ft))  # type: ignore[arg-type]
        if which == "visibility":
            return replace(said, visibility=short(said.visibility, cap_sm))  # type: ignore[arg-type]
        return replace(said, weather=None if said.weather is None else (*said.weather, "+TSRA"))  # type: ignore[arg-type]

    assert better(build(question, situation), build(question, altered(situation, worse, names))) == []


# --- missing and unknown -----------------------------------------------------------------------------

MISSING: Mapping[str, Callable[[Situation, str], Situation]] = {
    "report": lambda known, name: replace(
        known, observations={key: seen for key, seen in known.observations.items() if key != name}
    ),
    "report is old": lambda known, name: of_report(
        known, name, lambda seen: replace(seen, observed_at=seen.observed_at - timedelta(hours=3))
    ),
    "ceiling of the report": lambda known, name: of_report(
        known, name, lambda seen: with_adverse(seen, ceiling=BREAKS)
    ),
    "visibility of the report": lambda known, name: of_report(
        known, name, lambda seen: with_adverse(seen, visibility=s.NO_VISIBILITY)
    ),
    "temperature": lambda known, name: of_report(known, name, lambda seen: replace(seen, temperature_c=None)),
    "dew point": lambda known, name: of_report(known, name, lambda seen: replace(seen, dew_point_c=None)),
    "guidance": lambda known, name: replace(
        known, guidance={key: found for key, found in known.guidance.items() if key != name}
    ),
    "lines of the guidance": lambda known, name: of_guidance(known, name, ("CIG", "VIS", "MVC", "LP1", "T01")),
    "precipitation of the guidance": lambda known, name: of_guidance(known, name, ("PPO", "P01", "POZ", "PZR")),
    "guidance that nobody can read": lambda known, name: replace(
        known,
        guidance={
            key: replace(found, unreadable=("made unreadable",)) if key == name else found
            for key, found in known.guidance.items()
        },
    ),
    "forecasts": lambda known, name: replace(
        known, forecasts={key: found for key, found in known.forecasts.items() if key != name}
    ),
    "ceilings of the forecast": lambda known, name: of_groups(
        known, name, lambda group: replace(group, ceiling=None if group.ceiling is None else BREAKS)
    ),
    "visibilities of the forecast": lambda known, name: of_groups(
        known, name, lambda group: replace(group, visibility=None if group.visibility is None else s.NO_VISIBILITY)
    ),
    "ceiling of the first group": lambda known, name: of_groups(
        known, name, lambda group: replace(group, ceiling=BREAKS) if group.kind == "BASE" else group
    ),
    "cancelled": lambda known, name: replace(
        known,
        forecasts={
            key: tuple(replace(one, cancelled=True, groups=()) if key == name else one for one in found)
            for key, found in known.forecasts.items()
        },
    ),
    "height of the station": lambda known, name: replace(
        known, stations={**known.stations, name: replace(known.stations[name], elevation_ft=None)}
    ),
}


def with_adverse(seen: Observation, **changes: Any) -> Observation:
    return replace(seen, adverse=replace(seen.adverse, **changes))


def of_report(known: Situation, name: str, change: Callable[[Observation], Observation]) -> Situation:
    return replace(
        known, observations={key: change(seen) if key == name else seen for key, seen in known.observations.items()}
    )


def of_guidance(known: Situation, name: str, lost: tuple[str, ...]) -> Situation:
    """Return the situation with these lines of a station's guidance unread."""

    def unread(block: Guidance) -> Guidance:
        rows = {key: cells for key, cells in block.rows.items() if key not in lost}
        return replace(block, rows=rows, unread=tuple(key for key in lost if key in block.rows))

    return replace(
        known,
        guidance={
            key: replace(found, blocks=tuple(map(unread, found.blocks))) if key == name else found
            for key, found in known.guidance.items()
        },
    )


def of_groups(known: Situation, name: str, change: Callable[[Group], Group]) -> Situation:
    return replace(
        known,
        forecasts={
            key: tuple(replace(one, groups=tuple(map(change, one.groups))) if key == name else one for one in found)
            for key, found in known.forecasts.items()
        },
    )


@settings(max_examples=120, suppress_health_check=[HealthCheck.too_slow])
@given(worlds(), st.sampled_from(sorted(MISSING)), st.data())
def test_what_goes_missing_turns_nothing_into_meets(world: World, what: str, data: st.DataObject) -> None:
    question, situation = world
    before = build(question, situation)
    for name in situation.stations:
        if data.draw(st.booleans()):
            situation = MISSING[what](situation, name)
    assert better(before, build(question, situation)) == []


@few
@given(worlds())
def test_an_airfield_of_which_less_is_known_meets_no_sooner(world: World) -> None:
    question, situation = world
    question = replace(question, lowest_safe_ft_amsl=2500.0)  # without it the height is where the descent ends
    before = build(question, situation)
    for change in ({"elevation_ft": None}, {"lights": "unknown"}, {"runways": None}):
        fields = tuple(replace(field, **change) for field in situation.airfields)
        assert better(before, build(question, replace(situation, airfields=fields))) == []


@few
@given(worlds())
def test_what_the_pilot_does_not_give_meets_no_sooner(world: World) -> None:
    question, situation = world
    before = build(question, situation)
    unlimited = replace(question, endurance=replace(question.endurance, information_min=None))
    assert better(before, build(unlimited, situation)) == []
    assert better(before, build(replace(question, wind=None), situation), "reach", "all") == []
    # The lowest safe height also ends the descent, and with it the window: only its own check is compared.
    assert better(before, build(replace(question, lowest_safe_ft_amsl=None), situation), "break_out", "all") == []
    shaky = replace(question, endurance=replace(question.endurance, dependable=False))
    assert better(before, build(shaky, situation)) == []


@few
@given(worlds(), st.sampled_from(("CIG", "VIS", "MVC", "MVV", "LP1", "T01", "POZ", "PPO")), st.data())
def test_worse_guidance_improves_nothing(world: World, line: str, data: st.DataObject) -> None:
    """A lower category or height, a greater chance: cells made worse at every hour (NBM and LAMP cards)."""
    question, situation = world
    worse = {"CIG": "  1", "VIS": "  1"}.get(line, " 90")

    def of_block(block: Guidance) -> Guidance:
        if line not in block.rows:
            return block
        return replace(block, rows={**block.rows, line: worse * len(block.times)})

    names = [name for name in situation.stations if data.draw(st.booleans())]
    altered_guidance = {
        name: replace(found, blocks=tuple(map(of_block, found.blocks))) if name in names else found
        for name, found in situation.guidance.items()
    }
    assert better(build(question, situation), build(question, replace(situation, guidance=altered_guidance))) == []


@few
@given(worlds())
def test_guidance_beside_a_taf_changes_nothing(world: World) -> None:
    """It never takes the place of a TAF: where every station has had TAFs, it is not asked (method.md 4)."""
    question, situation = world
    hearing = {name: replace(heard, forecasts=True) for name, heard in situation.hearing.items()}
    with_it = replace(situation, hearing={name: replace(h, guidance=True) for name, h in hearing.items()})
    without = replace(situation, hearing={name: replace(h, guidance=False) for name, h in hearing.items()})
    assert verdicts(build(question, with_it)) == verdicts(build(question, replace(without, guidance={})))


# --- light, aid, wind, error radius --------------------------------------------------------------------


@few
@given(worlds())
def test_worse_lights_and_no_handheld_improve_nothing(world: World) -> None:
    question, situation = world

    def lit(kind: s.Lights, *, handheld: bool) -> Shortlist:
        fields = tuple(replace(field, lights=kind) for field in situation.airfields)
        return build(replace(question, handheld=handheld), replace(situation, airfields=fields))

    best_first = [
        lit("dusk_to_dawn", handheld=True), lit("radio", handheld=True), lit("radio", handheld=False),
        lit("none", handheld=False),
    ]  # fmt: skip
    for one, other in pairwise(best_first):
        assert better(one, other) == []


@few
@given(worlds())
def test_a_larger_error_radius_only_adds_evidence(world: World) -> None:
    question, situation = world

    def lasting(navigation: FunctionEnd) -> Shortlist:
        functions = {**question.endurance.functions, "navigation": navigation}
        endurance = replace(question.endurance, functions=functions)
        return build(replace(question, endurance=endurance), situation)

    radii = [
        FunctionEnd(state="not_limited"),
        FunctionEnd(state="until", end_min=15.0),
        FunctionEnd(state="absent"),
    ]
    found = [lasting(navigation) for navigation in radii]
    for one, other in pairwise(found):
        assert (other.basis.fields.error_radius_nm >= one.basis.fields.error_radius_nm).all()
        assert better(one, other, "area", "break_out") == []
        assert other.basis.weighed.area_inquiry.field.size >= one.basis.weighed.area_inquiry.field.size


@few
@given(worlds(), st.integers(0, 60))
def test_more_wind_on_the_nose_reaches_no_more(world: World, more_kt: int) -> None:
    question, situation = world
    for field in situation.airfields:
        track = s.WGS84.inv(question.at.lon_deg, question.at.lat_deg, field.lon_deg, field.lat_deg)[0] % 360.0
        alone = replace(situation, airfields=(field,))
        weak, strong = (
            build(replace(question, wind=Wind(dir_deg_true=track, speed_kt=kt)), alone)
            for kt in (20.0, 20.0 + more_kt)
        )
        assert strong.basis.arrival.break_out_min[0] >= weak.basis.arrival.break_out_min[0] - 1e-9
        assert better(weak, strong, "reach") == []


# --- order, reasons ----------------------------------------------------------------------------------


@few
@given(worlds(), st.randoms(use_true_random=False))
def test_the_order_of_what_is_given_changes_nothing(world: World, random: Any) -> None:
    question, situation = world
    fields, names = list(situation.airfields), list(situation.stations)
    random.shuffle(fields)
    random.shuffle(names)
    shuffled = replace(
        situation,
        airfields=tuple(fields),
        stations={name: situation.stations[name] for name in names},
        observations={n: situation.observations[n] for n in names if n in situation.observations},
        forecasts={n: situation.forecasts[n] for n in names if n in situation.forecasts},
        hearing={n: situation.hearing[n] for n in names if n in situation.hearing},
    )
    one, other = build(question, situation), build(question, shuffled)
    assert verdicts(one) == verdicts(other)
    assert {f.id: c for f, c in zip(situation.airfields, one.certainty, strict=True)} == {
        f.id: c for f, c in zip(fields, other.certainty, strict=True)
    }


@few
@given(worlds())
def test_the_sum_the_order_and_the_words_follow_the_checks(world: World) -> None:
    found = build(*world)
    n = len(world[1].airfields)
    assert sorted(found.order.tolist()) == list(range(n))
    assert (np.diff(found.verdict[found.order].astype(int)) <= 0).all()  # meets, then unknown, then misses
    for i in range(n):
        codes = [int(code[i]) for code in found.codes.values() if code[i] <= MEETS]
        assert int(found.verdict[i]) == (0 if 0 in codes else 1 if 1 in codes else 2)
        checks = explain(found, i)
        assert {name: check.verdict for name, check in checks.items()} == {
            name: ("misses", "unknown", "meets", "not_checked")[int(code[i])] for name, code in found.codes.items()
        }
        assert bool(reasons(checks)) == (found.verdict[i] != MEETS)
        assert all(check.why for check in checks.values())
        assert (found.certainty[i].word == "none") == (found.verdict[i] != MEETS)
        assert (found.lack[i] > 0) == (found.verdict[i] == MISSES)


@pytest.mark.parametrize("wind", [UnknownWind(reason="/////KT")])
def test_the_surface_wind_decides_nothing_yet(wind: UnknownWind) -> None:
    """A minimum for crosswind leaves the runway open; without one no wind is asked."""
    said = s.conditions(8000, 10.0, wind=wind)
    where = s.at(90.0, 5.0)
    known = s.situation(
        [s.airfield("F", where, station="XA")], [s.station("XA", where)], reports=[s.report("XA", said)]
    )
    assert build(s.question(), known).word(0) == "meets"
    strict = replace(FLOOR, max_crosswind_kt=15.0)
    assert verdicts(build(s.question(minimums=strict), known))["F"]["runway"] == UNKNOWN
