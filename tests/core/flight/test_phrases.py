from datetime import UTC, datetime, timedelta

import pytest

from refuge.flight.phrases import (
    ceiling_phrase,
    clock,
    latest,
    misses_weather,
    shortcomings,
    visibility_phrase,
    wind_phrase,
)
from refuge.weather.conditions import Conditions
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
from refuge.weather.wind import KnownWind, UnknownWind, Wind
from tests.core.flight import situations as s


@pytest.mark.parametrize(
    ("ceiling", "words"),
    [
        (CeilingAt(ft_agl=0), "ceiling 0 ft"),
        (CeilingAt(ft_agl=12000), "ceiling 12,000 ft"),
        (s.SKC, "no ceiling"),
        (s.CAVOK, "no ceiling below 5,000 ft (CAVOK)"),
        (NoCeiling(none_below_ft=0, evidence="odd"), "no ceiling below 0 ft (odd)"),
        (s.NO_SKY, "ceiling unknown (no sky sensor)"),
        (UnknownCeiling(reason="BKN///", at_best_ft_agl=0), "ceiling unknown, 0 ft at best (BKN///)"),
    ],
)
def test_ceilings(ceiling: Ceiling, words: str) -> None:
    assert ceiling_phrase(ceiling) == words


@pytest.mark.parametrize(
    ("visibility", "words"),
    [
        (KnownVisibility(sm=2.5), "visibility 2 1/2 SM"),
        (s.P6SM, "visibility 6 SM or more"),
        (KnownVisibility(sm=0.25, bound=Bound.LESS_THAN), "visibility less than 1/4 SM"),
        (s.NO_VISIBILITY, "visibility unknown (////)"),
        (UnknownVisibility(reason="disputed", at_best_sm=0.0), "visibility unknown, 0 SM at best (disputed)"),
    ],
)
def test_visibilities(visibility: Visibility, words: str) -> None:
    assert visibility_phrase(visibility) == words


@pytest.mark.parametrize(
    ("wind", "words"),
    [
        (KnownWind(dir_deg_true=280, speed_kt=15.0, gust_kt=25.0), "280/15 gusting 25 kt"),
        (KnownWind(dir_deg_true=5, speed_kt=8.0), "005/8 kt"),
        (KnownWind(dir_deg_true=None, speed_kt=3.0, variable=True), "variable 3 kt"),
        (s.CALM, "calm"),
        (UnknownWind(reason="/////KT"), "wind unknown"),
    ],
)
def test_winds(wind: Wind, words: str) -> None:
    assert wind_phrase(wind) == words


@pytest.mark.parametrize(
    ("said", "required_sm", "words", "misses"),
    [
        (s.conditions(1500, 3.0), 3.0, [], False),
        (s.conditions(800, 2.0), 3.0, ["ceiling 800 ft, needs 1,500", "visibility 2 SM, needs 3"], True),
        (s.conditions(s.NO_SKY, 10.0), 3.0, ["ceiling unknown (no sky sensor), needs 1,500"], False),
        (s.conditions(s.SKC, 10.0, ("+TSRA", "BR")), 3.0, ["+TSRA BR in it"], True),
        (s.conditions(800, 0.5, ("TS",)), 0.0, ["ceiling 800 ft, needs 1,500"], True),
    ],
)
def test_what_conditions_lack(said: Conditions, required_sm: float, words: list[str], *, misses: bool) -> None:
    assert list(shortcomings(said, 1500.0, required_sm)) == words
    assert misses_weather(said, 1500.0, required_sm) is misses


def test_instants() -> None:
    when = datetime(2022, 10, 22, 2, 53, tzinfo=UTC)
    assert clock(when) == clock(when.timestamp()) == "220253Z"


def test_the_latest_is_never_said_earlier_than_it_is() -> None:
    """Minutes are rounded against the pilot: 15:49:01 is 1550, and 15:49 sharp stays."""
    sharp = datetime(2026, 3, 10, 15, 49, tzinfo=UTC)
    assert latest(sharp) == sharp
    assert (
        latest(sharp + timedelta(seconds=1))
        == latest(sharp + timedelta(seconds=59.9))
        == sharp + timedelta(minutes=1)
    )
    assert clock(latest(datetime(2026, 12, 31, 23, 59, 30, tzinfo=UTC))) == "010000Z"
