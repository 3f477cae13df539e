"""`refuge route` and `refuge brief` as a person and a program see them, in the demo's country."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from refuge.cli import app
from refuge.cli.demo import load
from refuge.errors import InputError
from refuge.options import RouteOptions
from refuge.planning import flight_of, situation_of
from refuge.store.engine import reading
from refuge.store.opening import existing_store
from refuge.wiring import load_parties
from refuge.world import read_world
from refuge.zulu import parse_instant

NOW = "2026-03-10T15:00Z"
EVIDENCE = (
    "--now", NOW, "--aircraft", "XA-GLASS", "--minimums", "XS-SCHOOL", "--altitude", "6000",
    "--lowest-safe", "2200",
)  # fmt: skip
KEYS = {
    "question", "data_as_of", "endurance", "minutes", "stretches", "gaps", "gap_min", "refuges", "assumptions",
    "caution",
}  # fmt: skip


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = str(tmp_path_factory.mktemp("route") / "refuge-demo.sqlite")
    load(path)
    return path


def asked(store: str, *arguments: str) -> Any:
    done = CliRunner().invoke(app, ["route", *arguments, *EVIDENCE, "--store", store, "--json"])
    assert done.exit_code in {0, 1}, (done.output, done.exception)
    return json.loads(done.stdout)


def test_every_key_that_is_promised(store: str) -> None:
    found = asked(store, "XTES", "XLUM", "--departs", NOW)
    assert set(found) >= KEYS
    assert len(found["minutes"]) == -(-found["total_min"] // 1)
    assert set(found["minutes"][0]) >= {"t", "lat", "lon", "best", "second", "ways"}
    assert found["minutes"][0]["best"]["id"] == "XTES"
    assert {entry["airfield"]["id"] for entry in found["refuges"]} >= {s["refuge"] for s in found["stretches"]} - {
        None
    }
    assert all(entry["verdict"] == "meets" for entry in found["refuges"])


def test_the_flight_has_a_gap_that_leaving_earlier_closes(store: str) -> None:
    """At Sillavar the forecast's rain is yet far off at three; later the reports no longer carry, slip included."""
    found = asked(store, "XTES", "XLUM", "--departs", "2026-03-10T15:45Z", "--ways")
    assert found["gap_min"] > 15
    assert not found["within_gap_budget"]
    planned = next(way for way in found["ways"] if way["kind"] == "as planned")
    assert planned["gap_min"] == found["gap_min"]
    earlier = next(way for way in found["ways"] if way["what"] == "leave 45 min earlier")
    assert earlier["gap_min"] == 0
    assert [way["gap_min"] for way in found["ways"]] == sorted(way["gap_min"] for way in found["ways"])
    as_found = asked(store, "XTES", "XLUM", "--departs", NOW)
    assert as_found["gap_min"] == earlier["gap_min"]


def test_positions_that_begin_with_a_minus_and_a_place_between(store: str) -> None:
    found = asked(store, "44.0,-39.0", "44.2,-38.0", "44.1,-37.0", "--departs", NOW)
    assert [point["lon"] for point in found["question"]["route"]] == [-39.0, -38.0, -37.0]


def test_geojson_has_the_stretches_as_lines(store: str) -> None:
    done = CliRunner().invoke(app, ["route", "XTES", "XLUM", *EVIDENCE, "--store", store, "--geojson"])
    found = json.loads(done.stdout)
    kinds = [feature["geometry"]["type"] for feature in found["features"]]
    assert found["type"] == "FeatureCollection"
    assert kinds.count("LineString") == len(found["stretches"])
    first = found["features"][0]["geometry"]["coordinates"][0]
    assert first == [-39.893, 44.032]


def test_a_departure_in_the_past_is_refused(store: str) -> None:
    done = CliRunner().invoke(
        app, ["route", "XTES", "XLUM", *EVIDENCE, "--store", store, "--departs", "2026-03-10T14:00Z"]
    )
    assert isinstance(done.exception, InputError)
    assert "in the past" in str(done.exception)


def test_in_the_air_there_is_no_slip_and_the_clock_may_run_already(store: str) -> None:
    way = ("XLUM", "--from-position", "44.0,-38.0")
    fresh, failed = asked(store, *way), asked(store, *way, "--since-failure", "3")
    late = asked(store, *way, "--since-failure", "10")
    assert fresh["question"]["slip_min"] == 0
    assert fresh["question"]["airborne"]
    # Of 5 min of recognition 2 are still ahead: as much budget, and 3 min less flown towards the refuge before it
    # counts. After 10 min recognition is over: 5 min less budget, and 2 min more to fly. Downwind, with 10 kt of
    # wind error on some 150 kt, a minute flown counts as up to 1.1.
    spare = [found["minutes"][0]["best"]["spare_min"] for found in (fresh, failed, late)]
    assert 3.0 <= spare[0] - spare[1] <= 3.3
    assert 7.0 <= spare[1] - spare[2] <= 7.2
    planned = CliRunner().invoke(
        app, ["route", "XTES", "XLUM", *EVIDENCE, "--store", store, "--since-failure", "3"]
    )
    assert isinstance(planned.exception, InputError), "nobody departs after the failure"
    assert planned.exception.where == "--since-failure"


def test_the_text_says_what_the_json_says(store: str) -> None:
    done = CliRunner().invoke(
        app, ["route", "XTES", "XLUM", *EVIDENCE, "--store", store, "--departs", "2026-03-10T15:45Z", "--ways"]
    )
    found = asked(store, "XTES", "XLUM", "--departs", "2026-03-10T15:45Z")
    assert f"{found['gap_min']} of {len(found['minutes'])} minutes without a refuge" in done.stdout
    assert "look again" in done.stdout
    assert "go" not in done.stdout.lower().replace("never says 'go'", "").split()


@pytest.mark.parametrize("words", [("--over", "XCOR"), ("--received", NOW), ("--json", "--geojson")])
def test_an_option_that_would_be_passed_over_is_refused(store: str, words: tuple[str, ...]) -> None:
    done = CliRunner().invoke(app, ["route", "XTES", "XLUM", *EVIDENCE, "--store", store, *words])
    assert isinstance(done.exception, InputError)
    assert words[0] in str(done.exception)


def test_a_mistyped_option_is_no_place(store: str) -> None:
    """A place may begin with a minus, so click hands unknown options over as places."""
    done = CliRunner().invoke(app, ["route", "XTES", "XLUM", "--depart", NOW, *EVIDENCE, "--store", store])
    assert done.exit_code == 2
    assert "No such option" in done.output
    assert "--departs" in done.output


def test_shedding_later_leaves_less(store: str) -> None:
    """More load for longer never lengthens endurance (method.md, laws); before it is noticed nothing is shed."""
    soon, late = (
        asked(store, "XSIL", "XLUM", "--departs", NOW, *more)["endurance"] for more in ((), ("--shed-min", "20"))
    )
    assert late["information_min"] < soon["information_min"]
    early = CliRunner().invoke(
        app, ["route", "XSIL", "XLUM", "--departs", NOW, *EVIDENCE, "--store", store, "--shed-min", "3"]
    )
    assert isinstance(early.exception, InputError)
    assert early.exception.where == "--shed-min"


def test_a_second_on_the_same_evidence_is_said_to_be(store: str) -> None:
    """XSIL and XLUM hang on the forecast of XSIL (`refuge demo` says so): one way, not two (method.md 6)."""
    found = asked(store, "XSIL", "XLUM", "--departs", "2026-03-10T15:15Z")
    for minute in found["minutes"]:
        assert (minute["best"]["id"], minute["second"]["id"]) == ("XLUM", "XSIL")
        assert (minute["second_independent"], minute["independent"], minute["ways"]) == (False, None, 1)
    assert [stretch["second_independent"] for stretch in found["stretches"]] == [False]
    words = ("route", "XSIL", "XLUM", *EVIDENCE, "--store", store, "--departs", "2026-03-10T15:15Z")
    assert "XSIL (same evidence)" in CliRunner().invoke(app, words).stdout


def test_the_text_says_what_the_endurance_counts_from_and_how_old_the_data_are(store: str) -> None:
    done = CliRunner().invoke(app, ["route", "XSIL", "XLUM", *EVIDENCE, "--store", store, "--departs", NOW])
    _, lasts, newest, *_ = done.stdout.splitlines()
    # The demo's bulletins of 14:55, asked at 15:00; XA-GLASS has a warning light (5 min), the usual margin is 15.
    assert lasts.endswith("min from the failure (attitude); less 5 to notice and 15 in hand")
    assert newest == "Newest bulletin received 101455Z, 5 min before"


def test_after_a_failure_that_has_happened_the_text_speaks_of_turning(store: str) -> None:
    words = ["route", "XLUM", "--from-position", "44.0,-38.0", *EVIDENCE, "--store", store, "--since-failure"]
    said = " ".join(CliRunner().invoke(app, [*words, "10"]).stdout.split())
    for wanted in (
        "if it turns then",
        "Last minute to turn at which it is still a refuge",
        "less 10 until the first",
    ):
        assert wanted in said
    for wrong in ("if it fails then", "of a failure at which", "to notice"):
        assert wrong not in said
    late = " ".join(CliRunner().invoke(app, [*words, "100"]).stdout.split())  # the instruments last 78 min
    assert "the instruments end before the turn" in late
    assert "is noticed" not in late


def test_from_the_air_a_way_over_where_it_began_is_noted(store: str) -> None:
    """XTES lies 80 NM behind: the way goes there first, as it was asked, and says so."""
    words = [*EVIDENCE, "--store", store, "--from-position", "44.0,-38.0"]
    back, on = (CliRunner().invoke(app, ["route", *way, *words]) for way in (("XTES", "XLUM"), ("XLUM",)))
    assert "note: the way goes from the position over XTES to XLUM, in that order: leave out" in back.stderr
    assert "over XTES to XLUM, in that order" in " ".join(back.stdout.split())
    assert "in that order" not in on.output


def test_no_refuge_on_old_data_is_another_exit_than_none_in_the_weather(store: str) -> None:
    """As `refuge find`: 1 answered and none, 3 nothing young enough to answer from (interface.md, Everywhere)."""
    words = [word for word in EVIDENCE if word not in {"--now", NOW}]
    old = CliRunner().invoke(app, ["route", "XSIL", "XLUM", *words, "--store", store, "--now", "2026-03-10T21:00Z"])
    assert old.exit_code == 3
    assert "WARNING: the data are old" in old.stdout
    none = ["route", "47.5,-38.0", "47.6,-38.0", *EVIDENCE, "--store", store, "--departs", "2026-03-10T15:00Z"]
    assert CliRunner().invoke(app, none).exit_code == 1


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_a_picture_is_drawn_and_is_the_same_each_time(store: str, tmp_path: Path, kind: str) -> None:
    drawn = []
    for name in ("one", "two"):
        path = tmp_path / f"{name}.{kind}"
        asked(store, "XTES", "XLUM", "--departs", "2026-03-10T15:45Z", "--picture", str(path))
        drawn.append(path.read_bytes())
    assert drawn[0] == drawn[1]
    assert drawn[0].startswith(b"<?xml" if kind == "svg" else b"\x89PNG")
    if kind == "svg":
        text = drawn[0].decode()
        assert "no refuge" in text
        assert "XTES" in text


def test_a_picture_of_another_kind_is_refused(store: str, tmp_path: Path) -> None:
    done = CliRunner().invoke(
        app, ["route", "XTES", "XLUM", *EVIDENCE, "--store", store, "--picture", str(tmp_path / "plan.gif")]
    )
    assert isinstance(done.exception, InputError)
    assert "neither .svg nor .png" in str(done.exception)


ROSTER = """flight,from,via,to,departs,altitude_ft,lowest_safe_ft,aircraft,minimums
VL1,XTES,44.1 N 38.0 W; XSIL,XLUM,2026-03-10T15:15Z,6000,2200,XA-GLASS XA-PAIR,XS-SCHOOL
VL2,XTES,,XLUM,2026-03-10T16:00Z,6000,2200,XA-GLASS,XS-SCHOOL
VL3,XTES,,NOWHERE,2026-03-10T16:00Z,6000,2200,XA-GLASS,XS-SCHOOL
VL4,XSIL,,XLUM,2026-03-10T15:15Z,high,2200,XA-GLASS,XS-SCHOOL
VL5,XSIL,,,2026-03-10T15:15Z
"""


def test_a_brief_puts_exceptions_first_and_loses_nothing_to_bad_rows(store: str, tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    path.write_text(ROSTER, encoding="utf-8")
    done = CliRunner().invoke(app, ["brief", str(path), "--now", NOW, "--store", store, "--json"])
    assert done.exit_code == 2
    found = json.loads(done.stdout)
    assert [(row["line"], row["flight"]) for row in found["bad_rows"]] == [(4, "VL3"), (5, "VL4"), (6, "VL5")]
    assert all(row["reason"] for row in found["bad_rows"])
    flown = [(line["flight"], line["aircraft"]) for line in found["lines"]]
    assert sorted(flown) == [("VL1", "XA-GLASS"), ("VL1", "XA-PAIR"), ("VL2", "XA-GLASS")]
    within = [line["within_gap_budget"] for line in found["lines"]]
    assert within == sorted(within)
    gap = next(line for line in found["lines"] if line["flight"] == "VL2")
    alone = asked(store, "XTES", "XLUM", "--departs", "2026-03-10T16:00Z")
    assert gap["gap_min"] == alone["gap_min"]
    assert gap["worst_gap"]["minutes"] > 0
    assert gap["breaks"]


def test_a_roster_without_its_columns_is_refused(store: str, tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    path.write_text("flight,from\nVL1,XTES\n", encoding="utf-8")
    done = CliRunner().invoke(app, ["brief", str(path), "--now", NOW, "--store", store])
    assert isinstance(done.exception, InputError)
    assert "no column to" in str(done.exception)


def test_a_cold_flight_is_shown_as_if_dry_and_marked(store: str) -> None:
    """At +4 C airspeed ends with pitot heat (method.md 2); +6 C is warm enough, in the same weather."""
    found = asked(store, "XTES", "XLUM", "--departs", NOW, "--oat", "4")
    warm = asked(store, "XTES", "XLUM", "--departs", NOW, "--oat", "6")
    assert found["gap_min"] > found["gap_budget_min"]
    assert found["refuges"] == []
    assert found["as_if_dry"]["gap_min"] == warm["gap_min"] == 0
    assert "not to plan on" in found["as_if_dry"]["note"]
    assert warm["as_if_dry"] is None
    way = ["route", "XTES", "XLUM", "--departs", NOW, "--oat", "4", *EVIDENCE, "--store", store]
    done = CliRunner().invoke(app, way)
    assert done.exit_code == 1
    assert "Pitot heat alone closes the plan" in done.stdout
    assert [line for line in done.stdout.splitlines() if line.startswith("+ ")] == []
    assert [line for line in done.stdout.splitlines() if line.startswith("if dry: + ")]


def test_the_longest_endurance_of_a_flight_says_what_bears_on_it(store: str) -> None:
    """A flight out of the night: what its later minutes reach must be looked at too."""
    options = RouteOptions(
        at="XTES", places=("XTES", "XORR"), departs=NOW, aircraft="XA-GLASS", minimums="XS-SCHOOL",
        altitude=6000.0, lowest_safe=2200.0, wind="270/5",
    )  # fmt: skip
    now = parse_instant(NOW)
    with existing_store(store) as engine, reading(engine) as conn:
        world = read_world(conn, now)
    flown, track = flight_of(options, load_parties("XA-GLASS", "XS-SCHOOL", store), world, now=now)
    day = flown.blocks[0]
    night = replace(day, endurance=replace(day.endurance, information_min=21.0))
    fields = [
        {field.id for field in situation_of(world, [replace(flown, blocks=blocks)], [track]).airfields}
        for blocks in ((night,), (day,), (night, replace(day, from_min=10)))
    ]
    assert fields[0] < fields[1] == fields[2]


@pytest.mark.parametrize(
    ("way", "says"),
    [
        (("XTES", "44.1,-37.6", "--departs", NOW), "a refuge in every one of {} minutes"),
        # Cold: airspeed ends with pitot heat, but no cloud lies over this short way.
        (("XSIL", "XLUM", "--departs", "2026-03-10T15:15Z", "--oat", "4"), "visual conditions in every one of {}"),
    ],
)
def test_a_flight_without_a_gap_says_what_it_has(store: str, way: tuple[str, ...], says: str) -> None:
    found = asked(store, *way)
    refuge = sum(minute["best"] is not None for minute in found["minutes"])
    assert found["gap_min"] == 0
    assert says.format(len(found["minutes"])) in found["summary"]
    assert ("a refuge in every" in found["summary"]) == (refuge == len(found["minutes"]))
    assert ("no refuge in any" in found["summary"]) == (refuge == 0)


def test_a_temperature_by_hand_is_not_that_of_another_level(store: str) -> None:
    """+6 C at 6,000 ft may be +5 or less above (pitot heat, method.md 2): others go by what is known there."""
    way = ("XTES", "XLUM", "--departs", NOW, "--ways")
    by_hand, known = asked(store, *way, "--oat", "6"), asked(store, *way)

    def levels(found: Any) -> dict[str, int]:
        return {each["what"]: each["gap_min"] for each in found["ways"] if each["kind"] == "altitude"}

    assert levels(by_hand) == levels(known)
    assert all("--oat" in each["cost"] for each in by_hand["ways"] if each["kind"] == "altitude")
    assert not any("--oat" in each["cost"] for each in known["ways"])
