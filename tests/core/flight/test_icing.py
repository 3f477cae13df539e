from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.earth import Position
from refuge.flight.checks import icing_codes, reach_codes
from refuge.flight.shortlist import build
from refuge.flight.words import explain
from refuge.weather.conditions import Conditions
from refuge.weather.reports import Forecast, Level, Levels, LevelsAt, Observation
from refuge.weather.sky import Layer
from tests.core.flight import situations as s
from tests.core.reference import rows

WORDS = ("misses", "unknown", "meets")
temperatures = st.floats(-40, 40)


def icing(
    cruise_ft: float,
    base_ft: float,
    cruise_c: float | None,
    surface_c: Sequence[float] | None,
    *,
    ground_ft: float | None = 0.0,
    freezing: bool = False,
    approved: bool = False,
) -> str:
    codes = icing_codes(
        base_ft_amsl=np.array([base_ft]),
        ground_ft_amsl=np.array([ground_ft or 0.0]),
        ground_known=np.array([ground_ft is not None]),
        cruise_ft=cruise_ft,
        cruise_c=cruise_c,
        coldest_surface_c=np.array([min(surface_c or [0.0])]),
        warmest_surface_c=np.array([max(surface_c or [0.0])]),
        surface_known=np.array([surface_c is not None]),
        freezing=np.array([freezing]),
        approved=approved,
    )
    return WORDS[codes[0]]


@pytest.mark.parametrize("row", rows("icing_descent"), ids=lambda row: row["id"])
def test_worked_cases(row: dict[str, str]) -> None:
    cruise_c = float(row["cruise_c"]) if row["cruise_c"] else None
    found = icing(float(row["cruise_ft"]), float(row["base_ft_amsl"]), cruise_c, [float(row["surface_c"])])
    assert found == row["verdict"]
    approved = icing(float(row["cruise_ft"]), float(row["base_ft_amsl"]), cruise_c, None, approved=True)
    assert approved == "meets"


# method.md 5: cloud between +2 and -20 C
@pytest.mark.parametrize(
    ("base_ft", "cruise_c", "surface_c", "expected"),
    [
        (np.inf, -5.0, [5.0], "meets"),  # no cloud
        (6000.0, -5.0, [5.0], "meets"),  # cloud begins at the level
        (3000.0, 3.0, [15.0], "meets"),
        (3000.0, 2.0, [15.0], "misses"),
        (3000.0, -21.0, [-21.0], "meets"),
        (3000.0, -21.0, [-18.0], "misses"),
        (3000.0, -30.0, [-35.0, -5.0], "misses"),  # the warmest of several may ice where the coldest does not
        (0.0, 5.0, [-5.0], "misses"),  # cold air on the ground below a warm level
        (3000.0, 15.0, None, "unknown"),  # nobody knows how cold it is below
        (3000.0, -10.0, None, "misses"),
        (3000.0, None, [25.0], "meets"),  # 25 C less 9.8 C a km over 6,000 ft (1.83 km) are 7 C
        (3000.0, None, [19.0], "unknown"),
        (3000.0, None, None, "unknown"),
    ],
)
def test_descent_through_cloud(
    base_ft: float, cruise_c: float | None, surface_c: Sequence[float] | None, expected: str
) -> None:
    assert icing(6000.0, base_ft, cruise_c, surface_c) == expected


@given(temperatures, temperatures, st.tuples(st.floats(0, 9000), st.floats(0, 9000)), st.booleans())
def test_what_is_not_known_and_lower_cloud_never_help(
    cruise_c: float, surface_c: float, bases_ft: tuple[float, float], approved: bool
) -> None:
    base_ft, lower_ft = max(bases_ft), min(bases_ft)
    rank = {"misses": 0, "unknown": 1, "meets": 2}
    full = rank[icing(8000.0, base_ft, cruise_c, [surface_c], approved=approved)]
    assert rank[icing(8000.0, lower_ft, cruise_c, [surface_c], approved=approved)] <= full
    fewer = [
        icing(8000.0, base_ft, cruise_c, None, approved=approved),
        icing(8000.0, base_ft, cruise_c, [surface_c], ground_ft=None, approved=approved),
        icing(8000.0, 0.0, cruise_c, [surface_c], approved=approved),
        icing(8000.0, base_ft, cruise_c, [surface_c, -10.0], approved=approved),
    ]
    for less in fewer:
        assert less != "meets" or full == rank["meets"]
    assert icing(8000.0, base_ft, cruise_c, [surface_c], freezing=True, approved=approved) == "misses"


def through_build(*reports: Observation, oat_c: float | None = 15.0, names: Sequence[str] = ("XA",)) -> str:
    """Return the icing verdict at a field without a station, with stations 5 NM away."""
    stations = [s.station(name, s.at(60.0 * i, 5.0)) for i, name in enumerate(names)]
    known = s.situation(
        [s.airfield("F", s.HERE)], stations, reports=reports, hearing=dict.fromkeys(names, s.REPORTS_ONLY)
    )
    return explain(build(s.question(oat_c=oat_c), known), 0)["icing"].verdict


def said(*weather: str, ceiling: int = 3000) -> Conditions:
    return s.conditions(ceiling, 10.0, weather)


def test_reports_tell_of_freezing_rain_temperature_and_cloud() -> None:
    assert through_build(s.report("XA", said())) == "meets"
    for word in ("FZRA", "-FZDZ", "PL", "FZUP", "-RAPL"):
        assert through_build(s.report("XA", said(word))) == "misses"
    assert through_build(s.report("XA", said("FZFG"))) == "meets"
    assert through_build(s.report("XA", said(ceiling=300), temperature_c=-5.0)) == "misses"
    assert through_build(s.report("XA", said(), temperature_c=None)) == "unknown"
    assert through_build(s.report("XA", s.conditions(s.SKC, 10.0), temperature_c=None)) == "meets"


def test_scattered_cloud_ices_like_any_other() -> None:
    """method.md 5 asks of cloud between +2 and -20 C, of whatever amount."""
    clear = s.conditions()
    scattered = replace(clear, layers=(Layer(amount="SCT", base_ft_agl=2000),))
    told = replace(clear, layers=(Layer(amount="FEW", base_ft_agl=None),))
    assert through_build(s.report("XA", clear), oat_c=-5.0) == "meets"
    assert through_build(s.report("XA", scattered), oat_c=-5.0) == "misses"
    assert through_build(s.report("XA", told), oat_c=-5.0) != "meets"


def test_one_silent_station_leaves_it_open() -> None:
    clear = s.report("XA", s.conditions(s.SKC, 10.0))
    assert through_build(clear) == "meets"
    assert through_build(clear, names=("XA", "XB")) == "unknown"
    assert through_build(clear, s.report("XB", said(), temperature_c=None), names=("XA", "XB")) == "unknown"
    assert (
        through_build(clear, s.report("XB", said(ceiling=300), temperature_c=-5.0), names=("XA", "XB")) == "misses"
    )


def test_the_way_down_may_lie_over_any_station_of_the_area() -> None:
    """method.md 5: an area, not a dot; cloud between +2 and -20 C on the way down, and FZRA, FZDZ, PL, miss."""
    own, away = s.station("XF", s.HERE), s.station("XA", s.at(90.0, 12.0))

    def beside(around: Conditions, *, ever_ceiling: bool = True) -> str:
        heard = {"XF": s.REPORTS_ONLY, "XA": replace(s.REPORTS_ONLY, ever_ceiling=ever_ceiling)}
        known = s.situation(
            [s.airfield("F", s.HERE, station="XF")],
            [own, away],
            reports=[s.report("XF", s.conditions(s.SKC, 10.0)), s.report("XA", around)],
            hearing=heard,
        )
        return explain(build(s.question(oat_c=-5.0), known), 0)["icing"].verdict

    assert beside(s.conditions(s.SKC, 10.0)) == "meets"
    assert beside(s.conditions(9000, 10.0)) == "meets"
    assert beside(s.conditions(3000, 10.0)) == "misses"
    assert beside(s.conditions(s.SKC, 10.0, ("-FZRA",))) == "misses"
    assert beside(s.conditions(s.NO_SKY, 10.0), ever_ceiling=False) == "meets"


def test_reach_codes() -> None:
    minutes = np.array([10.0, 40.0, 40.01, np.inf, 10.0])
    known = np.array([True, True, True, True, False])
    assert reach_codes(minutes, 40.0, wind_known=known, dependable=True).tolist() == [2, 2, 0, 0, 1]
    assert reach_codes(minutes, 40.0, wind_known=known, dependable=False).tolist() == [1, 1, 0, 0, 1]
    assert reach_codes(minutes, None, wind_known=known, dependable=True).tolist() == [1, 1, 1, 1, 1]
    assert reach_codes(minutes, 0.0, wind_known=known, dependable=True).tolist() == [0, 0, 0, 0, 1]


def test_a_forecast_that_does_not_cover_the_window_leaves_it_open() -> None:
    """What was cancelled may have foretold freezing rain, or cloud."""
    high = s.conditions(8000, 10.0)
    stations = [s.station("XA", s.at(0.0, 5.0)), s.station("XB", s.at(0.0, 25.0))]

    def icing_with(*forecasts: Forecast) -> str:
        known = s.situation(
            [s.airfield("F", s.HERE)], stations, reports=[s.report("XA", high)], forecasts=forecasts
        )
        return explain(build(s.question(), known), 0)["icing"].verdict

    assert icing_with(s.forecast("XB", high)) == "meets"
    assert icing_with(s.forecast("XB", high, s.group("TEMPO", -1, 3, weather=("FZRA",)))) == "misses"
    assert icing_with(s.forecast("XB", high, cancelled=True)) == "unknown"
    assert icing_with(s.forecast("XB", high, to_h=0.5)) == "unknown"


def at_level(celsius: int) -> Level:
    return Level(altitude_ft=6000, dir_deg_true=270, speed_kt=20, temperature_c=celsius)


@pytest.mark.parametrize(
    ("here_c", "there_c", "expected"),
    [(10, 10, "meets"), (10, -5, "misses"), (-5, 10, "misses"), (10, None, "unknown")],
)
def test_the_cold_over_the_field_counts_as_that_over_the_turn(
    here_c: int, there_c: int | None, expected: str
) -> None:
    """The way down is at the field, 100 NM from the turn (method.md 5); +12 C on the ground proves nothing."""
    there = s.at(90.0, 100.0)
    sites = {"AAA": s.station("XAAA", s.HERE), "BBB": s.station("XBBB", s.at(90.0, 102.0))}
    levels = [("AAA", here_c), *([] if there_c is None else [("BBB", there_c)])]
    winds = Levels(
        raw="made up", product="FD1", based_on=s.NOW, valid_at=s.NOW, use_from=s.NOW - timedelta(hours=6),
        use_to=s.NOW + timedelta(hours=6),
        sites=tuple(LevelsAt(site=name, levels=(at_level(celsius),)) for name, celsius in levels),
    )  # fmt: skip
    field = s.airfield("F", there if there_c is not None else s.at(90.0, 201.0))
    station = s.station("XA", Position(lat_deg=field.lat_deg, lon_deg=field.lon_deg))
    known = replace(
        s.situation([field], [station], reports=[s.report("XA", said(), temperature_c=12.0)]),
        winds=(winds,),
        wind_sites=sites,
    )
    found = build(s.question(oat_c=None, wind=None, altitude_ft=6000.0), known)
    assert explain(found, 0)["icing"].verdict == expected
