"""`route` against the brute force on the real airfields of the world, with one real cycle of reports.

The reports are those of 2022-10-22, 01:40 to 02:53Z. Forecasts of that day are not at hand: the forecasts and the
winds aloft are real ones moved in time (tests.surfaces.moved), at their own stations. The brute force is given the
whole world, and finds by itself what is in reach.
"""

import os
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from refuge.airfield import Airfield
from refuge.cli import app
from refuge.flight.route import Plan, build
from refuge.flight.situation import Situation
from refuge.flight.ways import Variant, ways
from refuge.planning import route_question
from refuge.store.engine import reading
from refuge.store.opening import opened_store
from refuge.weather.reports import Forecast, Group
from refuge.world import World, read_world
from refuge.zulu import iso, parse_instant
from tests.core.flight.brute import Brute
from tests.core.flight.memory import Atlas, Memory
from tests.surfaces.comparing import differences, equal_time_differences, verdict_differences
from tests.surfaces.moved import moved_forecasts, moved_winds
from tests.surfaces.real_flights import fleet, flights, minimums, short_flight

pytestmark = pytest.mark.shared_data

EARLY, LATE = (parse_instant(text) for text in ("2022-10-22T02:35Z", "2022-10-22T03:10Z"))
"""By the first the reports of the half hour are in, by the second those of 01:53Z are stale."""
SEED = 13
ALL, SOME = 100, 6
FLIGHTS = ALL if os.environ.get("REFUGE_TESTS") == "all" else SOME
"""At each of the two instants."""
PAIRS = 40
"""So many airfields in reach are asked for every check by itself, at three minutes of each flight."""


def run(*words: str) -> None:
    result = CliRunner().invoke(app, list(words))
    assert result.exit_code == 0, (result.output, result.exception)


@pytest.fixture(scope="module")
def worlds(shared_data: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[datetime, World]:
    folder = tmp_path_factory.mktemp("real")
    store = str(folder / "real.sqlite")
    at = [("--now", iso(now), "--store", store) for now in (EARLY, LATE)]
    stations = str(shared_data / "stations" / "stations.cache.json")
    run("import", "airfields", str(shared_data / "airfields"), "--stations", stations, *at[0])
    run("collect", str(filed(shared_data, folder)), *at[0])
    run("collect", str(shared_data / "cycle" / "metars.cache.2022-10.csv"), *at[1])
    with opened_store(store) as engine, reading(engine) as conn:
        return {now: read_world(conn, now) for now in (EARLY, LATE)}


def filed(shared_data: Path, folder: Path) -> Path:
    """Return a folder with what is known early: the reports made by then, forecasts and winds moved to that day."""
    found = folder / "early"
    found.mkdir()
    reports = (shared_data / "cycle" / "metars.cache.2022-10.csv").read_text(encoding="utf-8").splitlines()
    made = [line for line in reports[1:] if line.split(",")[2] <= f"{EARLY:%Y-%m-%dT%H:%M:%SZ}"]
    (found / "metars.csv").write_text("\n".join([reports[0], *made]) + "\n", encoding="utf-8")
    texts = (shared_data / "reports" / "taf.txt").read_text(encoding="utf-8")
    (found / "taf.txt").write_text("\n".join(moved_forecasts(texts, EARLY.day, EARLY.hour)), encoding="utf-8")
    aloft = (shared_data / "winds" / "FD1US1_pyiem.txt").read_text(encoding="utf-8")
    (found / "winds.txt").write_text(moved_winds(aloft, 14), encoding="utf-8")
    return found


@dataclass(frozen=True)
class Given:
    """What the brute force starts from: everything, wherever it lies."""

    situation: Situation
    memory: Memory
    fields: Atlas[Airfield]

    @classmethod
    def of(cls, situation: Situation) -> "Given":
        return cls(situation, Memory(situation, situation.read_at), Atlas(situation.airfields))

    def flown(self, plan: Plan) -> Brute:
        return Brute(plan.asked, self.situation, self.memory, self.fields)


def everything(world: World) -> Situation:
    return replace(world.situation_between(), airfields=world.places.ordered, stations=world.places.stations)


def planned(world: World, number: int, seed: int) -> Iterator[Plan]:
    aircraft, wanted, now = fleet(), minimums(), world.read_at
    for asked in flights(world, now, number, seed):
        parties = aircraft[asked.aircraft], wanted[asked.minimums]
        yield build(*route_question(asked, parties, world, now=now))


def test_every_minute_and_airfield_is_as_the_brute_force_has_it(worlds: dict[datetime, World]) -> None:
    seen: Counter[str] = Counter()
    verdicts: Counter[tuple[str, str]] = Counter()
    for number, world in enumerate(worlds.values()):
        given = Given.of(everything(world))
        for plan in planned(world, FLIGHTS, SEED + number):
            brute = given.flown(plan)
            assert list(differences(plan, brute)) == [], plan.asked
            assert list(equal_time_differences(plan, brute)) == [], plan.asked
            for minute in {0, brute.minutes // 2, brute.minutes - 1}:
                assert list(verdict_differences(plan, brute, minute, PAIRS, verdicts)) == [], plan.asked
            as_planned = Variant(kind="as planned", label="", cost="", asked=plan.asked)
            assert ways([as_planned], plan.situation)[0].gap_min == plan.gap_min
            seen.update(stretch.state for stretch in plan.stretches)
            seen.update(pairs=plan.meeting.minute.size, equal_times=len(plan.equal_times))
    # A brute force that is only asked what nobody knows proves nothing.
    assert min(seen["refuge"], seen["gap"], seen["visual"]) >= FLIGHTS // 6, seen
    assert seen["pairs"] >= 10 * FLIGHTS, seen
    if FLIGHTS == ALL:
        for check in ("weather", "area", "break_out", "icing", "light", "runway"):
            assert all(verdicts[check, value] for value in ("MEETS", "MISSES", "UNKNOWN")), verdicts


def without(kind: str) -> Callable[[Situation], Situation]:
    """Return a reading that leaves out groups of a kind."""

    def read(situation: Situation) -> Situation:
        return with_groups(situation, lambda group: None if kind in (group.kind, _chance(group)) else group)

    return read


def _chance(group: Group) -> str:
    return "PROB" if group.probability is not None else ""


def becoming_at_once(situation: Situation) -> Situation:
    """Return what a reader sees for whom a change has come as soon as its period begins."""
    return with_groups(
        situation,
        lambda group: replace(group, end=group.start + timedelta(minutes=1)) if group.kind == "BECMG" else group,
    )


def with_groups(situation: Situation, read: Callable[[Group], Group | None]) -> Situation:
    def of(forecast: Forecast) -> Forecast:
        groups = [found for group in forecast.groups if (found := read(group)) is not None]
        return replace(forecast, groups=tuple(groups))

    forecasts: Mapping[str, tuple[Forecast, ...]] = situation.forecasts
    return replace(situation, forecasts={name: tuple(map(of, own)) for name, own in forecasts.items()})


def never_stale(situation: Situation) -> Situation:
    """Return what a reader sees for whom a report of any age is one of an hour ago."""
    hour_ago = situation.read_at - timedelta(hours=1)
    return replace(
        situation,
        observations={
            name: replace(seen, observed_at=max(seen.observed_at, hour_ago))
            for name, seen in situation.observations.items()
        },
    )


READINGS: tuple[tuple[str, datetime, Callable[[Situation], Situation], tuple[tuple[str, int], ...]], ...] = (
    ("TEMPO left out", EARLY, without("TEMPO"), (("LGRP", 240), ("EFJY", 240))),
    ("PROB left out", EARLY, without("PROB"), (("LPMR", 660), ("LFBD", 240))),
    ("FM left out", EARLY, without("FM"), (("EVRA", 240), ("KLCH", 660))),
    ("BECMG from its start", EARLY, becoming_at_once, (("LTBR", 330), ("VOMM", 210))),
    ("stale reports counted", LATE, never_stale, (("KABQ", 660), ("K5R8", 660))),
)
"""Wrong readings, and flights to airfields whose weather hangs on what they read: minutes until these leave."""


@pytest.mark.parametrize(("name", "now", "read", "ends"), READINGS, ids=[reading[0] for reading in READINGS])
def test_a_brute_force_that_reads_wrongly_does_not_agree(
    worlds: dict[datetime, World],
    name: str,
    now: datetime,
    read: Callable[[Situation], Situation],
    ends: tuple[tuple[str, int], ...],
) -> None:
    world = worlds[now]
    rightly, wrongly = Given.of(everything(world)), Given.of(read(everything(world)))
    for end, leaves_min in ends:
        asked = short_flight(world, end, now + timedelta(minutes=leaves_min))
        plan = build(*route_question(asked, (fleet()["D41"], minimums()["floor"]), world, now=now))
        assert list(differences(plan, rightly.flown(plan))) == []
        assert list(differences(plan, wrongly.flown(plan))) != [], (name, end)
