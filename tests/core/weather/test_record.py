"""What is printed and stored comes back exactly; every record has every key of interface.md."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.weather.conditions import Conditions
from refuge.weather.record import (
    ceiling_from_record,
    ceiling_record,
    conditions_from_record,
    conditions_record,
    forecast_from_record,
    forecast_record,
    group_record,
    observation_from_record,
    observation_record,
    report_record,
    visibility_from_record,
    visibility_record,
    wind_from_record,
    wind_record,
)
from refuge.weather.reports import Dispute, Forecast, Group, Observation, Unreadable
from refuge.weather.sky import (
    Bound,
    CeilingAt,
    KnownVisibility,
    Layer,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
)
from refuge.weather.wind import KnownWind, UnknownWind

heights = st.integers(0, 30_000)
maybe_height = st.none() | heights
miles = st.floats(0, 100, allow_nan=False)
knots = st.floats(0, 300, allow_nan=False)
degrees = st.integers(0, 360)
words = st.text(max_size=8)
tokens = st.lists(words, max_size=3).map(tuple)
instants = st.datetimes(datetime(2000, 1, 1), datetime(2099, 12, 31), timezones=st.just(UTC)).map(  # noqa: DTZ001
    lambda instant: instant.replace(microsecond=0)
)
ceilings = (
    st.builds(CeilingAt, ft_agl=heights)
    | st.builds(NoCeiling, none_below_ft=maybe_height, evidence=words)
    | st.builds(UnknownCeiling, reason=words, at_best_ft_agl=maybe_height, obscured=st.booleans())
)
visibilities = st.builds(KnownVisibility, sm=miles, bound=st.sampled_from(Bound)) | st.builds(
    UnknownVisibility, reason=words, at_best_sm=st.none() | miles
)
winds = st.builds(
    KnownWind,
    dir_deg_true=st.none() | degrees,
    speed_kt=knots,
    gust_kt=st.none() | knots,
    variable=st.booleans(),
    from_deg_true=st.none() | degrees,
    to_deg_true=st.none() | degrees,
) | st.builds(UnknownWind, reason=words)
layers = st.lists(
    st.builds(Layer, amount=words, base_ft_agl=maybe_height, convective=st.none() | words), max_size=3
).map(tuple)
conditions = st.builds(
    Conditions, ceiling=ceilings, visibility=visibilities, wind=winds, weather=tokens, layers=layers
)
groups = st.builds(
    Group,
    kind=st.sampled_from(["BASE", "FM", "BECMG", "TEMPO", "PROB", "INTER"]),
    start=instants,
    end=instants,
    probability=st.none() | st.integers(0, 99),
    ceiling=st.none() | ceilings,
    visibility=st.none() | visibilities,
    wind=st.none() | winds,
    weather=st.none() | tokens,
    layers=layers,
    unread=tokens,
)
disputes = st.lists(
    st.builds(Dispute, element=st.sampled_from(["ceiling", "visibility", "wind"]), ours=words, theirs=words),
    max_size=3,
    unique_by=lambda dispute: dispute.element,
).map(tuple)
observations = st.builds(
    Observation,
    raw=words,
    kind=st.sampled_from(["METAR", "SPECI"]),
    station=words,
    observed_at=instants,
    auto=st.booleans(),
    corrected=st.booleans(),
    nil=st.booleans(),
    body=conditions,
    adverse=conditions,
    temperature_c=st.none() | st.floats(-90, 60),
    dew_point_c=st.none() | st.floats(-90, 60),
    pressure_hpa=st.none() | st.floats(800, 1100),
    remarks=st.none() | words,
    nosig=st.booleans(),
    trend=st.lists(groups, max_size=2).map(tuple),
    unread=tokens,
    disputed=disputes,
)
forecasts = st.builds(
    Forecast,
    raw=words,
    station=words,
    issued_at=instants,
    valid_from=st.none() | instants,
    valid_to=st.none() | instants,
    amended=st.booleans(),
    corrected=st.booleans(),
    cancelled=st.booleans(),
    nil=st.booleans(),
    not_scheduled=st.booleans(),
    groups=st.lists(groups, max_size=3).map(tuple),
    remarks=st.none() | words,
    unread=tokens,
)


def through_json(record: Any) -> Any:
    return json.loads(json.dumps(record, allow_nan=False))


@given(value=ceilings)
def test_ceilings_come_back(value: CeilingAt | NoCeiling | UnknownCeiling) -> None:
    assert ceiling_from_record(through_json(ceiling_record(value))) == value


@given(value=visibilities)
def test_visibilities_come_back(value: KnownVisibility | UnknownVisibility) -> None:
    assert visibility_from_record(through_json(visibility_record(value))) == value


@given(value=winds)
def test_winds_come_back(value: KnownWind | UnknownWind) -> None:
    assert wind_from_record(through_json(wind_record(value))) == value


@given(value=conditions)
def test_conditions_come_back(value: Conditions) -> None:
    assert conditions_from_record(through_json(conditions_record(value))) == value


@given(value=observations)
def test_observations_come_back(value: Observation) -> None:
    assert observation_from_record(through_json(observation_record(value))) == value


@given(value=forecasts)
def test_forecasts_come_back(value: Forecast) -> None:
    assert forecast_from_record(through_json(forecast_record(value))) == value


KEYS = (
    "raw kind station time auto corrected nil ceiling visibility wind weather category temperature_c dew_point_c "
    "pressure_hpa adverse remarks unread disputed error issued valid_from valid_to amended cancelled "
    "not_scheduled groups"
)
"""interface.md, `refuge decode`; the keys of conditions are those of 'Elements'."""


@given(
    value=observations
    | forecasts
    | st.builds(Unreadable, raw=words, kind=st.none(), station=st.none(), error=words)
)
def test_every_record_has_every_key(value: Observation | Forecast | Unreadable) -> None:
    record = report_record(value)
    assert set(KEYS.split()) <= set(record)
    assert set(record) == set(report_record(Unreadable(raw="", kind=None, station=None, error="")))
    assert (record["error"] is not None) == isinstance(value, Unreadable)


def test_shapes_of_elements() -> None:
    """interface.md, 'Elements'."""
    assert ceiling_record(CeilingAt(ft_agl=800)) == {
        "state": "at", "ft_agl": 800, "none_below_ft": None, "why": None, "obscured": False,
    }  # fmt: skip
    assert ceiling_record(NoCeiling(none_below_ft=12_000, evidence="CLR"))["none_below_ft"] == 12_000
    assert ceiling_record(UnknownCeiling(reason="no sky group", at_best_ft_agl=400))["ft_agl"] == 400
    assert visibility_record(KnownVisibility(sm=0.25, bound=Bound.LESS_THAN)) == {
        "state": "known", "sm": 0.25, "bound": "less_than", "why": None,
    }  # fmt: skip
    assert wind_record(UnknownWind(reason="no unit"))["state"] == "unknown"
    assert wind_record(UnknownWind(reason="no unit"))["speed_kt"] is None


def test_a_group_with_unread_tokens_has_no_known_category_but_lifr() -> None:
    start = datetime(2022, 10, 10, 12, tzinfo=UTC)
    for ft_agl, shown in ((3500, "UNKNOWN"), (400, "LIFR")):
        group = Group(
            kind="FM",
            start=start,
            end=start + timedelta(hours=1),
            ceiling=CeilingAt(ft_agl=ft_agl),
            visibility=KnownVisibility(sm=10.0),
            unread=("BKN0O1",),
        )
        assert group_record(group)["category"] == shown


def test_a_record_that_makes_no_sense_is_unknown_or_refused() -> None:
    ceiling = ceiling_record(CeilingAt(ft_agl=800))
    ceiling["ft_agl"] = None
    assert isinstance(ceiling_from_record(ceiling), UnknownCeiling)
    visibility = visibility_record(KnownVisibility(sm=10.0))
    visibility["bound"] = None
    assert isinstance(visibility_from_record(visibility), UnknownVisibility)
    wind = wind_record(KnownWind(dir_deg_true=180, speed_kt=10))
    wind["speed_kt"] = None
    assert isinstance(wind_from_record(wind), UnknownWind)
    with pytest.raises(ValueError, match="lacks what every report has"):
        observation_from_record(report_record(Unreadable(raw="", kind=None, station=None, error="")))
