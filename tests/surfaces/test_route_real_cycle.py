"""`route` against the brute force on the real airfields of the world, with one real cycle of reports."""

import functools
import random
from pathlib import Path

import pytest
from click.testing import CliRunner

from refuge.cli import app
from refuge.files.aircraft import load_aircraft
from refuge.flight.minimums import FLOOR
from refuge.flight.route import Plan, build
from refuge.options import RouteOptions
from refuge.planning import route_question
from refuge.store.engine import reading
from refuge.store.opening import opened_store
from refuge.world import World, read_world
from refuge.zulu import parse_instant
from tests.core.flight import oracle
from tests.core.flight.brute import Brute

NOW = "2022-10-22T03:00Z"
ROOT = Path(__file__).resolve().parents[2]
WAYS = (("YSSY", "YMML"), ("NZAA", "NZWN"), ("RJTT", "RJBB"), ("RKSI", "RKPC"), ("PHNL", "PHTO"))
"""Where it is day at that hour."""
MINUTES, FIELDS = 12, 12


def run(*words: str) -> None:
    result = CliRunner().invoke(app, list(words))
    assert result.exit_code == 0, (result.output, result.exception)


@pytest.fixture
def world(shared_data: Path, tmp_path: Path) -> World:
    store = str(tmp_path / "real.sqlite")
    stations = str(shared_data / "stations" / "stations.cache.json")
    run(
        "import",
        "airfields",
        str(shared_data / "airfields"),
        "--stations",
        stations,
        "--now",
        NOW,
        "--store",
        store,
    )
    run("collect", str(shared_data / "cycle" / "metars.cache.2022-10.csv"), "--now", NOW, "--store", store)
    with opened_store(store) as engine, reading(engine) as conn:
        return read_world(conn, parse_instant(NOW))


def planned(world: World, places: tuple[str, str]) -> Plan:
    asked = RouteOptions(
        at=places[0], places=places, departs="2022-10-22T03:05Z", aircraft="D43", minimums="floor", altitude=6000.0,
        lowest_safe=3200.0, torch=True, handheld=True, fuel_min=400.0, oat_c=8.0, wind="280/15",
    )  # fmt: skip
    parties = load_aircraft(ROOT / "fixtures" / "aircraft" / "D43.toml"), FLOOR
    return build(*route_question(asked, parties, world, now=parse_instant(NOW)))


@pytest.mark.shared_data
def test_on_real_airfields_every_pair_looked_at_agrees(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """Some minutes of each flight: airfields picked blindly, and every refuge that route found."""
    monkeypatch.setattr(oracle, "apart_nm", functools.cache(oracle.apart_nm))
    chance, meeting = random.Random(5), 0  # noqa: S311 - no secret
    for places in WAYS:
        plan = planned(world, places)
        brute = Brute(plan.asked, plan.situation)
        assert brute.minutes == plan.track.minutes.size
        for minute in chance.sample(range(brute.minutes), MINUTES):
            found = {int(plan.meeting.field[pair]) for pair in plan.ranked[minute]}
            picked = found | set(chance.sample(range(len(plan.situation.airfields)), FIELDS))
            expected = {i for i in picked if brute.meets(minute, plan.field(i)) is not None}
            assert expected == found & picked, (places, minute)
            assert brute.visual(minute) == bool(plan.visual[minute])
            meeting += len(found)
    assert meeting >= 10, "a cycle in which nothing meets proves nothing"
