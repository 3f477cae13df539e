"""`route` against a brute force in plain Python: each minute of random flights, each airfield of the demo."""

import os
import random
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from refuge.cli.demo import load
from refuge.flight.route import Plan, build
from refuge.flight.situation import Situation
from refuge.options import RouteOptions
from refuge.planning import route_question
from refuge.store.engine import reading
from refuge.store.opening import opened_store
from refuge.wiring import load_parties
from refuge.world import World, read_world
from refuge.zulu import iso, parse_instant
from tests.core.flight.brute import Brute
from tests.surfaces.comparing import differences, equal_time_differences, verdict_differences

ROOT = Path(__file__).resolve().parents[2]
FLIGHTS = 200 if os.environ.get("REFUGE_TESTS") == "all" else 25
TIMES = ("2026-03-10T15:00Z", "2026-03-10T16:00Z", "2026-03-10T22:00Z")


@pytest.fixture(scope="module")
def worlds(tmp_path_factory: pytest.TempPathFactory) -> dict[str, World]:
    store = str(tmp_path_factory.mktemp("route") / "refuge-demo.sqlite")
    load(store)
    with opened_store(store) as engine, reading(engine) as conn:
        return {text: read_world(conn, parse_instant(text)) for text in TIMES}


def flights(number: int, seed: int) -> Iterator[tuple[datetime, str, RouteOptions]]:
    chance = random.Random(seed)  # noqa: S311 - no secret
    fields = ("XORR", "XTES", "XSIL", "XLUM", "XCOR", "XBRI", "XMOR")
    for _ in range(number):
        text = chance.choice(TIMES)
        now = parse_instant(text)

        def place() -> str:
            if chance.random() < 0.5:
                return chance.choice(fields)
            return f"{chance.uniform(43.2, 44.9):.3f},{chance.uniform(-40.2, -35.3):.3f}"

        places = (place(), *([place()] if chance.random() < 0.2 else []), place())
        if places[0] == places[-1] and len(places) == 2:
            places = (places[0], "44.4,-37.5")
        wind = chance.choice((None, None, "280/25", "090/40"))
        yield now, text, RouteOptions(
            at=places[0],
            places=places,
            departs=iso(now + timedelta(minutes=chance.choice((0, 10, 45, 120)))),
            aircraft="XA-GLASS",
            minimums="XS-SCHOOL",
            altitude=chance.choice((4000.0, 6000.0, 8000.0) if wind is None else (2600.0, 6000.0)),
            lowest_safe=chance.choice((1900.0, 2200.0)),
            wind=wind,
            oat_c=chance.choice((None, 10.0, -5.0)),
            handheld=chance.random() < 0.5,
            airborne=chance.random() < 0.2,
        )  # fmt: skip


def without_tempo(situation: Situation) -> Situation:
    """The same, as a reader who leaves out what is temporary would see it."""
    return replace(
        situation,
        forecasts={
            name: tuple(replace(f, groups=tuple(g for g in f.groups if g.kind != "TEMPO")) for f in own)
            for name, own in situation.forecasts.items()
        },
    )


def planned(worlds: dict[str, World], number: int, seed: int) -> Iterator[Plan]:
    for now, text, asked in flights(number, seed):
        parties = load_parties(asked.aircraft, asked.minimums, "refuge-demo.sqlite")
        yield build(*route_question(asked, parties, worlds[text], now=now))


def test_every_minute_and_airfield_is_as_the_brute_force_has_it(worlds: dict[str, World]) -> None:
    seen: Counter[str] = Counter()
    verdicts: Counter[tuple[str, str]] = Counter()
    for plan in planned(worlds, FLIGHTS, seed=7):
        brute = Brute(plan.asked, plan.situation)
        assert list(differences(plan, brute)) == []
        assert list(equal_time_differences(plan, brute)) == []
        for minute in range(0, brute.minutes, 10):
            assert list(verdict_differences(plan, brute, minute, len(plan.situation.airfields), verdicts)) == []
        seen.update(stretch.state for stretch in plan.stretches)
        seen["pairs"] += plan.meeting.minute.size
    # A brute force that is only asked what nobody knows proves nothing.
    assert min(seen["refuge"], seen["gap"], seen["visual"]) >= FLIGHTS // 10, seen
    assert seen["pairs"] >= 10 * FLIGHTS, seen
    for check in ("weather", "area", "break_out"):
        assert all(verdicts[check, value] for value in ("MEETS", "MISSES", "UNKNOWN")), verdicts


def test_a_brute_force_that_leaves_out_tempo_does_not_agree(worlds: dict[str, World]) -> None:
    wrong = 0
    for plan in planned(worlds, 12, seed=7):
        wrong += len(list(differences(plan, Brute(plan.asked, without_tempo(plan.situation)))))
    assert wrong > 0


def test_the_brute_force_imports_nothing_of_what_it_judges() -> None:
    code = "import sys, tests.core.flight.brute; print([m for m in sys.modules if m.startswith('refuge.flight')])"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"
