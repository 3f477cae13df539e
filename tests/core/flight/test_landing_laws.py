"""Laws of light, runway and airspace: each of them alone turning worse, or unknown, improves no verdict."""

from collections.abc import Callable
from dataclasses import replace
from datetime import time

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import Point

from refuge.airfield import EVERY_DAY, Airfield, Hours, LightDetail, Runway, RunwayEnd, Tower
from refuge.flight.areas import Area
from refuge.flight.minimums import Minimums
from refuge.flight.question import Question
from refuge.flight.shortlist import Shortlist, build
from refuge.flight.situation import Situation
from refuge.flight.words import explain
from refuge.weather.reports import Observation
from refuge.weather.wind import KnownWind, UnknownWind, Wind
from tests.core.flight.test_shortlist_laws import better
from tests.core.flight.worlds import worlds

few = settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow])
World = tuple[Question, Situation]

winds = st.builds(
    KnownWind,
    dir_deg_true=st.integers(1, 360),
    speed_kt=st.sampled_from((3.0, 9.0, 15.0)),
    gust_kt=st.none() | st.just(25.0),
) | st.just(KnownWind(dir_deg_true=None, speed_kt=4.0, variable=True))
runways = st.builds(
    Runway,
    idents=st.just("09/27"),
    length_ft=st.sampled_from((1800, 2600, 5000, None)),
    surface=st.sampled_from(("hard", "soft", "unknown", "water")),
    lighted=st.sampled_from((True, True, False, None)),
    closed=st.sampled_from((False, False, True)),
    heading_deg_true=st.sampled_from((90.0, 45.0, None)),
)
towers = st.none() | st.builds(
    Tower,
    text=st.just("made up"),
    hours=st.none()
    | st.just((Hours(days=EVERY_DAY, opens_min=360, closes_min=1320),))
    | st.just((Hours(days=EVERY_DAY, opens_min=0, closes_min=1440),)),
)
details = st.builds(
    LightDetail,
    until_local=st.sampled_from((time(20), time(23, 30), time(2))),
    after=st.sampled_from(("radio", "none", "unknown")),
)


@st.composite
def fields_and_winds(draw: st.DrawFn) -> World:
    """Return a world with runways, lights, towers, surface winds and minimums for them."""
    question, known = draw(worlds())
    fields = tuple(
        replace(
            field,
            runways=draw(st.none() | st.lists(runways, max_size=2).map(tuple)),
            lights=draw(st.sampled_from(("dusk_to_dawn", "until", "radio", "none", "unknown"))),
            lights_detail=draw(details),
            tower=draw(towers),
            time_zone=draw(st.sampled_from(("America/Chicago", None))),
            private=draw(st.sampled_from((False, True, None))),
        )
        for field in known.airfields
    )
    asked = replace(
        question.minimums,
        max_crosswind_kt=draw(st.sampled_from((None, 8.0, 20.0))),
        runway_length_ft=draw(st.sampled_from((None, 2500.0))),
        hard_surface=draw(st.sampled_from((None, True))),
        no_private=draw(st.sampled_from((None, True))),
    )
    seen = {name: blown(report, draw(winds)) for name, report in known.observations.items()}
    return replace(question, minimums=asked), replace(known, airfields=fields, observations=seen)


def blown(report: Observation, wind: Wind) -> Observation:
    return replace(report, body=replace(report.body, wind=wind), adverse=replace(report.adverse, wind=wind))


def changed(world: World, change: Callable[[Airfield], Airfield]) -> tuple[Shortlist, Shortlist]:
    question, known = world
    after = replace(known, airfields=tuple(change(field) for field in known.airfields))
    return build(question, known), build(question, after)


def with_runways(field: Airfield, change: Callable[[Runway], Runway]) -> Airfield:
    return field if field.runways is None else replace(field, runways=tuple(map(change, field.runways)))


@few
@given(fields_and_winds())
def test_a_worse_runway_improves_nothing(world: World) -> None:
    changes: tuple[Callable[[Runway], Runway], ...] = (
        lambda r: replace(r, length_ft=None if r.length_ft is None else r.length_ft // 2),
        lambda r: replace(r, length_ft=None),
        lambda r: replace(r, surface="unknown" if r.surface == "hard" else r.surface),
        lambda r: replace(r, surface="water"),
        lambda r: replace(r, closed=True),
        lambda r: replace(r, heading_deg_true=None),
        lambda r: replace(r, lighted=None if r.lighted else r.lighted),
        lambda r: replace(r, lighted=False),
        lambda r: replace(
            r, ends=(RunwayEnd(ident="09", heading_deg_true=r.heading_deg_true, landing_ft=r.length_ft and 900),)
        ),
    )
    for change in changes:
        before, after = changed(world, lambda field, change=change: with_runways(field, change))  # type: ignore[misc]
        assert better(before, after) == []


def shut(field: Airfield) -> bool:
    """Return whether the field is known to have no runway that is open and on land."""
    return field.runways is not None and all(r.closed or r.surface == "water" for r in field.runways)


@few
@given(fields_and_winds())
def test_worse_lights_hours_and_owners_improve_nothing(world: World) -> None:
    changes: tuple[Callable[[Airfield], Airfield], ...] = (
        lambda f: replace(f, lights="until" if f.lights == "dusk_to_dawn" else f.lights),
        lambda f: replace(f, lights="unknown" if f.lights in {"dusk_to_dawn", "until", "radio"} else f.lights),
        lambda f: replace(f, lights="none"),
        lambda f: replace(f, lights_detail=replace(f.lights_detail, until_local=time(12, 1))),
        lambda f: replace(f, lights_detail=replace(f.lights_detail, after="none")),
        lambda f: replace(f, tower=None),
        lambda f: replace(f, tower=None if f.tower is None else replace(f.tower, hours=None)),
        lambda f: replace(f, time_zone=None),
        lambda f: replace(f, private=None if f.private is False else f.private),
        lambda f: replace(f, private=True),
        # Where no minimum asks, unknown runways are not asked (method.md 5); a field known to be shut is out.
        lambda f: f if shut(f) else replace(f, runways=None),
    )
    for change in changes:
        assert better(*changed(world, change)) == []
    question, known = world
    assert (
        better(build(replace(question, handheld=True), known), build(replace(question, handheld=False), known))
        == []
    )


@few
@given(fields_and_winds(), st.sampled_from((5.0, 15.0, 40.0)))
def test_more_wind_and_unknown_wind_improve_nothing(world: World, more: float) -> None:
    question, known = world

    def stronger(wind: Wind) -> Wind:
        if not isinstance(wind, KnownWind):
            return wind
        return replace(wind, gust_kt=max(wind.speed_kt, wind.gust_kt or 0.0) + more)

    for change in (stronger, lambda _: UnknownWind(reason="lost"), _variable):
        seen = {name: blown(report, change(report.adverse.wind)) for name, report in known.observations.items()}
        assert better(build(question, known), build(question, replace(known, observations=seen))) == []


def _variable(wind: Wind) -> Wind:
    if not isinstance(wind, KnownWind):
        return wind
    return replace(wind, dir_deg_true=None, variable=True)


@few
@given(fields_and_winds())
def test_stricter_minimums_improve_nothing(world: World) -> None:
    question, known = world
    before = build(question, known)
    changes: tuple[Callable[[Minimums], Minimums], ...] = (
        lambda m: replace(m, max_crosswind_kt=2.0),
        lambda m: replace(m, runway_length_ft=9000.0),
        lambda m: replace(m, hard_surface=True),
        lambda m: replace(m, no_private=True),
    )
    for change in changes:
        after = build(replace(question, minimums=change(question.minimums)), known)
        # A check that was not made counts for nothing: its first verdict is no improvement.
        assert [b for b in better(before, after) if b[1] == "all"] == []


@few
@given(fields_and_winds(), st.sampled_from(("prohibited", "restricted", "adiz", "class_b")), st.floats(0.05, 3.0))
def test_areas_improve_nothing_and_every_answer_has_words(world: World, kind: str, radius_deg: float) -> None:
    question, known = world
    before = build(question, known)
    spots = [(question.at.lon_deg, question.at.lat_deg), *((f.lon_deg, f.lat_deg) for f in known.airfields)]
    for lon, lat in spots:
        one = Area(name="A", kind=kind, shape=Point(lon, lat).buffer(radius_deg), source="made up")  # type: ignore[arg-type]
        after = build(question, replace(known, areas=(one,)))
        assert [b for b in better(before, after) if b[1] == "all"] == []
        for i in range(len(known.airfields)):
            assert all(check.why for check in explain(after, i).values())
