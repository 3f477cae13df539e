"""All real reports: none raises, and none is better than NOAA's own reading without a rule.

NOAA publishes decoded columns beside the raw text. They have faults of their own (data/README.md),
so each optimistic difference must fall under a rule, which is a predicate on the raw report.
"""

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from refuge.weather.category import Category, category, rank
from refuge.weather.metar import decode_observation
from refuge.weather.record import (
    forecast_from_record,
    forecast_record,
    observation_from_record,
    observation_record,
)
from refuge.weather.reports import Forecast, Observation, Unreadable
from refuge.weather.sky import CeilingAt, KnownVisibility, NoCeiling
from refuge.weather.split import decode_any, split_reports
from refuge.weather.wind import KnownWind

pytestmark = pytest.mark.shared_data

RECEIVED_AT = datetime(2022, 10, 23, 3, tzinfo=UTC)
MAY_BE_UNREADABLE = {"metar.txt": 0, "metar-odd.txt": 0, "taf.txt": 2}
"""The two: a validity of 54 hours, and one that ends on a day that only February makes near."""


@pytest.mark.parametrize("name", sorted(MAY_BE_UNREADABLE))
def test_every_real_report_is_read_and_comes_back_from_its_record(shared_data: Path, name: str) -> None:
    text = (shared_data / "reports" / name).read_text(encoding="utf-8")
    raws = split_reports(text)
    assert len(raws) == len(text.splitlines())
    unreadable = []
    for raw in raws:
        value = decode_any(raw, received_at=RECEIVED_AT)
        match value:
            case Observation():
                assert observation_from_record(json.loads(json.dumps(observation_record(value)))) == value
            case Forecast():
                assert forecast_from_record(json.loads(json.dumps(forecast_record(value)))) == value
            case Unreadable():
                unreadable.append(value)
    assert len(unreadable) == MAY_BE_UNREADABLE[name], unreadable


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A reason to accept that NOAA's columns are worse, or blank, where our reading is not."""

    why: str
    kinds: frozenset[str]
    applies: Callable[[str], bool]


def in_body(pattern: str) -> Callable[[str], bool]:
    expression = re.compile(pattern)
    return lambda raw: expression.search(re.split(r"\s(?:RMK|TEMPO|BECMG)\b", raw)[0]) is not None


RULES = {
    "blank-for-NSC-or-NCD": Rule(
        why="the columns of 2015 know neither NSC nor NCD: no cover, so no category",
        kinds=frozenset({"ceiling-blank", "category-blank"}),
        applies=in_body(r"\s(?:NSC|NCD)\s"),
    ),
    "blank-for-NDV": Rule(
        why="the columns leave a visibility with NDV blank (data/README.md): so no category",
        kinds=frozenset({"visibility-blank", "category-blank"}),
        applies=in_body(r"\s\d{4}NDV\s"),
    ),
    "zero-for-VV": Rule(
        why="the columns give a hidden sky as OVX with base 0, and LIFR, whatever VVnnn says",
        kinds=frozenset({"ceiling", "category"}),
        applies=in_body(r"\sVV\d{3}(?!\S)"),
    ),
    "blank-for-odd-layers": Rule(
        why="the columns drop layers with an unknown type or amount, without height, or with another type",
        kinds=frozenset({"ceiling-blank", "category-blank"}),
        applies=in_body(r"\s(?:[A-Z]{3}\d{3}(?:///|SC)|(?:FEW|SCT)///(?:CB|TCU)?|///\d{3}(?:///)?)(?!\S)"),
    ),
    "blank-for-parted-miles": Rule(
        why="the columns lose a visibility whose unit stands apart",
        kinds=frozenset({"visibility-blank", "category-blank"}),
        applies=in_body(r"\s\d{1,2} SM\s"),
    ),
    "LIFR-by-one-alone": Rule(
        why="one element blank gives no category in the columns; the other may be LIFR alone (interface.md)",
        kinds=frozenset({"category-blank"}),
        applies=in_body(
            r"\s[1357]/(?:4|8|16)SM\s(?!.*(?:FEW|SCT|BKN|OVC|VV|CLR|SKC))"  # under 1 SM, no sky group
            r"|\s(?:0\d{3}|1[0-5]\d\d)\s.*\s//////\s"  # under 1,600 m, sky not observed
            r"|\s////SM\sOVC00[0-4]\s"  # under 500 ft, visibility not reported
        ),
    ),
    "table-of-metres": Rule(
        why="1,600 m is 1 SM and 4,800 m is 3 SM by AFMAN 15-111 table 8.1 (interface.md); NOAA takes 0.99, 2.98",
        kinds=frozenset({"category", "visibility"}),
        applies=in_body(r"\s(?:1600|4800)\s"),
    ),
}


def optimistic(observation: Observation, noaa: dict[str, list[str]]) -> Iterator[str]:
    """Yield the kind of each difference in which our reading is better than NOAA's columns."""
    adverse = observation.adverse
    yield from optimistic_ceiling(adverse.ceiling, noaa)
    visibility_sm = noaa["visibility_statute_mi"][0]
    if isinstance(adverse.visibility, KnownVisibility):
        if not visibility_sm:
            yield "visibility-blank"
        elif adverse.visibility.sm > float(visibility_sm) * 1.01 + 0.006:  # the column has two decimals
            yield "visibility"
    ours, theirs = category(adverse.ceiling, adverse.visibility), noaa["flight_category"][0]
    if theirs and rank(ours) > rank(Category(theirs)):
        yield "category"
    if not theirs and ours is not Category.UNKNOWN:
        yield "category-blank"
    speed_kt, gust_kt = noaa["wind_speed_kt"][0], noaa["wind_gust_kt"][0]
    if isinstance(adverse.wind, KnownWind):
        if not speed_kt:
            yield "wind-blank"
        elif adverse.wind.speed_kt < float(speed_kt) - 0.6:
            yield "wind"
        if gust_kt and (adverse.wind.gust_kt or 0.0) < float(gust_kt) - 0.6:
            yield "gust"


def optimistic_ceiling(ceiling: Any, noaa: dict[str, list[str]]) -> Iterator[str]:
    layers = list(zip(noaa["sky_cover"], noaa["cloud_base_ft_agl"], strict=True))
    counting = [base for cover, base in layers if cover in {"BKN", "OVC", "OVX"}]
    bases_ft = [int(base) for base in counting if base]
    none = isinstance(ceiling, NoCeiling)
    if bases_ft and (none or (isinstance(ceiling, CeilingAt) and ceiling.ft_agl > min(bases_ft))):
        yield "ceiling"
    if "" in counting and none:
        yield "ceiling-without-base"
    if not any(cover for cover, _ in layers) and none:
        yield "ceiling-blank"


def test_no_reading_is_better_than_noaas_without_a_rule(
    shared_data: Path, record_property: Callable[[str, object], None]
) -> None:
    applied: Counter[str] = Counter()
    unexplained: list[tuple[str, str]] = []
    with (shared_data / "reports" / "metar.jsonl").open(encoding="utf-8") as lines:
        for line in lines:
            row = json.loads(line)
            observation = decode_observation(row["raw"], received_at=RECEIVED_AT)
            assert isinstance(observation, Observation)
            for kind in optimistic(observation, row["noaa"]):
                fitting = [n for n, rule in RULES.items() if kind in rule.kinds and rule.applies(row["raw"])]
                applied.update(fitting)
                if not fitting:
                    unexplained.append((kind, row["raw"]))
    record_property("optimistic differences from NOAA's columns, by rule", dict(applied))
    assert unexplained == []
    assert all(applied[name] > 0 for name in RULES), applied


def test_a_hidden_sky_is_read_as_written(shared_data: Path) -> None:
    """What makes the rule for VV safe: our ceiling is then the vertical visibility, or lower."""
    seen = 0
    for raw in (shared_data / "reports" / "metar.txt").read_text(encoding="utf-8").splitlines():
        match = re.search(r"\sVV(\d{3})\s", raw.split(" RMK ")[0])
        if match is None or in_body(r"\s(?:TEMPO|BECMG)\s")(raw.split(match[0])[0] + " "):
            continue
        observation = decode_observation(raw, received_at=RECEIVED_AT)
        assert isinstance(observation, Observation)
        assert isinstance(observation.adverse.ceiling, CeilingAt)
        assert observation.adverse.ceiling.ft_agl <= int(match[1]) * 100
        seen += 1
    assert seen > 0
