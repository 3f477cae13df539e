import csv
import re
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.weather.reports import Level, Levels, LevelsAt, Unreadable
from refuge.weather.wind import UnknownWind
from refuge.weather.winds_aloft import (
    FreezingLevel,
    Known,
    UnknownFreezingLevel,
    UnknownTemperature,
    decode_levels,
    freezing_level,
    level_temperature_c,
    level_wind,
    split_winds,
    winds_at,
)

REFERENCE = Path(__file__).parents[3] / "fixtures" / "reference"
RECEIVED = datetime(2018, 2, 8, 3, 0, tzinfo=UTC)
HEIGHTS = "FT  3000    6000    9000   12000   18000   24000  30000  34000  39000"
# The columns of a group under that line, counted by hand: 4 wide at 3,000, 7 to 24,000, then 6.
FIRST = {3000: 4, 6000: 9, 9000: 17, 12000: 25, 18000: 33, 24000: 41, 30000: 49, 34000: 56, 39000: 63}


def bulletin(
    *lines: str,
    valid: str = "VALID 080600Z   FOR USE 0200-0900Z. TEMPS NEG ABV 24000",
    based: str = "DATA BASED ON 080000Z",
    heights: str = HEIGHTS,
) -> str:
    return "\n".join(["000", "FBUS31 KWNO 080201", "FD1US1", based, valid, "", heights, *lines, ""])


def decoded(*lines: str, received: datetime = RECEIVED, **header: str) -> Levels:
    levels = decode_levels(bulletin(*lines, **header), received_at=received)
    assert isinstance(levels, Levels), levels
    return levels


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows("winds_aloft_groups.csv"), ids=lambda row: row["id"])
def test_one_group_under_its_height(row: dict[str, str]) -> None:
    height = int(row["altitude_ft"])
    line = "XAA".ljust(FIRST[height]) + row["group"]
    (site,) = decoded(line).sites
    assert site == LevelsAt(
        site="XAA",
        levels=(
            Level(
                altitude_ft=height,
                dir_deg_true=int(row["dir_deg_true"]) if row["dir_deg_true"] else None,
                speed_kt=int(row["speed_kt"]),
                at_least=row["at_least"] == "yes",
                temperature_c=int(row["temperature_c"]) if row["temperature_c"] else None,
            ),
        ),
    )


def two_levels(row: dict[str, str]) -> LevelsAt:
    return LevelsAt(
        site="XAA",
        levels=tuple(
            Level(
                altitude_ft=int(row[f"{which}_ft"]),
                dir_deg_true=int(row[f"{which}_dir_deg_true"]),
                speed_kt=int(row[f"{which}_kt"]),
            )
            for which in ("lower", "upper")
        ),
    )


@pytest.mark.parametrize("row", rows("winds_aloft_between.csv"), ids=lambda row: row["id"])
def test_wind_between_levels_by_components(row: dict[str, str]) -> None:
    wind = level_wind(two_levels(row), float(row["altitude_ft"]))
    assert not isinstance(wind, UnknownWind)
    assert wind.speed_kt == pytest.approx(float(row["speed_kt"]), abs=float(row["speed_tolerance_kt"]))
    if not row["dir_deg_true"]:
        assert wind.dir_deg_true is None
        return
    assert wind.dir_deg_true is not None
    off = (wind.dir_deg_true - float(row["dir_deg_true"]) + 180.0) % 360.0 - 180.0
    assert abs(off) <= float(row["dir_tolerance_deg"])


def temperatures(*pairs: tuple[int, int | None]) -> LevelsAt:
    return LevelsAt(
        site="XAA",
        levels=tuple(Level(altitude_ft=ft, dir_deg_true=270, speed_kt=10, temperature_c=c) for ft, c in pairs),
    )


def test_temperature_and_freezing_level_of_f24() -> None:
    """Source: reference.md 6, F24 [C]."""
    at = temperatures((6000, 12), (9000, 3))
    assert level_temperature_c(at, 7500.0) == pytest.approx(7.5)
    freezing = freezing_level(at)
    assert isinstance(freezing, FreezingLevel)
    assert freezing.altitude_ft == pytest.approx(10000.0)
    assert freezing.extrapolated


def test_freezing_level_between_levels_is_the_lowest_crossing() -> None:
    """Source: linear interpolation by hand: +2 to -4 over 3,000 ft crosses 0 after 1,000 ft."""
    at = temperatures((6000, 2), (9000, -4), (12000, 2), (18000, -10))
    freezing = freezing_level(at)
    assert isinstance(freezing, FreezingLevel)
    assert freezing.altitude_ft == pytest.approx(7000.0)
    assert not freezing.extrapolated


@pytest.mark.parametrize(
    ("at", "at_or_below_ft"),
    [
        (temperatures((3000, None)), None),
        (temperatures((3000, None), (6000, -1), (9000, 4)), 6000),
        (temperatures((6000, 0)), 6000),
        (temperatures((6000, 5)), None),
        (temperatures((6000, 5), (9000, 7)), None),
    ],
    ids=["no temperature", "cold from the lowest on", "0 C at the lowest", "one warm level", "warmer above"],
)
def test_freezing_level_is_unknown_where_the_levels_do_not_give_it(
    at: LevelsAt, at_or_below_ft: int | None
) -> None:
    answer = freezing_level(at)
    assert isinstance(answer, UnknownFreezingLevel)
    assert answer.at_or_below_ft == at_or_below_ft


def test_nothing_is_extrapolated_beyond_the_levels_given() -> None:
    at = temperatures((6000, 12), (9000, 3))
    for altitude_ft in (0.0, 5999.0, 9001.0):
        assert isinstance(level_wind(at, altitude_ft), UnknownWind)
        assert isinstance(level_temperature_c(at, altitude_ft), UnknownTemperature)
    assert not isinstance(level_wind(at, 6000.0), UnknownWind)
    assert not isinstance(level_wind(at, 9000.0), UnknownWind)


def test_no_temperature_below_the_lowest_one_though_there_is_wind() -> None:
    at = temperatures((3000, None), (6000, 12), (9000, 3))
    assert not isinstance(level_wind(at, 4500.0), UnknownWind)
    assert isinstance(level_temperature_c(at, 4500.0), UnknownTemperature)


def test_a_site_without_levels_knows_nothing() -> None:
    arrays = winds_at([LevelsAt(site="XAA", levels=())], np.array([3000.0]))
    assert arrays.wind_state.tolist() == [[Known.UNKNOWN]]
    assert arrays.temperature_state.tolist() == [[Known.UNKNOWN]]


def test_or_more_stays_or_more_between_levels_and_not_beyond_its_neighbour() -> None:
    at = LevelsAt(
        site="XAA",
        levels=(
            Level(altitude_ft=24000, dir_deg_true=270, speed_kt=120),
            Level(altitude_ft=30000, dir_deg_true=270, speed_kt=199, at_least=True),
            Level(altitude_ft=34000, dir_deg_true=270, speed_kt=150),
            Level(altitude_ft=39000, dir_deg_true=270, speed_kt=120),
        ),
    )
    arrays = winds_at([at], np.array([24000.0, 25000.0, 30000.0, 33000.0, 34000.0, 36000.0, 40000.0]))
    assert arrays.wind_state.tolist() == [
        [Known.KNOWN, Known.AT_LEAST, Known.AT_LEAST, Known.AT_LEAST, Known.KNOWN, Known.KNOWN, Known.UNKNOWN]
    ]
    wind = level_wind(at, 25000.0)
    assert not isinstance(wind, UnknownWind)
    assert wind.at_least


def test_leading_blank_columns_do_not_shift_the_levels() -> None:
    """Source: line of a real bulletin (FBUS31 KWNO 080201), read by eye."""
    line = "AMA      2932    2641+01 2341-04 2566-18 2580-29 750444 751452 751856"
    (site,) = decoded(line).sites
    assert [level.altitude_ft for level in site.levels] == [6000, 9000, 12000, 18000, 24000, 30000, 34000, 39000]
    assert site.levels[0] == Level(altitude_ft=6000, dir_deg_true=290, speed_kt=32)
    assert site.levels[1] == Level(altitude_ft=9000, dir_deg_true=260, speed_kt=41, temperature_c=1)
    assert site.levels[-1] == Level(altitude_ft=39000, dir_deg_true=250, speed_kt=118, temperature_c=-56)


GOOD = "AST 2927 3122-10 3129-17 3039-22 3066-31 3087-39 308948 307150 305549"


@pytest.mark.parametrize(
    "line",
    [
        " " + GOOD,
        GOOD[:4] + GOOD[5:],
        GOOD.replace("3129", "3x29"),
        GOOD.replace("3129", "4029"),
        GOOD.replace("3129", "0029"),
        GOOD.replace("3129", "8729"),
        GOOD.replace("3129", "9905"),
        GOOD.replace("3129-17", "       "),
        GOOD[:-2],
        GOOD + "  9900",
        "AS  2927",
        "AST",
        "THE WINDS ARE LIGHT",
    ],
    ids=[
        "shifted right", "shifted left", "letter", "direction 400", "direction 000", "direction 870",
        "light with a speed", "hole between levels", "cut in a group", "one more", "two letters", "nothing",
        "prose",
    ],
)  # fmt: skip
def test_a_line_that_does_not_fit_its_columns_is_unread_and_loses_no_neighbour(line: str) -> None:
    levels = decoded(line, GOOD)
    assert levels.unread == (line,)
    assert [site.site for site in levels.sites] == ["AST"]
    assert len(levels.sites[0].levels) == 9


def test_a_line_cut_between_two_groups_keeps_what_it_has() -> None:
    (site,) = decoded(GOOD[:24]).sites
    assert [level.altitude_ft for level in site.levels] == [3000, 6000, 9000]


@pytest.mark.parametrize(
    ("valid", "use_from", "use_to"),
    [
        ("VALID 080600Z   FOR USE 0200-0900Z. TEMPS NEG ABV 24000", (2018, 2, 8, 2), (2018, 2, 8, 9)),
        ("VALID 091800Z   FOR USE 1200-0000Z. TEMPS NEG ABV 24000", (2018, 2, 9, 12), (2018, 2, 10, 0)),
        ("VALID 090000Z   FOR USE 1800-0600Z. TEMPS NEG ABV 24000", (2018, 2, 8, 18), (2018, 2, 9, 6)),
        ("VALID 091800Z   FOR USE 1200-2400Z. TEMPS NEG ABV 24000", (2018, 2, 9, 12), (2018, 2, 10, 0)),
        ("VALID 091800Z   FOR USE 1200-1200Z. TEMPS NEG ABV 24000", (2018, 2, 9, 12), (2018, 2, 10, 12)),
    ],
)
def test_period_of_use_lies_around_the_valid_time(
    valid: str, use_from: tuple[int, int, int, int], use_to: tuple[int, int, int, int]
) -> None:
    """Source: the headings of real bulletins (first two) and reference.md 6; dates by hand."""
    levels = decoded(GOOD, valid=valid)
    assert levels.use_from == datetime(*use_from, tzinfo=UTC)
    assert levels.use_to == datetime(*use_to, tzinfo=UTC)
    assert levels.use_from <= levels.valid_at < levels.use_to


def test_times_carry_no_month_and_roll_over_its_end() -> None:
    levels = decoded(
        GOOD,
        received=datetime(2024, 2, 29, 20, 0, tzinfo=UTC),
        based="DATA BASED ON 291800Z",
        valid="VALID 010600Z   FOR USE 0300-1200Z. TEMPS NEG ABV 24000",
    )
    assert levels.based_on == datetime(2024, 2, 29, 18, tzinfo=UTC)
    assert levels.valid_at == datetime(2024, 3, 1, 6, tzinfo=UTC)
    assert levels.use_to == datetime(2024, 3, 1, 12, tzinfo=UTC)


def test_without_the_rule_of_signs_a_bare_temperature_is_not_known() -> None:
    levels = decoded(GOOD, valid="VALID 080600Z   FOR USE 0200-0900Z.")
    by_height = {level.altitude_ft: level.temperature_c for level in levels.sites[0].levels}
    assert by_height[24000] == -39
    assert by_height[30000] is None


def test_bulletins_in_one_text_are_split_with_their_headings() -> None:
    high = bulletin("LIH 770933", heights="FT   30000").replace("FD1US1", "FD0HW9")
    parts = split_winds(bulletin(GOOD) + "\n" + high)
    products = [
        levels.product for part in parts if isinstance(levels := decode_levels(part, received_at=RECEIVED), Levels)
    ]
    assert products == ["FD1US1", "FD0HW9"]
    assert [part.count("FBUS31") for part in parts] == [1, 1]


def test_a_text_without_bulletins_is_given_back_whole_and_found_unreadable() -> None:
    assert split_winds("  \n") == ()
    (part,) = split_winds("no winds today")
    assert isinstance(decode_levels(part, received_at=RECEIVED), Unreadable)


@pytest.mark.parametrize(
    "raw",
    [
        "",
        bulletin(GOOD, based="DATA BASED ON 080000"),
        bulletin(GOOD, based="DATA BASED ON 320000Z"),
        bulletin(GOOD, valid="VALID 082500Z   FOR USE 0200-0900Z. TEMPS NEG ABV 24000"),
        bulletin(GOOD, valid="VALID 080600Z   FOR USE 0260-0900Z. TEMPS NEG ABV 24000"),
        bulletin(GOOD, valid="VALID 080600Z   FOR USE 0200-2500Z. TEMPS NEG ABV 24000"),
        bulletin(GOOD, heights="FT"),
        bulletin(GOOD, heights="FT  3000    9000    6000"),
        bulletin(GOOD, heights="FT  3000 6000"),
        bulletin(GOOD, heights="FT 3000"),
    ],
)
def test_an_unreadable_bulletin_is_a_value_with_its_reason(raw: str) -> None:
    answer = decode_levels(raw, received_at=RECEIVED)
    assert isinstance(answer, Unreadable)
    assert answer.raw == raw
    assert answer.error.startswith("winds aloft: ")


ALPHABET = "0123456789 +-/ABZ\n\r\tFT$"


@given(st.lists(st.text(ALPHABET, max_size=75), max_size=6), st.text(max_size=60))
def test_no_text_raises_and_every_line_is_a_site_or_unread(lines: list[str], noise: str) -> None:
    body = [line for text in lines for line in re.split(r"[\n\r]", text)]
    answer = decode_levels(bulletin(*body), received_at=RECEIVED)
    decode_levels(noise, received_at=RECEIVED)
    if isinstance(answer, Levels):
        kept = [line for line in body if line.strip() not in {"", "$$", "NNNN", "="}]
        assert len(answer.sites) + len(answer.unread) == len(kept)


@given(
    st.sampled_from(sorted(FIRST)),
    st.integers(1, 36),
    st.integers(5, 199),
    st.integers(-60, -1),
)
def test_what_is_written_in_a_column_is_read_back(height: int, tens: int, speed_kt: int, cold_c: int) -> None:
    """Source: the coding rule of reference.md 6, applied in the other direction."""
    written = f"{tens + 50:02d}{speed_kt - 100:02d}" if speed_kt >= 100 else f"{tens:02d}{speed_kt:02d}"
    if height > 24000:
        written += f"{-cold_c:02d}"
    elif height > 3000:
        written += f"{cold_c:+03d}"
    (site,) = decoded("XAA".ljust(FIRST[height]) + written).sites
    assert site.levels == (
        Level(
            altitude_ft=height,
            dir_deg_true=tens * 10,
            speed_kt=speed_kt,
            at_least=speed_kt == 199,
            temperature_c=None if height == 3000 else cold_c,
        ),
    )
