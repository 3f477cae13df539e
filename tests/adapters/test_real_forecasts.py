"""Real forecasts and winds aloft: nothing raises, and what the usual shortcuts cost is seen."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from refuge.weather.category import Category, category, rank
from refuge.weather.expected import Expected, expected
from refuge.weather.reports import Forecast, Group, Level, Levels
from refuge.weather.taf import decode_forecast
from refuge.weather.winds_aloft import Known, decode_levels, split_winds, winds_at

HOUR = timedelta(hours=1)
RECEIVED = datetime(2022, 10, 15, 12, tzinfo=UTC)
"""The texts carry no month; any receipt will do to give them one."""


@pytest.fixture(scope="module")
def forecasts(shared_data: Path) -> tuple[Forecast, ...]:
    lines = (shared_data / "reports" / "taf.txt").read_text().splitlines()
    read = [decode_forecast(line, received_at=RECEIVED) for line in lines if line.strip()]
    return tuple(forecast for forecast in read if isinstance(forecast, Forecast))


def windows(forecast: Forecast, *, every: int = 1) -> Iterator[tuple[datetime, datetime]]:
    """Yield the hours of the validity, and one before and one after it."""
    if forecast.valid_from is None or forecast.valid_to is None:
        return
    start = forecast.valid_from - HOUR
    while start <= forecast.valid_to:
        yield start, start + HOUR
        start += every * HOUR


def worst(answer: Expected) -> Category:
    return min((category(s.conditions.ceiling, s.conditions.visibility) for s in answer.states), key=rank)


def test_every_real_forecast_answers_every_hour(forecasts: Sequence[Forecast]) -> None:
    assert len(forecasts) > 450
    for forecast in forecasts:
        for start, end in windows(forecast):
            answer = expected([forecast], forecast.station, start, end)
            assert forecast.valid_from is not None
            assert forecast.valid_to is not None
            inside = not (forecast.cancelled or forecast.nil)
            inside = inside and start >= forecast.valid_from and end <= forecast.valid_to
            assert answer.complete is inside, forecast.raw
            merged = category(answer.adverse.ceiling, answer.adverse.visibility)
            assert (rank(merged) <= rank(Category.LIFR)) == (rank(worst(answer)) <= rank(Category.LIFR))
            if rank(merged) > rank(Category.LIFR):
                assert merged is worst(answer), forecast.raw


def without(kinds: set[str]) -> Callable[[Forecast], Forecast]:
    return lambda f: replace(f, groups=tuple(g for g in f.groups if g.kind not in kinds and not passes(g, kinds)))


def passes(group: Group, kinds: set[str]) -> bool:
    return "PROB" in kinds and group.probability is not None


def first_line(forecast: Forecast) -> Forecast:
    return replace(forecast, groups=forecast.groups[:1])


def at_start(forecast: Forecast) -> Forecast:
    """Return the forecast with each BECMG done in its first second, and nothing left of what it replaces."""
    second = timedelta(seconds=1)
    return replace(
        forecast,
        groups=tuple(
            replace(g, start=g.start - second, end=g.start) if g.kind == "BECMG" else g for g in forecast.groups
        ),
    )


SHORTCUTS: dict[str, Callable[[Forecast], Forecast]] = {
    "first line only": first_line,
    "no TEMPO, PROB, INTER": without({"TEMPO", "PROB", "INTER"}),
    "PROB ignored": without({"PROB"}),
    "BECMG applied at its start": at_start,
}


@pytest.mark.parametrize("name", SHORTCUTS)
def test_a_shortcut_is_too_good_in_some_windows(forecasts: Sequence[Forecast], name: str) -> None:
    """Source of the claim: decoding.md, 'What shortcuts cost', 3 to 22 % of hourly windows."""
    too_good = asked = 0
    for forecast in forecasts[::3]:
        short = SHORTCUTS[name](forecast)
        for start, end in windows(forecast, every=2):
            ours = worst(expected([forecast], forecast.station, start, end))
            theirs = worst(expected([short], forecast.station, start, end))
            asked += 1
            too_good += rank(theirs) > rank(ours)
    assert asked > 1000
    assert too_good / asked > 0.005, f"{too_good} of {asked}"


def bulletin(shared_data: Path, name: str) -> Levels:
    (raw,) = split_winds((shared_data / "winds" / name).read_text())
    levels = decode_levels(raw, received_at=datetime(2018, 2, 8, 21, tzinfo=UTC))
    assert isinstance(levels, Levels)
    return levels


@pytest.mark.parametrize(
    ("name", "product", "sites"),
    [("FD1US1_pyiem.txt", "FD1US1", 176), ("FD3CN3_pyiem.txt", "FD3CN3", 170), ("FD0HW9_pyiem.txt", "FD0HW9", 6)],
)
def test_winds_aloft_bulletins_are_read_wholly(shared_data: Path, name: str, product: str, sites: int) -> None:
    """Counts: lines of the files that begin with three letters and a blank, after the FT line."""
    levels = bulletin(shared_data, name)
    assert (levels.product, len(levels.sites), levels.unread) == (product, sites, ())


def level(altitude_ft: int, direction: int | None, speed_kt: int, temperature_c: int | None = None) -> Level:
    return Level(altitude_ft=altitude_ft, dir_deg_true=direction, speed_kt=speed_kt, temperature_c=temperature_c)


def test_spot_checks_of_winds_aloft(shared_data: Path) -> None:
    """Source: the raw text, read by eye: ABI, AMA, BIH, CAR, CZI, and YZP, LIH of the high bulletins."""
    low = bulletin(shared_data, "FD1US1_pyiem.txt")
    assert (low.based_on.day, low.valid_at.hour, low.use_from.hour, low.use_to.hour) == (8, 6, 2, 9)
    by_site = {site.site: {lv.altitude_ft: lv for lv in site.levels} for site in low.sites}
    assert by_site["ABI"][6000] == level(6000, 250, 44, 15)
    assert 3000 not in by_site["ABI"]
    assert by_site["ABI"][39000] == level(39000, 260, 120, -59)
    assert by_site["AMA"][6000] == level(6000, 290, 32)
    assert by_site["BIH"][9000] == level(9000, None, 0, -2)
    assert by_site["CAR"][24000] == level(24000, 260, 106, -31)
    assert min(by_site["CZI"]) == 9000
    assert by_site["BFF"][24000] == level(24000, None, 0, -38)
    high = {s.site: s.levels for s in bulletin(shared_data, "FD3CN3_pyiem.txt").sites}
    assert high["YZP"][1] == level(30000, 20, 101, -46)
    pacific = {s.site: s.levels for s in bulletin(shared_data, "FD0HW9_pyiem.txt").sites}
    assert pacific["LIH"] == (
        level(30000, 270, 109, -33), level(34000, 270, 111, -40), level(39000, 270, 112, -51),
        level(45000, 280, 103, -63), level(53000, 250, 52, -73),
    )  # fmt: skip


def test_all_sites_are_interpolated_at_once(shared_data: Path) -> None:
    """By hand: ABI at 7,500 ft between 250/44 +15 and 250/42 +7 is 250/43 +11; CZI has nothing there."""
    import numpy as np

    sites = bulletin(shared_data, "FD1US1_pyiem.txt").sites
    arrays = winds_at(sites, np.array([7500.0]))
    names = [site.site for site in sites]
    abilene, czi = names.index("ABI"), names.index("CZI")
    assert np.hypot(arrays.east_kt[abilene, 0], arrays.north_kt[abilene, 0]) == pytest.approx(43.0)
    assert arrays.temperature_c[abilene, 0] == pytest.approx(11.0)
    assert arrays.wind_state[czi, 0] == Known.UNKNOWN
    assert arrays.temperature_state[czi, 0] == Known.UNKNOWN
