"""Hypothesis strategies for small worlds: a field or two, a few stations, whatever they may say."""

from dataclasses import replace
from typing import TypeVar

from hypothesis import strategies as st

from refuge.aircraft.timeline import FunctionEnd
from refuge.airfield import Airfield, Station
from refuge.earth import Position
from refuge.flight.minimums import FLOOR, STANDARD, Limits, Minimums
from refuge.flight.question import Question, Wind
from refuge.flight.situation import Guided, Hearing, Situation
from refuge.weather.conditions import Conditions
from refuge.weather.reports import Forecast, Group, GroupKind, Observation
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)
from tests.core.flight import situations as s

T = TypeVar("T")
PLACES = (
    s.HERE,
    s.HERE,
    Position(lat_deg=-33.9, lon_deg=151.2),
    Position(lat_deg=-17.0, lon_deg=179.95),
    Position(lat_deg=89.8, lon_deg=0.0),
)

ceilings: st.SearchStrategy[Ceiling] = st.one_of(
    st.sampled_from((200, 900, 1400, 1500, 2200, 2500, 3600, 8000)).map(lambda ft: CeilingAt(ft_agl=ft)),
    st.sampled_from((s.SKC, s.CLR, s.CAVOK, s.NSC)),
    st.sampled_from((s.NO_SKY, UnknownCeiling(reason="BKN///", at_best_ft_agl=800), s.HIDDEN)),
)
visibilities: st.SearchStrategy[Visibility] = st.one_of(
    st.sampled_from((0.5, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0)).map(lambda sm: KnownVisibility(sm=sm)),
    st.sampled_from((s.P6SM, KnownVisibility(sm=0.25, bound=Bound.LESS_THAN))),
    st.sampled_from((s.NO_VISIBILITY, UnknownVisibility(reason="disputed", at_best_sm=1.0))),
)
weathers = st.sampled_from(((), (), (), ("-RA",), ("TSRA",), ("VCTS",), ("FZRA",), ("-PL",), ("RETS",)))
GOOD = s.conditions(s.CAVOK, s.P6SM)


def rarely(draw: st.DrawFn, usual: T, other: st.SearchStrategy[T], *, tidy: bool) -> T:
    """Return the usual value, and in a tidy world nearly always."""
    return usual if draw(st.integers(0, 9)) < (9 if tidy else 4) else draw(other)


@st.composite
def said(draw: st.DrawFn, *, tidy: bool) -> Conditions:
    """Good weather mostly: verdicts that hang on one thing are the ones that tell."""
    if draw(st.integers(0, 9)) < (9 if tidy else 5):
        return GOOD if draw(st.booleans()) else s.conditions(CeilingAt(ft_agl=8000), s.P6SM)
    return s.conditions(draw(ceilings), draw(visibilities), draw(weathers))


@st.composite
def changes(draw: st.DrawFn, *, tidy: bool) -> Group:
    start = draw(st.integers(-3, 6))
    kind: GroupKind = draw(st.sampled_from(("FM", "BECMG", "TEMPO", "PROB")))
    if kind == "FM":
        return s.group(kind, start, 12, draw(said(tidy=tidy)))
    end = start + draw(st.integers(1, 3))
    return s.group(kind, start, end, ceiling=draw(st.none() | ceilings), visibility=draw(st.none() | visibilities))


@st.composite
def forecasts(draw: st.DrawFn, name: str, *, tidy: bool) -> list[Forecast]:
    number = rarely(draw, 1, st.sampled_from((0, 1, 2)), tidy=tidy)
    found = []
    for i in range(number):
        from_h = rarely(draw, -6, st.sampled_from((-3, 1, 3)), tidy=tidy) if i == number - 1 else -9
        found.append(
            s.forecast(
                name,
                draw(said(tidy=tidy)),
                *sorted(draw(st.lists(changes(tidy=tidy), max_size=1 if tidy else 2)), key=lambda g: g.start),
                from_h=from_h,
                to_h=from_h + rarely(draw, 24, st.sampled_from((4, 9)), tidy=tidy),
                issued_h=from_h - 1 if i == 0 else -0.5,
                nil=rarely(draw, False, st.just(True), tidy=tidy) if draw(st.booleans()) else False,
            )
        )
    return found


@st.composite
def reports(draw: st.DrawFn, name: str, *, tidy: bool) -> Observation | None:
    if rarely(draw, False, st.booleans(), tidy=tidy):
        return None
    trend = rarely(draw, False, st.booleans(), tidy=tidy)
    now_said = draw(said(tidy=tidy))
    return s.report(
        name,
        now_said,
        age_min=rarely(
            draw, 20.0, st.sampled_from((-20.0, -10.0, 0.0, 45.0, 59.0, 70.0, 75.0, 76.0, 90.0)), tidy=tidy
        ),
        temperature_c=draw(st.sampled_from((20.0, 20.0, 3.0, None))),
        dew_point_c=draw(st.sampled_from((5.0, 1.0, None))),
        nosig=draw(st.booleans()),
        trend=(s.group("TEMPO", 0, 2, draw(said(tidy=tidy))),) if trend else (),
        nil=rarely(draw, False, st.booleans(), tidy=tidy),
    )


@st.composite
def guided(draw: st.DrawFn) -> Guided | None:
    """Return the guidance of a station: good mostly, of either kind; or none, or one that cannot be read."""
    kind, ran = draw(st.sampled_from(("lamp", "lamp", "blend", "none"))), draw(st.sampled_from((10.0, 30.0, 130.0)))
    percents = st.sampled_from((0, 0, 0, 3, 10, 20, 30, 60))
    if kind == "none":
        return None
    if kind == "lamp":
        found = s.lamp(
            "X", draw(st.sampled_from(("8", "8", "7", "83", "88887", "8888846"))),
            draw(st.sampled_from(("7", "7", "6", "74", "7777737"))),
            thunder=draw(percents), wet=draw(percents), freezing=draw(percents), ran_min_ago=ran,
        )  # fmt: skip
    else:
        found = s.blend(
            "X", draw(st.sampled_from((-88, 80, 24, 9))), draw(st.sampled_from((100, 60, 25))),
            (draw(percents), draw(percents)), thunder=draw(percents), ran_min_ago=ran,
        )  # fmt: skip
    return found if draw(st.integers(0, 9)) else replace(found, unreadable=("made unreadable",))


hearings = st.sampled_from(
    (
        s.REPORTS_ONLY, s.REPORTS_ONLY, s.REPORTS_ONLY, s.FORECASTS_ONLY,
        s.GUIDED, s.GUIDED, replace(s.GUIDED, reports=False), replace(s.HEARD, guidance=True),
        replace(s.HEARD, ever_ceiling=False), replace(s.REPORTS_ONLY, ever_visibility=False),
        Hearing(reports=False, forecasts=False, ever_ceiling=False, ever_visibility=False),
    )
)  # fmt: skip
heights: st.SearchStrategy[float | None] = st.sampled_from((0.0, 1250.0, 1400.0, 2000.0, 2001.0, 3500.0, None))


@st.composite
def places(draw: st.DrawFn, here: Position, near: Position | None = None) -> Position:
    if near is not None and draw(st.booleans()):
        return near
    distance = draw(st.sampled_from((0.0, 4.0, 19.9, 20.1, 29.9, 30.1, 45.0)))
    return s.at(draw(st.sampled_from((0.0, 90.0, 200.0, 290.0))), distance, here)


@st.composite
def minimums(draw: st.DrawFn) -> Minimums:
    low = Minimums(
        id="high", day=Limits(ceiling_ft=6000, visibility_sm=7), night=Limits(ceiling_ft=7000, visibility_sm=8)
    )
    return draw(st.sampled_from((FLOOR, FLOOR, STANDARD, low, replace(FLOOR, night="not planned"))))


@st.composite
def worlds(draw: st.DrawFn) -> tuple[Question, Situation]:
    """Return a question and a situation around one place."""
    here, tidy = draw(st.sampled_from(PLACES)), draw(st.booleans())
    names = [f"X{letter}" for letter in "ABCD"[: draw(st.integers(0, 4))]]
    stations: list[Station] = []
    for name in names:
        where = draw(places(here, s.at(90.0, 4.0, here)))
        country = rarely(draw, "US", st.just("FR"), tidy=tidy)
        stations.append(
            s.station(name, where, elevation_ft=rarely(draw, 1000.0, heights, tidy=tidy), country=country)
        )
    fields: list[Airfield] = []
    for number in range(draw(st.integers(0, 3))):
        own = draw(st.none() | st.sampled_from(stations)) if stations else None
        where = draw(places(here)) if own is None else Position(lat_deg=own.lat_deg, lon_deg=own.lon_deg)
        lights = draw(st.sampled_from(s.LIGHTS))
        height = rarely(draw, 1000.0, heights, tidy=tidy) if own is None else own.elevation_ft
        fields.append(
            s.airfield(
                f"F{number}", where, station=None if own is None else own.id, elevation_ft=height, lights=lights
            )
        )
    usual = draw(st.sampled_from((s.HEARD, s.HEARD, s.GUIDED)))
    seen = [one for name in names if (one := draw(reports(name, tidy=tidy))) is not None]
    known = s.situation(
        fields,
        stations,
        reports=seen,
        forecasts=[one for name in names for one in draw(forecasts(name, tidy=tidy))],
        hearing={name: rarely(draw, usual, hearings, tidy=tidy) for name in names},
    )
    known = replace(known, guidance={name: g for name in names if (g := draw(guided())) is not None})
    return draw(questions(here)), known


@st.composite
def questions(draw: st.DrawFn, here: Position) -> Question:
    navigation = draw(
        st.sampled_from(
            (
                FunctionEnd(state="not_limited"),
                FunctionEnd(state="until", end_min=20.0),
                FunctionEnd(state="absent"),
                FunctionEnd(state="unknown"),
            )
        )
    )
    wind = Wind(
        dir_deg_true=draw(st.sampled_from((0.0, 270.0))), speed_kt=draw(st.sampled_from((0.0, 30.0, 115.0)))
    )
    return s.question(
        where=here,
        fails_in_min=draw(st.sampled_from((-30.0, 0.0, 0.0, 20.0, 50.0, 80.0, 110.0, 200.0, 400.0))),
        lasts=s.endurance(
            draw(st.sampled_from((130.0, 130.0, 60.0, 10.0, None))),
            navigation=navigation,
            dependable=draw(st.booleans()),
        ),
        wind=wind,
        minimums=draw(minimums()),
        altitude_ft=draw(st.sampled_from((6000.0, 6000.0, 2500.0, 900.0))),
        lowest_safe_ft_amsl=draw(st.sampled_from((2500.0, 2500.0, 2500.0, 4500.0, 7500.0, None))),
        oat_c=draw(st.sampled_from((15.0, -5.0, -30.0, None))),
        handheld=draw(st.booleans()),
    )
