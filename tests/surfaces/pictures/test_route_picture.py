"""The picture of a flight: drawn for whatever may be asked, it says what it must, and never more than is known."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings

from refuge.cli import app
from refuge.cli.demo import load
from refuge.coast import Coast
from refuge.earth import Position
from refuge.errors import InputError
from refuge.flight.question import Question
from refuge.flight.route import build
from refuge.flight.shortlist import build as shortlist_of
from refuge.flight.situation import Situation
from refuge.flight.track import Block, RouteQuestion, Waypoint, question_at
from refuge.gazetteer.coasts import world_coast
from refuge.render.route_map import LANE_PT, RouteMap, route_map
from refuge.render.route_picture import route_picture
from tests.core.flight import situations as s
from tests.core.flight.flights import flight, good_fields
from tests.core.flight.worlds import worlds

NOW = "2026-03-10T15:00Z"
NOTHING = Coast(land=(), coasts=(), borders=(), said="no map")
Case = tuple[RouteQuestion, Situation]


def place(lat_deg: float, lon_deg: float) -> Position:
    return Position(lat_deg=lat_deg, lon_deg=lon_deg)


def over(*places: Position, lasts_min: float | None = 60.0, fields: tuple[Position, ...] | None = None) -> Case:
    asked = flight(places[0], places[-1], information_min=lasts_min)
    return asked, good_fields(places if fields is None else fields)


def unknown() -> Case:
    asked, known = over(place(39.0, -98.0), place(39.5, -95.0))
    return asked, replace(known, observations={}, forecasts={})


def night() -> Case:
    here = place(60.2, 24.9)
    return flight(here, place(59.4, 24.8), departs_in_min=120.0), good_fields([here])


CASES: dict[str, tuple[Callable[[], Case], tuple[str, ...]]] = {
    "no length": (lambda: over(place(47.3, 8.5), place(47.3, 8.5)), ("F00", "meets: a refuge")),
    "180 degrees": (lambda: over(place(-17.0, 177.4), place(-16.7, -178.8)), ("180 W", "178 E", "17 S")),
    "80 north": (lambda: over(place(78.25, 15.5), place(81.6, -16.7)), ("80 N", "to F00, ")),
    "over the pole": (lambda: over(place(87.0, -60.0), place(86.5, 100.0), lasts_min=120.0), ("to F01, ",)),
    "no airfields": (lambda: over(place(39.0, -98.0), place(39.5, -95.0), fields=()), ("no refuge, 78 min",)),
    "all unknown": (unknown, ("no refuge, 78 min", "not known", "F00", "F01")),
    "no endurance": (
        lambda: over(place(39.0, -98.0), place(39.5, -95.0), lasts_min=None),
        ("how far one gets then is not known",),
    ),
    "1,000 NM": (lambda: over(place(37.6, -122.4), place(41.0, -101.0)), ("20:00Z", "200 NM", "no refuge")),
    "10 min": (lambda: over(place(51.3, -0.5), place(51.45, -0.1)), ("18:01Z", "no ceiling")),
    "night": (night, ("night", "20:15Z")),
}


@pytest.mark.parametrize("name", CASES)
def test_whatever_is_asked_is_drawn(name: str) -> None:
    make, texts = CASES[name]
    text = route_picture(build(*make()), kind="svg", coast=world_coast()).decode()
    for wanted in (*texts, "Planning aid. Not certified for navigation", "Natural Earth"):
        assert wanted in text, wanted


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(worlds())
def test_it_never_raises(world: tuple[Question, Situation]) -> None:
    question, known = world
    question = replace(question, wind=s.STILL)
    asked = RouteQuestion(
        question=question,
        waypoints=(
            Waypoint(place="here", at=question.at), Waypoint(place="there", at=s.at(90.0, 30.0, question.at))
        ),
        blocks=(Block(from_min=0, endurance=question.endurance),),
    )  # fmt: skip
    assert b"</svg>" in route_picture(build(asked, known), kind="svg", coast=NOTHING)


def test_what_is_not_known_never_looks_proved() -> None:
    plan = build(*unknown())
    text = route_picture(plan, kind="svg", coast=NOTHING).decode()
    assert ">not known<" in text
    assert ">no ceiling<" not in text
    assert ">visual<" not in text


def test_after_a_failure_each_minute_asks_for_the_turn() -> None:
    here, there = place(0.0, -100.0), place(0.0, -99.0)
    asked = replace(flight(here, there, information_min=60.0, since_failure_min=5.0), airborne=True)
    text = route_picture(build(asked, good_fields([here, there])), kind="svg", coast=NOTHING, minute=3).decode()
    assert "verdicts and reach on turning 18:03Z, 3 min from here" in text
    assert "if it fails" not in text


def test_every_minute_can_be_chosen_and_spare_is_not_cut_off() -> None:
    plan = build(*over(place(0.0, -100.0), place(0.0, -99.0), lasts_min=130.0))
    assert float(np.max(plan.meeting.spare_min)) > 60.0
    for minute in (0, int(plan.track.minutes[-1])):
        text = route_picture(plan, kind="svg", coast=NOTHING, minute=minute).decode()
        assert f"if it fails {plan.instant(minute):%H:%MZ}, {minute} min after departure" in text
        assert ">90<" in text, "the axis goes on past the most to spare"


def mapped(case: Case, chosen: int) -> RouteMap:
    plan = build(*case)
    found = shortlist_of(question_at(plan.asked, plan.track, chosen), plan.situation)
    return route_map(plan, found, chosen=chosen, width_pt=600.0, least_pt=200.0, most_pt=300.0)


def out_and_back() -> Case:
    here, there = place(0.0, -100.0), place(0.0, -99.0)
    asked = flight(here, there, information_min=130.0)
    points = tuple(Waypoint(place=f"{k}", at=at) for k, at in enumerate((here, there, here)))
    return replace(asked, waypoints=points), good_fields([here, there])


def test_a_way_that_comes_back_over_itself_is_drawn_in_two_lanes() -> None:
    """Eastward right of the course is south, westward north; and the turn lies in the lane of its minute."""
    shown = mapped(out_and_back(), chosen=3)
    half = len(shown.way) // 2
    gap_pt = (shown.way[half + 5 : -1, 1].mean() - shown.way[1 : half - 5, 1].mean()) * shown.frame.scale_pt
    assert gap_pt == pytest.approx(2 * LANE_PT, abs=0.5)
    assert shown.turn[1] == pytest.approx(shown.way[3, 1], abs=0.5 / shown.frame.scale_pt)
    back = mapped(out_and_back(), chosen=half + 5)
    assert back.turn[1] == pytest.approx(back.way[half + 8, 1], abs=0.5 / back.frame.scale_pt)
    # One way is one lane, on its place.
    straight = mapped(over(place(0.0, -100.0), place(0.0, -99.0)), chosen=3)
    assert not straight.lanes
    assert np.ptp(straight.way[:, 1]) * straight.frame.scale_pt < 0.5


def test_a_refuge_of_another_minute_is_pale_where_it_is_out_of_reach_and_stays_heavy() -> None:
    """60 min less 5 and 15 are 40 to fly and to descend: at the end of 3 degrees the start is far out of reach."""
    case = over(place(0.0, -100.0), place(0.0, -97.0))
    plan = build(*case)
    shown = mapped(case, chosen=int(plan.track.minutes[-1])).shown
    first = shown.index.tolist().index(0)
    assert (bool(shown.near[first]), bool(shown.best[first]), bool(shown.refuge[first])) == (False, True, True)
    assert bool(mapped(case, chosen=0).shown.near[first])


def test_nothing_is_in_reach_on_an_endurance_that_cannot_be_depended_on() -> None:
    asked, known = over(place(0.0, -100.0), place(0.0, -99.0))
    doubtful = tuple(replace(each, endurance=replace(each.endurance, dependable=False)) for each in asked.blocks)
    assert not mapped((replace(asked, blocks=doubtful), known), chosen=3).shown.near.any()


EVIDENCE = (
    "--now", NOW, "--aircraft", "XA-GLASS", "--minimums", "XS-SCHOOL", "--altitude", "6000",
    "--lowest-safe", "2200",
)  # fmt: skip


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = str(tmp_path_factory.mktemp("route") / "refuge-demo.sqlite")
    load(path)
    return path


def drawn(store: str, path: Path, *more: str) -> str:
    words = ["route", "XTES", "XLUM", *EVIDENCE, "--store", store, "--departs", "2026-03-10T15:45Z"]
    done = CliRunner().invoke(app, [*words, "--picture", str(path), *more])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code == 0, done.output
    return path.read_text(encoding="utf-8")


def test_the_picture_in_readme(store: str, tmp_path: Path) -> None:
    """What README shows as fixtures/pictures/route.png, made with this command as .png."""
    text = drawn(store, tmp_path / "route.svg")
    for field in ("XTES", "XLUM", "XSIL", "XV07", "XV03", "XORR", "XCOR", "XBRI", "XASH", "XMOR"):
        assert f">{field}<" in text, field
    for wanted in (
        "to XTES, 20 min",
        "no refuge, 49 min",
        "Velmark: invented",
        "newest bulletin received 10 Mar 2026",
    ):
        assert wanted in text
    assert "lowest safe: 2,200" in text
    assert "flown: 6,000" in text


@pytest.mark.parametrize("said", ["10", "15:55Z", "2026-03-10T15:55Z"])
def test_a_minute_is_named_in_three_ways(store: str, tmp_path: Path, said: str) -> None:
    text = drawn(store, tmp_path / "route.svg", "--reach-at", said)
    assert "if it fails 15:55Z, 10 min after departure" in text


@pytest.mark.parametrize(
    ("said", "complaint"),
    [
        ("71", "no minute of the flight"), ("15:44Z", "no minute of the flight"), ("25:00Z", "not a time"),
        ("-1", "not a time"), ("soon", "not a time"), ("2026-03-11T16:00Z", "no minute of the flight"),
    ],
)  # fmt: skip
def test_a_minute_that_is_none_is_refused(store: str, tmp_path: Path, said: str, complaint: str) -> None:
    with pytest.raises(InputError, match=complaint):
        drawn(store, tmp_path / "route.svg", "--reach-at", said)


def test_a_minute_without_a_picture_is_refused(store: str) -> None:
    done = CliRunner().invoke(app, ["route", "XTES", "XLUM", *EVIDENCE, "--store", store, "--reach-at", "5"])
    assert isinstance(done.exception, InputError)
    assert done.exception.where == "--reach-at"
