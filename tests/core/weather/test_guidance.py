"""Station guidance by column: what is read, what each code means, and what is refused."""

from datetime import UTC, datetime, timedelta

import pytest

from refuge.weather.guidance import decode_guidance, product_of
from refuge.weather.guidance_hours import Chance, chance_of_less, hours_of
from refuge.weather.guidance_split import parted
from refuge.weather.reports import Unreadable
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
from refuge.weather.wind import KnownWind, UnknownWind
from tests.core.reference import rows
from tests.core.weather.guidance_blocks import MADE, RECEIVED, blend, lamp, read

GOOD = {"CIG": ["60", "60", "60"], "VIS": ["100", "100", "100"]}


def as_row(element: Ceiling | Visibility) -> tuple[str, str]:
    match element:
        case CeilingAt(ft_agl=ft):
            return "at", str(ft)
        case NoCeiling(none_below_ft=below_ft):
            return "none", str(below_ft)
        case KnownVisibility(sm=sm, bound=bound):
            return bound.value, f"{sm:g}"
        case _:
            return "unknown", ""


@pytest.mark.parametrize(
    "row", rows("guidance_codes"), ids=lambda r: "-".join((r["product"], r["version"], r["element"], r["code"]))
)
def test_codes(row: dict[str, str]) -> None:
    values = {row["element"]: [row["code"], row["code"]]}
    raw = lamp(values) if row["product"] == "LAV" else blend(values, version=f" V{row['version']}")
    for hour in hours_of(read(raw)):
        element = hour.ceiling if row["element"] == "CIG" else hour.visibility
        assert as_row(element) == (row["state"], row["value_ft_or_sm"])


def test_hours_follow_the_run() -> None:
    """LAMP runs at half past count from their hour (real LAV of 1230Z begins at 13Z); NBS by its hours ahead."""
    assert read(lamp(GOOD)).times == tuple(MADE + timedelta(hours=n) for n in (1, 2, 3))
    assert read(lamp(GOOD, extended=True)).times == tuple(MADE + timedelta(hours=n) for n in (26, 27, 28))
    assert read(blend(GOOD)).times == tuple(MADE + timedelta(hours=n) for n in (1, 2, 3))
    short = read(blend(GOOD, product="NBS", first=5))
    assert short.times == tuple(MADE + timedelta(hours=n) for n in (5, 8, 11))
    assert short.times[-1] == datetime(2028, 2, 29, 9, tzinfo=UTC)  # a leap day
    assert (short.product, short.version, short.based_on, short.station) == ("NBS", "5.0", MADE, "XAAA")
    assert [read(lamp(GOOD, extended=e)).product for e in (False, True)] == ["LAV", "LEV"]


def test_values_that_touch() -> None:
    raw = blend({"CIG": ["-88", "998", "100"], "VIS": ["100", "110", "120"], "MVC": ["100", "100", "9"]})
    assert " CIG -88998100" in raw
    assert [as_row(hour.ceiling) for hour in hours_of(read(raw))] == [
        ("none", "12000"),
        ("at", "99800"),
        ("at", "10000"),
    ]
    assert [hour.ceiling_chances for hour in hours_of(read(raw))] == [((3000, 100),), ((3000, 100),), ((3000, 9),)]


@pytest.mark.parametrize(
    ("wdr", "wsp", "wgs", "wind"),
    [
        # sources: LAMP Card 2.7.0 (tens of degrees, knots, NG: no gust); missing: the real LAV of 2020-07-10
        ("09", "12", "18", KnownWind(dir_deg_true=90, speed_kt=12, gust_kt=18)),
        ("36", "12", "NG", KnownWind(dir_deg_true=0, speed_kt=12)),
        ("00", "00", "NG", KnownWind(dir_deg_true=None, speed_kt=0)),
        ("09", "12", "10", KnownWind(dir_deg_true=90, speed_kt=12)),
    ],
)
def test_wind(wdr: str, wsp: str, wgs: str, wind: KnownWind) -> None:
    raw = lamp({"WDR": [wdr], "WSP": [wsp], "WGS": [wgs]})
    assert hours_of(read(raw))[0].wind == wind


@pytest.mark.parametrize(
    ("wdr", "wsp", "wgs"),
    [
        ("99", "99", "999"),
        ("09", "99", "NG"),
        ("09", "12", "999"),
        ("99", "12", "NG"),
        ("37", "12", "NG"),
        ("09", "12", ""),
    ],
)
def test_wind_is_unknown_where_any_of_it_is(wdr: str, wsp: str, wgs: str) -> None:
    raw = lamp({"WDR": [wdr], "WSP": [wsp], "WGS": [wgs]})
    assert isinstance(hours_of(read(raw))[0].wind, UnknownWind)


def test_temperatures() -> None:
    """Fahrenheit, exact: 32 F is 0 C, -40 F is -40 C; missing codes of the samples."""
    hours = hours_of(read(blend({"TMP": ["32", "-40", "-99"], "DPT": ["32", "32", "999"]})))
    assert [hour.temperature_c for hour in hours] == [0, -40, None]
    assert [hour.dew_point_c for hour in hours] == [0, 0, None]


def test_chances_bound_each_other() -> None:
    """Less than 1,000 ft is less than 2,000 too: a chance of the one is at most that of a higher limit."""
    known = ((500, 1), (1000, 5), (3000, 20))
    assert chance_of_less(known, 400) == Chance(at_least=0, at_most=1)
    assert chance_of_less(known, 1000) == Chance(at_least=1, at_most=5)
    assert chance_of_less(known, 1500) == Chance(at_least=5, at_most=20)
    assert chance_of_less(known, 3000) == Chance(at_least=5, at_most=20)
    assert chance_of_less(known, 4000) == Chance(at_least=20, at_most=None)
    assert chance_of_less((), 1000) == Chance(at_least=0, at_most=None)


GOOD_NBS = blend(GOOD, product="NBS", first=5)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        ("", "an empty block"),
        (GOOD_NBS.replace("GUIDANCE", "GUI_ANCE"), "is no header"),
        (GOOD_NBS.replace("2/28/2028", "2/31/2028"), "gives no time"),
        (GOOD_NBS.replace("NBS", "NBE"), "product NBE"),
        (GOOD_NBS.replace("V5.0", "V6.0"), "version 6.0"),
        (GOOD_NBS.replace("2200 UTC", "2230 UTC"), "not at a whole hour"),
        (GOOD_NBS.replace("2/28/2028", "2/29/2028"), "after it was received"),
        (GOOD_NBS.replace(" UTC  03", " UTC  04"), "do not fit the time of the run"),
        (GOOD_NBS.replace(" FHR  05 08", " FHR -05 08"), "hours ahead"),
        (GOOD_NBS.replace(" FHR  05 08", " FHR  05 09"), "do not follow each other"),
        (GOOD_NBS.replace(" FHR", " FXR"), "no line of hours ahead"),
        (GOOD_NBS.replace(" UTC  ", " UTX  "), "no line of hours (UTC)"),
        (GOOD_NBS + "\n DT  /MAR   1", "dates that do not fit"),
        (f"{GOOD_NBS}\n CIG  10 10 10", "CIG stands twice"),
        (GOOD_NBS + "\n ABC" * 80, "more than 80 lines"),
        ("XABC   NAM MOS GUIDANCE    8/12/2017  1200 UTC\nHR   18 21", "NAM MOS guidance is not read"),
    ],
)  # fmt: skip
def test_what_is_refused(raw: str, says: str) -> None:
    found = decode_guidance(raw, received_at=RECEIVED)
    assert isinstance(found, Unreadable)
    assert says in found.error
    assert found.station == (raw.split(maxsplit=1)[0] if raw else None)


@pytest.mark.parametrize(
    ("line", "unread"),
    [
        (" CIG  60 60", "CIG (does not fit its columns)"),  # cut short
        (" CIG  60 60 6", "CIG (does not fit its columns)"),
        (" CIG 60 60 60", "CIG (does not fit its columns)"),  # a character lost
        (" CIG  60 60 60 60", "CIG (does not fit its columns)"),
        (" CIG  60 6# 60", "CIG (does not fit its columns)"),
        (" CI#  60 60 60", "CI#  60 60 60"),
        (" CIX  60 60 60", "CIX (not known)"),
        ("CIG  60 60 60", "CIG  60 60 60"),  # not under its header
    ],
)
def test_a_line_that_cannot_be_read_is_left_out_as_a_whole(line: str, unread: str) -> None:
    block = read(blend({"VIS": ["100", "100", "100"]}) + f"\n{line}\n IFC   1  2  3")
    assert block.unread == (unread,)
    for hour, percent in zip(hours_of(block), (1, 2, 3), strict=True):
        assert isinstance(hour.ceiling, UnknownCeiling)
        assert hour.visibility == KnownVisibility(sm=10.0, bound=Bound.EXACTLY)
        assert hour.ceiling_chances == ((1000, percent),)


def test_a_block_without_ceiling_and_visibility_knows_nothing_of_them() -> None:
    (hour,) = hours_of(read(lamp({"TMP": ["50"]})))
    assert isinstance(hour.ceiling, UnknownCeiling)
    assert isinstance(hour.visibility, UnknownVisibility)
    assert (hour.wet_percent, hour.thunder_percent, hour.freezing_percent, hour.weather) == (None,) * 4


# --- where blocks begin and end -------------------------------------------------------------------

METAR = "KAAA 282153Z 18010KT 10SM CLR"


@pytest.mark.parametrize("ends", ["\n", "\r\r\n"])
def test_blocks_between_other_reports(ends: str) -> None:
    first, second = blend(GOOD), lamp(GOOD)
    bulletin = [
        "\x01",
        "000 ",
        "FOUS11 KWNO 282230",
        "NBSUSA",
        f"\x1e{first}",
        " " * 80,
        f"\x1e{second}",
        METAR,
        "\x03",
    ]
    found = list(parted("\n".join(bulletin).replace("\n", ends)))
    assert [piece for is_block, piece in found if is_block] == [first, second]
    assert METAR in "\n".join(piece for is_block, piece in found if not is_block)


@pytest.mark.parametrize(
    ("header", "between"),
    [
        ("XBAD   NBM V5.0 NBH GUI", "\n\n"),
        ("XBAD   NBM V5.0 NBH WE_DANCE    2/28/2028  2200 UTC", "\n\n"),
        ("XBAD   NBM V5.0 NBH WE_DANCE    2/28/2028  2200 UTC", "\n"),
    ],
)
def test_a_damaged_header_costs_no_neighbour(header: str, between: str) -> None:
    before, after = blend(GOOD), lamp(GOOD)
    damaged = "\n".join([header, *blend(GOOD).split("\n")[1:]])
    blocks = [piece for is_block, piece in parted(between.join([before, damaged, after])) if is_block]
    assert blocks == [before, damaged, after]
    values = [decode_guidance(block, received_at=RECEIVED) for block in blocks]
    assert [isinstance(value, Unreadable) for value in values] == [False, True, False]
    assert [value.station for value in values] == ["XAAA", "XBAD", "XCCC"]


def test_two_blocks_that_ran_into_one_are_refused() -> None:
    lost = "\n".join(blend(GOOD).split("\n")[1:])
    found = decode_guidance(f"{blend(GOOD)}\n{lost}", received_at=RECEIVED)
    assert isinstance(found, Unreadable)
    assert "stands twice" in found.error


def test_a_text_without_guidance_passes_as_it_is() -> None:
    assert list(parted(f"{METAR}\n\nDT x")) == [(False, f"{METAR}\n\nDT x")]


@pytest.mark.parametrize(
    ("raw", "product"),
    [
        (lamp(GOOD), "LAV"),
        (lamp(GOOD, extended=True), "LEV"),
        (blend(GOOD), "NBH"),
        (GOOD_NBS.replace("NBS", "NBE"), "other"),
        ("XABC   NAM MOS GUIDANCE    8/12/2017  1200 UTC", "other"),
        ("XABC   N#M", None),
    ],
)
def test_the_product_of_a_refused_block(raw: str, product: str | None) -> None:
    assert product_of(raw) == product
