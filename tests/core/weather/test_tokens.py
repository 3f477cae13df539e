"""Single tokens: what each form says, and which forms are nothing. Codes: WMO-No. 306 FM 15, FMH-1 12.6."""

import pytest

from refuge.units import KT_PER_KMH, KT_PER_MPS, M_PER_SM
from refuge.weather.elements import gather
from refuge.weather.sky import (
    Bound,
    CeilingAt,
    KnownVisibility,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
)
from refuge.weather.tokens import SILENT, Pressure, Temperatures, Weather, read_token, sm_from_m
from refuge.weather.wind import KnownWind, UnknownWind


@pytest.mark.parametrize(
    ("text", "sm", "bound"),
    [
        ("10SM", 10, Bound.EXACTLY),
        ("P6SM", 6, Bound.AT_LEAST),  # TAF: more than 6 SM (NWSI 10-813)
        ("M1/4SM", 0.25, Bound.LESS_THAN),  # FMH-1 12.6.6: M is less than
        ("1/16SM", 0.0625, Bound.EXACTLY),  # FMH-1 table 12-1
        ("15/16SM", 0.9375, Bound.EXACTLY),  # 15/16, or 1 5/16 glued: the lower counts
        ("11/2SM", 1.5, Bound.EXACTLY),  # improper fractions are not reportable (decoding.md T1)
        ("13/4SM", 1.75, Bound.EXACTLY),
        ("2 1/2SM", 2.5, Bound.EXACTLY),
        ("2 1/2 SM", 2.5, Bound.EXACTLY),
        ("10 SM", 10, Bound.EXACTLY),  # KWDG 2022
        ("1/2 SM", 0.5, Bound.EXACTLY),
        ("9999", 10_000 / M_PER_SM, Bound.AT_LEAST),  # WMO-No. 306, 15.6: 10 km or more
        ("9999NDV", 10_000 / M_PER_SM, Bound.AT_LEAST),
        ("CAVOK", 10_000 / M_PER_SM, Bound.AT_LEAST),
        ("30KM", 30_000 / M_PER_SM, Bound.EXACTLY),  # LOXZ 2022
        ("8000NDV", 5, Bound.EXACTLY),  # AFMAN 15-111 table 8.1
        ("M0400", 0.25, Bound.LESS_THAN),  # KQEV 2015
        ("P5000", 5_000 / M_PER_SM, Bound.AT_LEAST),  # UIBB 2015
        ("0000", 0, Bound.EXACTLY),
    ],
)
def test_visibility(text: str, sm: float, bound: Bound) -> None:
    elements = gather(text.split())
    assert elements.visibility() == KnownVisibility(sm=sm, bound=bound)
    assert elements.unread == []


@pytest.mark.parametrize("text", ["////", "////SM", "////NDV"])
def test_visibility_not_reported_is_unknown(text: str) -> None:
    assert isinstance(gather([text]).visibility(), UnknownVisibility)


@pytest.mark.parametrize(
    "token",
    [
        "1/0SM",
        "3/2SM",
        "1/3SM",
        "2/2SM",
        "0/4SM",
        "100NW",
        "1234",
        "M9999",
        "M////",
        "9999/9998",
        "10MI",
        "SM",
        "2",
    ],
)
def test_no_visibility(token: str) -> None:
    elements = gather([token])
    assert elements.visibility() is None
    assert elements.unread == [token]


def test_metres_by_the_handbooks_table() -> None:
    """AFMAN 15-111 table 8.1 [F:S12], rows that reckon a mile as 1,600 m; interface.md names three."""
    rows = {400: 0.25, 800: 0.5, 1200: 0.75, 1600: 1, 2400: 1.5, 3200: 2, 4000: 2.5, 4800: 3, 8000: 5}
    assert {m: sm_from_m(m) for m in rows} == rows


def test_metres_never_fall_and_are_hardly_ever_too_good() -> None:
    miles = [sm_from_m(m) for m in range(0, 10_001, 10)]
    assert miles == sorted(miles)
    assert all(
        sm * M_PER_SM <= m * (M_PER_SM / 1600) + 1e-9 for sm, m in zip(miles, range(0, 10_001, 10), strict=True)
    )
    assert sm_from_m(6000) == 6000 / M_PER_SM  # the table's 4 SM is 7 % too good


@pytest.mark.parametrize(
    ("text", "lowest_sm"),
    [
        ("2000 1200NW", 0.75),  # WMO-No. 306, 15.6.2: lowest in a direction
        ("9999 0700", sm_from_m(700)),  # ... and where it fluctuates, without direction (LFST 2022)
        ("9999/8000", 5),  # decoding.md, seeds
        ("3800W 9999", sm_from_m(3800)),
    ],
)
def test_lowest_visibility(text: str, lowest_sm: float) -> None:
    lowest = gather(text.split()).lowest_visibility()
    assert isinstance(lowest, KnownVisibility)
    assert lowest.sm == lowest_sm


def test_a_sector_alone_does_not_say_what_prevails() -> None:
    lowest = gather(["1200NW"]).lowest_visibility()
    assert isinstance(lowest, UnknownVisibility)
    assert lowest.at_best_sm == 0.75


@pytest.mark.parametrize(
    ("text", "wind"),
    [
        ("18010KT", KnownWind(dir_deg_true=180, speed_kt=10)),
        ("18010G25KT", KnownWind(dir_deg_true=180, speed_kt=10, gust_kt=25)),
        ("VRB03KT", KnownWind(dir_deg_true=None, speed_kt=3, variable=True)),
        ("00000KT", KnownWind(dir_deg_true=None, speed_kt=0)),
        ("08003MPS", KnownWind(dir_deg_true=80, speed_kt=3 * KT_PER_MPS)),
        ("27036KMH", KnownWind(dir_deg_true=270, speed_kt=36 * KT_PER_KMH)),
        ("240P99KT", KnownWind(dir_deg_true=240, speed_kt=100)),  # WMO-No. 306, 15.5.6: 100 kt or more
        ("24080GP99KT", KnownWind(dir_deg_true=240, speed_kt=80, gust_kt=100)),
        ("240ABV49MPS", KnownWind(dir_deg_true=240, speed_kt=50 * KT_PER_MPS)),
        ("240120G140KT", KnownWind(dir_deg_true=240, speed_kt=120, gust_kt=140)),
        ("07004 KT", KnownWind(dir_deg_true=70, speed_kt=4)),  # NFTF 2015
        (
            "18010KT 150V210",
            KnownWind(dir_deg_true=180, speed_kt=10, from_deg_true=150, to_deg_true=210),
        ),
        ("18010KT 18010KT", KnownWind(dir_deg_true=180, speed_kt=10)),
    ],
)
def test_wind(text: str, wind: KnownWind) -> None:
    elements = gather(text.split())
    assert elements.wind() == wind
    assert elements.unread == []


@pytest.mark.parametrize(
    "text",
    ["/////KT", "///10KT", "180//KT", "31008", "31008G20", "00010KT", "18010KT 19010KT", "///V///", "/////"],
)
def test_unknown_wind(text: str) -> None:
    """Without a unit it is unknown (style.md 4), as is one that is partly missing or given twice."""
    elements = gather(text.split())
    assert isinstance(elements.wind(), UnknownWind)
    assert elements.unread == []


@pytest.mark.parametrize("token", ["24V01MPS", "37010KT", "9008KT", "18010MPH", "E18010KT"])
def test_no_wind(token: str) -> None:
    assert gather([token]).unread == [token]


@pytest.mark.parametrize(
    ("text", "ft_agl"),
    [
        ("BKN010", 1000),
        ("BKN010///", 1000),
        ("OVC000", 0),  # FMH-1 9.4.7b: layers up to 50 ft have height zero
        ("BKN000", 0),
        ("VV001", 100),  # FMH-1 9.4.5
        ("///020", 2000),  # interface.md: a ceiling at 2,000 ft
        ("///004///", 400),
        ("SCT008 BKN035CB OVC080", 3500),
        ("CAVOK OVC002", 200),
        ("FEW025TCU/CB BKN080", 8000),
    ],
)
def test_ceiling(text: str, ft_agl: int) -> None:
    assert gather(text.split()).ceiling() == CeilingAt(ft_agl=ft_agl)


@pytest.mark.parametrize(
    ("text", "none_below_ft", "auto"),
    [
        ("CLR", 12_000, True),  # FMH-1 9.4.1
        ("CLR", None, False),  # interface.md: 12,000 on AUTO
        ("SKC", None, True),
        ("NSC", 5_000, False),
        ("NCD", None, True),  # interface.md: null but for CLR, CAVOK and NSC
        ("CAVOK", 5_000, False),
        ("FEW000", None, False),  # reference.md B15: a partial obscuration is no ceiling
        ("SCT020", None, True),
        ("SCT///CB", None, True),
        ("NSC SCT060", 5_000, False),
        ("FEW020 CLR", 12_000, True),
    ],
)
def test_no_ceiling(text: str, none_below_ft: int | None, auto: bool) -> None:
    ceiling = gather(text.split()).ceiling(auto=auto)
    assert isinstance(ceiling, NoCeiling)
    assert ceiling.none_below_ft == none_below_ft


@pytest.mark.parametrize(
    ("text", "at_best_ft_agl"),
    [
        ("//////", None),
        ("/////////", None),
        ("///", None),
        ("BKN///", None),
        ("OVC///", None),
        ("VV///", None),
        ("///TCU", None),
        ("//////CB", None),
        ("OVC020 BKN///", 2000),
        ("NCD //////TCU", None),
    ],
)
def test_unknown_ceiling(text: str, at_best_ft_agl: int | None) -> None:
    ceiling = gather(text.split()).ceiling(auto=True)
    assert isinstance(ceiling, UnknownCeiling)
    assert ceiling.at_best_ft_agl == at_best_ft_agl
    assert ceiling.obscured == (text == "VV///")


@pytest.mark.parametrize("token", ["BKN01", "BKN1500", "OVC", "KBKN080", "BKN016CBNE-W", "FEWO46"])
def test_no_layer(token: str) -> None:
    elements = gather([token])
    assert elements.ceiling() is None
    assert elements.unread == [token]


@pytest.mark.parametrize(
    "token",
    ["-RA", "+TSRA", "VCSH", "FZFG", "SHRASNGS", "UP", "RERA", "BR/RA", "HZ/-RA", "DSTS", "+FC", "PRFG", "-FZDZ"],
)
def test_weather(token: str) -> None:
    assert read_token(token) == Weather(text=token)


def test_vicinity_that_stands_apart_is_joined() -> None:
    assert gather(["VC", "SH"]).weather_groups() == ("VCSH",)


def test_solidi_for_weather_beside_weather_stand_for_something_else() -> None:
    assert gather(["//", "BKN010"]).unread == []
    assert gather(["-RA", "//", "BKN010"]).unread == ["//"]


@pytest.mark.parametrize(
    "token",
    [
        "R04R/1500N",
        "R25L/1000V2200FT",
        "R06/0250N",
        "R01/////",
        "R29R/1200FT",
        "R04/P2000",
        "R07/2000V4500FT",
        "R10/0600VP1500D",
        "R24/290595",
        "R13/CLRD//",
        "R88/CLRD70",
        "R/SNOCLO",
        "15CLRD95",
        "99//9999",
        "R01/70D",
        "RVRNO",
        "BLU",
        "BLU+",
        "BLACKGRN",
        "YLO1",
        "W10/S3",
        "W///S7",
        "WM01/H14",
        "W13/S/",
        "RF00.0/000.0",
        "QFE764/4",
        "WS015/08035KT",
        "RE//",
        "RTD",
        "$",
        "NOSIG",
    ],
)
def test_tokens_that_are_read_and_change_nothing(token: str) -> None:
    assert read_token(token) is SILENT


@pytest.mark.parametrize("text", ["WS R35", "WS ALL RWY", "WS RWY04R", "WS LDG RWY12", "WS TKOF RWY30"])
def test_wind_shear_on_a_runway_is_read(text: str) -> None:
    assert gather(text.split()).unread == []


def test_wind_shear_without_a_runway_is_unread() -> None:
    assert gather(["WS", "APCH"]).unread == ["WS", "APCH"]


@pytest.mark.parametrize(
    ("token", "temperature_c", "dew_point_c"),
    [
        ("18/12", 18, 12),
        ("M03/M05", -3, -5),
        ("01/M00", 1, 0),
        ("18/", 18, None),
        ("19///", 19, None),
        ("XX/XX", None, None),
    ],
)
def test_temperatures(token: str, temperature_c: float | None, dew_point_c: float | None) -> None:
    assert read_token(token) == Temperatures(temperature_c=temperature_c, dew_point_c=dew_point_c)


def test_a_second_pair_of_temperatures_is_unread() -> None:
    """KORD, as collected among odd reports: 03/03 04/54 A2964."""
    assert gather(["18010KT", "03/03", "04/54", "A2964"]).unread == ["04/54"]


def test_missing_temperatures_stand_before_the_pressure() -> None:
    assert gather(["18010KT", "/////", "Q1010"]).unread == []  # SBMD 2015
    assert gather(["18010KT", "SCT022", "/////"]).unread == ["/////"]


def test_pressure() -> None:
    assert read_token("Q1013") == Pressure(hpa=1013)
    inches = read_token("A2992")
    assert isinstance(inches, Pressure)
    assert inches.hpa == pytest.approx(1013.25, abs=0.05)  # 29.92 inHg, the standard atmosphere
    assert read_token("QNH2992INS") == inches
    assert read_token("Q////") == Pressure(hpa=None)
    assert gather(["Q////", "A2992"]).pressure == inches


def test_a_token_longer_than_any_group_is_not_looked_at() -> None:
    assert read_token("1" * 1_000_000) is None


def test_a_part_of_a_mile_behind_a_lost_token_is_unknown() -> None:
    """The lost token may be its whole number: 2 1/2SM with the 2 garbled."""
    elements = gather(["?", "1/2SM"])
    assert elements.unread == ["?"]
    assert isinstance(elements.visibility(), UnknownVisibility)
    assert gather(["?", "-RA", "1/2SM"]).visibility() == KnownVisibility(sm=0.5)
    assert gather(["2", "1/2SM", "1/2SM"]).lowest_visibility() == KnownVisibility(sm=2.5)  # repeated
