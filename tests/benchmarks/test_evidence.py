"""How fast evidence for very many airfields at many hours is, against a loop over `expect`.

pytest tests/benchmarks/test_evidence.py --benchmark-enable
"""

import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from refuge.flight.hourly import evidence_by_hour
from refuge.flight.situation import Situation
from refuge.render.expect import expect_lines
from refuge.weather.expected import expected
from refuge.weather.reports import Forecast
from refuge.weather.taf import decode_forecast
from tests.benchmarks.test_find import NOW, best_of, world

HOURS = tuple(NOW + timedelta(hours=h) for h in range(25))
EACH = timedelta(minutes=30)
"""A window of half an hour to both sides of each hour."""
SAMPLE = 60
FIELDS, STATIONS, TAFS = 16_159, 2_300, 700


def country() -> Situation:
    """Return a made-up country as the United States is on the real tables (`refuge coverage --region US`).

    16,159 airfields, 2,300 stations that report, 700 of them with forecasts of five groups, over 24 by 58 degrees.
    """
    chance = random.Random(1)  # noqa: S311 - no secret
    known = world(2, 2)
    places, reports, forecasts, hearing = {}, {}, {}, {}
    for i in range(STATIONS):
        name = f"K{i:04d}"
        lat, lon = chance.uniform(25.0, 49.0), chance.uniform(-125.0, -67.0)
        places[name] = replace(known.stations["K001"], id=name, lat_deg=lat, lon_deg=lon)
        reports[name] = replace(known.observations["K001"], station=name)
        hearing[name] = replace(known.hearing["K001"], forecasts=i < TAFS)
        if i < TAFS:
            text = (
                f"TAF KABC 101130Z 1012/1118 26010KT P6SM BKN{chance.randint(8, 60):03d} TEMPO 1014/1018 3SM BR"
                f" BKN{chance.randint(4, 40):03d} FM101800 28012KT P6SM SCT050 FM110000 27008KT 5SM BR BKN025"
                " FM110600 24005KT 3SM BR OVC012 FM111300 25010KT P6SM SCT040"
            )
            forecast = decode_forecast(text, received_at=NOW)
            assert isinstance(forecast, Forecast)
            forecasts[name] = (replace(forecast, station=name),)
    fields = []
    for i in range(FIELDS):
        own = f"K{i:04d}" if i < STATIONS else None
        lat, lon = chance.uniform(25.0, 49.0), chance.uniform(-125.0, -67.0)
        if own is not None:
            lat, lon = places[own].lat_deg, places[own].lon_deg
        fields.append(
            replace(known.airfields[0], id=f"F{i}", lat_deg=lat, lon_deg=lon, elevation_ft=800.0, station_id=own)
        )
    return replace(
        known, airfields=tuple(fields), stations=places, observations=reports, forecasts=forecasts, hearing=hearing
    )


def loop(known: Situation, names: Sequence[str], hours: Sequence[datetime]) -> int:
    """Give the answer of `refuge expect` for each station and hour, as a plain loop over airfields would ask.

    From forecasts that are in memory: the store and the start of the command are left out, in favour of the loop.
    """
    length = 0
    for name in names:
        for hour in hours:
            length += len(expect_lines(expected(known.forecasts[name], name, hour - EACH, hour + EACH)))
    return length


def bare_loop(known: Situation, names: Sequence[str], hours: Sequence[datetime]) -> None:
    """Do the same without its words and JSON: `expected` alone."""
    for name in names:
        for hour in hours:
            expected(known.forecasts[name], name, hour - EACH, hour + EACH)


def test_evidence_for_a_country_by_the_hour(benchmark: BenchmarkFixture) -> None:
    """16,159 airfields at 25 hours in one call: at least 100 times as fast as a loop over `expect`."""
    known = country()
    found = benchmark.pedantic(  # type: ignore[no-untyped-call]
        lambda: evidence_by_hour(known, NOW, HOURS, ceiling_ft=1500.0, visibility_sm=3.0), rounds=2, warmup_rounds=0
    )
    assert found.shape == (len(known.airfields), len(HOURS))
    assert set(np.unique(found).tolist()) <= {0, 1, 2}
    if benchmark.disabled:
        return
    names = sorted(known.forecasts)[:SAMPLE]
    each_s = best_of(3, lambda: loop(known, names, HOURS)) / (SAMPLE * len(HOURS))
    bare_s = best_of(3, lambda: bare_loop(known, names, HOURS)) / (SAMPLE * len(HOURS))
    whole_s = best_of(5, lambda: evidence_by_hour(known, NOW, HOURS, ceiling_ft=1500.0, visibility_sm=3.0))
    ratio = each_s * found.size / whole_s
    benchmark.extra_info["times as fast as a loop over expect"] = round(ratio, 1)
    benchmark.extra_info["times as fast as a loop over expected, without its JSON"] = round(
        bare_s * found.size / whole_s, 1
    )
    assert ratio >= 100.0


@pytest.mark.parametrize("hour", [0, 12, 24])
def test_it_says_what_a_single_hour_says(hour: int) -> None:
    known = world(40, 20)
    whole = evidence_by_hour(known, NOW, HOURS, ceiling_ft=1500.0, visibility_sm=3.0)
    alone = evidence_by_hour(known, NOW, HOURS[hour : hour + 1], ceiling_ft=1500.0, visibility_sm=3.0)
    assert (whole[:, hour] == alone[:, 0]).all()
