"""The second opinion: the more adverse stands, both readings are kept, silence is no opinion."""

from datetime import UTC, datetime

import pytest

from refuge.weather.conditions import Conditions
from refuge.weather.metar import decode_observation
from refuge.weather.reports import Dispute, Observation
from refuge.weather.second_opinion import with_second_opinion
from refuge.weather.sky import Bound, Ceiling, CeilingAt, KnownVisibility, NoCeiling, UnknownCeiling, Visibility
from refuge.weather.wind import KnownWind, UnknownWind, Wind

OBSERVED_AT = datetime(2022, 10, 10, 15, 53, tzinfo=UTC)
RAW = "KAAA 101553Z 18010G20KT 3SM BR BKN015 18/17 A2992"
READ = Conditions(
    ceiling=CeilingAt(ft_agl=1500),
    visibility=KnownVisibility(sm=3.0),
    wind=KnownWind(dir_deg_true=180, speed_kt=10, gust_kt=20),
)


def judged(
    raw: str = RAW,
    *,
    ceiling: Ceiling = READ.ceiling,
    visibility: Visibility = READ.visibility,
    wind: Wind = READ.wind,
) -> tuple[Conditions, tuple[Dispute, ...]]:
    body = Conditions(ceiling=ceiling, visibility=visibility, wind=wind)
    return with_second_opinion(raw, body, body, observed_at=OBSERVED_AT)


def test_agreement_changes_nothing() -> None:
    assert judged() == (READ, ())


@pytest.mark.parametrize(
    ("ours", "stands"),
    [
        (CeilingAt(ft_agl=3000), CeilingAt(ft_agl=1500)),
        (CeilingAt(ft_agl=900), CeilingAt(ft_agl=900)),
        (NoCeiling(none_below_ft=None, evidence="SKC"), CeilingAt(ft_agl=1500)),
    ],
)
def test_the_lower_ceiling_stands(ours: Ceiling, stands: Ceiling) -> None:
    adverse, disputes = judged(ceiling=ours)
    assert adverse.ceiling == stands
    assert [dispute.element for dispute in disputes] == ["ceiling"]
    assert disputes[0].theirs == "1500 ft"


def test_the_lower_visibility_stands() -> None:
    adverse, disputes = judged(visibility=KnownVisibility(sm=6.0, bound=Bound.AT_LEAST))
    assert adverse.visibility == KnownVisibility(sm=3.0)
    assert disputes == (Dispute(element="visibility", ours="at least 6.00 SM", theirs="3.00 SM"),)
    assert judged(visibility=KnownVisibility(sm=1.0))[0].visibility == KnownVisibility(sm=1.0)


@pytest.mark.parametrize(
    ("ours", "stands"),
    [
        (KnownWind(dir_deg_true=180, speed_kt=5), KnownWind(dir_deg_true=180, speed_kt=10, gust_kt=20)),
        (
            KnownWind(dir_deg_true=180, speed_kt=10, gust_kt=30),
            KnownWind(dir_deg_true=180, speed_kt=10, gust_kt=30),
        ),
        (
            KnownWind(dir_deg_true=None, speed_kt=8, variable=True),
            KnownWind(dir_deg_true=None, speed_kt=10, gust_kt=20, variable=True),
        ),
    ],
)
def test_the_stronger_wind_stands(ours: Wind, stands: Wind) -> None:
    adverse, disputes = judged(wind=ours)
    assert adverse.wind == stands
    assert [dispute.element for dispute in disputes] == ["wind"]


def test_another_direction_leaves_the_wind_unknown() -> None:
    adverse, _ = judged(wind=KnownWind(dir_deg_true=90, speed_kt=10, gust_kt=20))
    assert isinstance(adverse.wind, UnknownWind)


def test_unknown_is_not_improved_by_an_opinion() -> None:
    unknown_ceiling, unknown_wind = UnknownCeiling(reason="no sky group"), UnknownWind(reason="no unit")
    adverse, disputes = judged(ceiling=unknown_ceiling, wind=unknown_wind)
    assert (adverse.ceiling, adverse.wind) == (unknown_ceiling, unknown_wind)
    assert disputes == ()


@pytest.mark.parametrize(
    "raw",
    [
        "KAAA 101553Z 18010G20KT 3SM BR 18/17 A2992",  # an empty sky is no opinion
        "KAAA 101553Z 18010G20KT 3SM BR VV/// 18/17 A2992",
        "KAAA 101553Z /////KT BKN015 18/17 A2992",  # nor is a missing value
        "KAAA 101553Z 18010G20KT 4800N BKN015 18/17 A2992",  # nor a visibility in one direction
        "",
        "\x00",
        "KAAA",
    ],
)
def test_what_it_does_not_read_is_no_opinion(raw: str) -> None:
    assert judged(raw) == (READ, ())


def test_sixteen_hundred_metres_are_one_mile_to_both() -> None:
    assert judged("EAAA 101550Z 18010G20KT 1600 BKN015 18/17 Q1013", visibility=KnownVisibility(sm=1.0))[1] == ()


def test_a_dispute_changes_adverse_only() -> None:
    raw = "NFTF 101500Z 07004 KT 9999 FEW006 SCT016 BKN120 25/22 Q1017"  # NFTF 2015: the unit stands apart
    value = decode_observation(raw, received_at=OBSERVED_AT)
    alone = decode_observation(raw, received_at=OBSERVED_AT, second_opinion=False)
    assert isinstance(value, Observation)
    assert isinstance(alone, Observation)
    assert value.body == alone.body
    assert [dispute.element for dispute in value.disputed] == ["wind"]
    assert isinstance(value.adverse.wind, KnownWind)
    assert value.adverse.wind.speed_kt == pytest.approx(4 * 3600 / 1852, abs=0.01)  # it takes metres a second
    assert alone.disputed == ()
