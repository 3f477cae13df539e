"""Crosswind and tailwind by hand: speed times sine and cosine of the angle (PHAK, wind components)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.flight.crosswind import across_kt, tail_kt, wind_rows
from refuge.weather.wind import KnownWind, UnknownWind, Wind

ROW = np.array([0])


def parts(wind: Wind, heading: float) -> tuple[float, float]:
    rows = wind_rows([wind])
    at = np.array([heading])
    return float(across_kt(rows, ROW, at)[0]), float(tail_kt(rows, ROW, at)[0])


@pytest.mark.parametrize(
    ("wind", "heading", "across", "tail"),
    [
        (KnownWind(dir_deg_true=270, speed_kt=20), 270.0, 0.0, -20.0),
        (KnownWind(dir_deg_true=270, speed_kt=20), 90.0, 0.0, 20.0),
        (KnownWind(dir_deg_true=300, speed_kt=20), 270.0, 10.0, -17.3205),  # sin 30, cos 30
        (KnownWind(dir_deg_true=300, speed_kt=20), 90.0, 10.0, 17.3205),
        (KnownWind(dir_deg_true=360, speed_kt=15), 90.0, 15.0, 0.0),
        (KnownWind(dir_deg_true=300, speed_kt=20, gust_kt=30), 270.0, 15.0, -25.9808),  # the gust counts
        (KnownWind(dir_deg_true=None, speed_kt=7, variable=True), 90.0, 7.0, 7.0),  # all of it, both ways
        (KnownWind(dir_deg_true=None, speed_kt=0), 90.0, 0.0, 0.0),
        (KnownWind(dir_deg_true=270, speed_kt=10, from_deg_true=240, to_deg_true=300), 270.0, 5.0, -8.6603),
        (KnownWind(dir_deg_true=350, speed_kt=10, from_deg_true=310, to_deg_true=50), 360.0, 7.6604, -6.4279),
    ],
)
def test_components(wind: Wind, heading: float, across: float, tail: float) -> None:
    assert parts(wind, heading) == pytest.approx((across, tail), abs=1e-4)


def test_a_wind_that_nobody_knows_is_not_known() -> None:
    assert not wind_rows([UnknownWind(reason="no sensor")]).known[0]


@given(
    st.integers(1, 360),
    st.floats(0.0, 60.0),
    st.floats(0.0, 20.0),
    st.floats(0.0, 360.0),
    st.tuples(st.integers(0, 180), st.integers(0, 180)),
)
def test_no_more_than_the_wind_and_no_less_for_more_wind_or_spread(
    direction: int, speed: float, more: float, heading: float, sides: tuple[int, int]
) -> None:
    left, right = sides
    plain = parts(KnownWind(dir_deg_true=direction, speed_kt=speed), heading)
    gusty = parts(KnownWind(dir_deg_true=direction, speed_kt=speed, gust_kt=speed + more), heading)
    spread = KnownWind(
        dir_deg_true=direction,
        speed_kt=speed,
        from_deg_true=(direction - left) % 360,
        to_deg_true=(direction + right) % 360,
    )
    spread_parts = parts(spread, heading)
    variable = parts(KnownWind(dir_deg_true=None, speed_kt=speed, variable=True), heading)
    assert plain[0] <= speed + 1e-9
    assert gusty[0] >= plain[0] - 1e-9
    assert plain[0] - 1e-9 <= spread_parts[0] <= variable[0] + 1e-9
    assert plain[1] - 1e-9 <= spread_parts[1] <= variable[1] + 1e-9
    turned = parts(KnownWind(dir_deg_true=direction, speed_kt=speed), (heading + 180.0) % 360.0)
    assert turned == pytest.approx((plain[0], -plain[1]), abs=1e-6)
