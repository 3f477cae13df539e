"""`refuge find` and `refuge demo` as a person runs them: the invented country, its story, and what is refused.

Everything here is invented for the demo; what is asserted follows from method.md, not from our output.
"""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from refuge.cli import app
from refuge.errors import InputError, MissingDataError

ASK = [
    "find", "--at=44.0,-38.0", "--aircraft", "XA-GLASS", "--minimums", "XS-SCHOOL", "--altitude", "6000",
    "--lowest-safe", "2200", "--now", "2026-03-10T15:00Z",
]  # fmt: skip


ENTRY_KEYS = """
    airfield verdict reasons checks track_deg_true heading_deg_compass gs_kt distance_nm minutes break_out_min
    spare_min error_radius_nm arrival_earliest arrival_latest window prevailing adverse evidence certainty
"""


def run(*words: str) -> Result:
    return CliRunner().invoke(app, list(words))


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return the demo's store, kept."""
    path = tmp_path_factory.mktemp("demo") / "refuge-demo.sqlite"
    result = run("demo", "--keep", str(path))
    assert result.exit_code == 0, result.output
    return str(path)


def body(store: str, *more: str, code: int = 0) -> dict[str, Any]:
    result = run(*ASK, "--store", store, *more, "--json")
    assert result.exit_code == code, result.output
    read: dict[str, Any] = json.loads(result.stdout)
    return read


def verdicts(answer: dict[str, Any]) -> dict[str, str]:
    return {entry["airfield"]["id"]: entry["verdict"] for entry in answer["entries"]}


def entry(answer: dict[str, Any], airfield: str) -> dict[str, Any]:
    found: dict[str, Any] = next(e for e in answer["entries"] if e["airfield"]["id"] == airfield)
    return found


def test_the_story(store: str) -> None:
    """Good now and bad at arrival, headwind, missing sensor, TEMPO, silence: each for its own reason."""
    answer = body(store)
    assert verdicts(answer) == {
        "XSIL": "meets", "XLUM": "meets", "XV07": "meets", "XBRI": "unknown", "XASH": "unknown", "XORR": "misses",
        "XTES": "misses", "XCOR": "misses", "XMOR": "misses", "XV03": "misses",
    }  # fmt: skip
    good_now = entry(answer, "XORR")
    assert good_now["prevailing"]["category"] == "LIFR"
    assert good_now["checks"]["weather"]["verdict"] == "misses"
    headwind = entry(answer, "XTES")
    assert headwind["checks"]["reach"]["verdict"] == "misses"
    assert headwind["checks"]["weather"]["verdict"] == "meets"
    assert headwind["distance_nm"] < entry(answer, "XSIL")["distance_nm"]
    assert headwind["break_out_min"] > entry(answer, "XSIL")["break_out_min"]
    sensor = entry(answer, "XBRI")
    assert sensor["adverse"]["ceiling"]["state"] == "unknown"
    tempo = entry(answer, "XCOR")
    assert tempo["prevailing"]["ceiling"]["state"] == "none"
    assert (tempo["adverse"]["ceiling"]["state"], tempo["adverse"]["ceiling"]["ft_agl"]) == ("at", 800)
    assert "TEMPO" in tempo["checks"]["weather"]["why"]
    silent = entry(answer, "XASH")
    assert silent["checks"]["weather"]["verdict"] == "unknown"
    assert {e["borrowed"] for e in entry(answer, "XV07")["evidence"]} == {True}


def test_the_question_holds_all_that_was_asked(store: str) -> None:
    """method.md 7: an answer can be rebuilt from its question."""
    aboard = body(
        store, "--soak", "3", "--fuel-min", "200", "--shed-min", "9", "--torch", "--handheld", "--oat", "11"
    )
    plain = body(store)["question"]
    names = ("soak_c", "fuel_min", "shed_min", "torch", "handheld", "oat_c")
    assert [aboard["question"][name] for name in names] == [3, 200, 9, True, True, 11]
    assert [plain[name] for name in names] == [None, None, None, False, False, None]


def test_best_first_and_unknown_never_before_meets(store: str) -> None:
    """Entries are ordered meets, unknown, misses."""
    order = [e["verdict"] for e in body(store)["entries"]]
    assert order == sorted(order, key=["meets", "unknown", "misses"].index)


def test_every_key_of_the_contract(store: str) -> None:
    """The keys of interface.md, `refuge find`; additions are allowed."""
    answer = body(store)
    assert set(answer) >= {
        "question", "data_as_of", "endurance", "budget_min", "summary", "entries", "assumptions", "caution",
    }  # fmt: skip
    for each in answer["entries"]:
        assert set(each) >= set(ENTRY_KEYS.split())
        assert set(each["checks"]) == {
            "reach", "weather", "area", "break_out", "icing", "light", "runway", "airspace", "notices",
        }  # fmt: skip
        assert set(each["airfield"]) >= {"id", "name", "lat", "lon", "elevation_ft"}
        assert set(each["certainty"]) == {"word", "score"}
    assert answer["caution"].startswith("Planning aid. Not certified for navigation")
    assert answer["data_as_of"] == "2026-03-10T14:55:00Z"


def test_no_bulletin_received_later_is_used(store: str) -> None:
    """As of 14:50 the reports of 14:55 do not exist: what rests on them no longer meets."""
    asked = [word if word != "2026-03-10T15:00Z" else "2026-03-10T14:50Z" for word in ASK]
    result = run(*asked, "--store", store, "--json")
    assert result.exit_code == 1, result.output
    assert "meets" not in verdicts(json.loads(result.stdout)).values()


def test_without_lowest_safe_nothing_meets_and_the_summary_says_why(store: str) -> None:
    """No terrain data and no --lowest-safe: break-out unknown (method.md 5)."""
    asked = [word for word in ASK if word not in {"--lowest-safe", "2200"}]
    result = run(*asked, "--store", store, "--json")
    assert result.exit_code == 1
    answer = json.loads(result.stdout)
    assert {e["checks"]["break_out"]["verdict"] for e in answer["entries"]} == {"unknown"}
    assert "--lowest-safe" in answer["summary"]


def test_a_wind_that_wins_is_never(store: str) -> None:
    """A headwind stronger than the aircraft: never, in null and in words."""
    answer = body(store, "--wind", "270/130")
    west = entry(answer, "XTES")
    assert west["minutes"] is None
    assert west["break_out_min"] is None
    assert west["arrival_latest"] is None
    assert west["verdict"] == "misses"


def test_geojson_has_the_same_entries(store: str) -> None:
    """RFC 7946: a FeatureCollection of points, longitude first."""
    result = run(*ASK, "--store", store, "--geojson")
    collection = json.loads(result.stdout)
    answer = body(store)
    assert collection["type"] == "FeatureCollection"
    assert [f["properties"] for f in collection["features"]] == answer["entries"]
    first = collection["features"][0]
    assert first["geometry"] == {
        "type": "Point",
        "coordinates": [answer["entries"][0]["airfield"]["lon"], answer["entries"][0]["airfield"]["lat"]],
    }


def test_the_table_says_the_verdict_in_words_first(store: str) -> None:
    """Word first, then a shape (names.md); the caution stands below."""
    result = run(*ASK, "--store", store)
    lines = result.stdout.splitlines()
    row = next(line for line in lines if "Sillavar" in line and "meets" in line)
    assert row.index("meets") < row.index("XSIL")
    assert "Planning aid. Not certified for navigation" in result.stdout
    assert "LIFR" in next(line for line in lines if "Orrimoor" in line and line.startswith("[x]"))


def test_explain_one_airfield(store: str) -> None:
    """Every check, its verdict, and the raw text of the evidence."""
    result = run(*ASK, "--store", store, "--explain", "xcor")
    assert result.exit_code == 0
    for word in ("MISSES", "reach", "break-out", "TEMPO 1014/1018", "TAF XCOR 101100Z", "METAR XCOR 101450Z"):
        assert word in result.stdout


@pytest.mark.parametrize(
    ("words", "where"),
    [
        (["--at", "XXXX"], "--at"),
        (["--at", "91N,0E"], "position"),
        (["--now", "2026-03-10T15:00"], "zone"),
        (["--wind", "twenty"], "--wind"),
        (["--margin", "-5"], "--margin"),
        (["--explain", "KZZZ"], "--explain"),
        (["--aircraft", "nobody"], "aircraft"),
        (["--failure", "weather"], "--failure"),
        (["--lowest-safe", "inf"], "--lowest-safe"),
    ],
)
def test_what_cannot_be_asked_is_refused(store: str, words: list[str], where: str) -> None:
    """The error names the option or the thing at fault; nothing is answered."""
    result = run(*ASK, "--store", store, *words)
    assert isinstance(result.exception, InputError), result.output
    assert where in str(result.exception)
    assert not result.stdout


def test_the_demo_is_kept_under_any_name_with_its_aircraft_and_minimums(tmp_path: Path) -> None:
    mine = str(tmp_path / "mine.sqlite")
    assert run("demo", "--keep", mine).exit_code == 0
    assert run(*ASK, "--store", mine).exit_code == 0
    endurance = run("endurance", "XA-GLASS", "--compare", "XA-GYRO", "--store", mine)
    assert endurance.exit_code == 0, endurance.output
    assert "XA-GYRO" in endurance.stdout


def test_shedding_later_leaves_less(store: str) -> None:
    soon, late = body(store), body(store, "--shed-min", "15")
    assert late["budget_min"] < soon["budget_min"]
    assert "--shed-min" in str(run(*ASK, "--store", store, "--shed-min", "4").exception)


def test_after_a_failure_long_ago_the_aircraft_turns_now_with_what_is_left(store: str) -> None:
    """interface.md: `--at` is where it turns, never in the past; method.md 3: the clock runs from the failure."""
    now, ago = body(store), body(store, "--fails", "2026-03-10T14:35Z", code=1)
    # 25 min gone by instead of 5 to notice; winds and temperatures of 25 min before besides.
    assert ago["budget_min"] == pytest.approx(now["budget_min"] - 20.0, abs=0.5)
    assert entry(ago, "XSIL")["spare_min"] == pytest.approx(entry(now, "XSIL")["spare_min"] - 20.0, abs=1.0)
    assert all(e["arrival_earliest"] >= "2026-03-10T15:00:00Z" for e in ago["entries"] if e["arrival_earliest"])
    told = run(*ASK, "--store", store, "--fails", "2026-03-10T14:35Z").stdout
    assert "less 25 gone by and 15 in hand" in told
    assert "the supply failed 25 min ago" in told
    assert "to notice" in run(*ASK, "--store", store, "--fails", "2026-03-10T14:56Z").stdout


@pytest.mark.parametrize(
    "words",
    [
        ("--received", "2026-03-10T15:00Z"), ("--json", "--geojson"), ("--json", "--explain", "XCOR"),
        # No wind is as strong at such levels (common practice, no source): 25 written as 250 and more.
        ("--wind", "280/251"),
    ],
)  # fmt: skip
def test_an_option_that_would_be_passed_over_is_refused(store: str, words: tuple[str, ...]) -> None:
    done = run(*ASK, "--store", store, *words)
    assert isinstance(done.exception, InputError)
    assert words[0] in str(done.exception)
    assert done.stdout == ""


@pytest.mark.parametrize("name", ["find", "route", "heading", "expect", "endurance", "airfield", "brief"])
def test_without_a_word_a_command_explains_itself(name: str) -> None:
    done = run(name)
    assert done.exit_code == 2
    assert "Example: refuge" in done.output


def test_an_empty_store_says_what_to_do(tmp_path: Path) -> None:
    """Exit 3, and the command that loads airfields."""
    aircraft, minimums = "fixtures/demo/aircraft/XA-GLASS.toml", "fixtures/demo/minimums/XS-SCHOOL.toml"
    root = Path(__file__).parents[3]
    empty = str(tmp_path / "empty.sqlite")
    assert run("store", "upgrade", "--store", empty).exit_code == 0
    result = run(
        "find", "--at=44,-38", "--aircraft", str(root / aircraft), "--minimums", str(root / minimums), "--store",
        empty,
    )  # fmt: skip
    assert isinstance(result.exception, MissingDataError), result.output
    assert "refuge import airfields" in str(result.exception)


def test_bulletins_by_hand_answer_like_the_store(store: str) -> None:
    """The same bulletins from files give the same verdicts as from the store."""
    folder = Path(__file__).parents[3] / "fixtures" / "demo" / "bulletins"
    files = [word for name in ("1200Z", "1455Z", "winds") for word in ("--bulletins", str(folder / f"{name}.txt"))]
    answer = body(store, *files, "--received", "2026-03-10T14:55Z")
    assert verdicts(answer) == verdicts(body(store))


def test_a_file_that_holds_no_bulletins_is_bad_input(store: str) -> None:
    """interface.md: exit 2. The store itself, which is binary, is such a file."""
    result = run(*ASK, "--store", store, "--bulletins", store)
    assert isinstance(result.exception, InputError)
    assert "holds binary data, not bulletins" in str(result.exception)


def test_keep_refuses_to_overwrite(store: str) -> None:
    """The demo never writes over a file."""
    assert isinstance(run("demo", "--keep", store).exception, InputError)


def test_a_cruise_that_may_ice_is_said_first(store: str) -> None:
    """method.md 5: a cruise in freezing cloud without approval is said once, for the flight."""
    answer = body(store, "--oat=-5", code=1)
    assert any("the cruise itself may ice" in note for note in answer["assumptions"])


def test_old_data_say_so_first_and_exit_3(store: str) -> None:
    """interface.md: exit 3 where data are too old to answer; nothing meets on them."""
    asked = [word if word != "2026-03-10T15:00Z" else "2026-03-11T15:00Z" for word in ASK]
    result = run(*asked, "--store", store)
    assert result.exit_code == 3, result.output
    assert result.stdout.index("the data are old") < result.stdout.index("verdict")
    assert "[v]" not in result.stdout


def test_a_wind_far_from_the_winds_known_is_remarked_on(store: str) -> None:
    """The pilot's figure counts, and that it is far from what is known is said first."""
    result = run(*ASK, "--store", store, "--wind", "090/40")
    assert "WARNING: winds aloft give" in result.stdout
    near = run(*ASK, "--store", store, "--wind", "270/35")
    assert "WARNING" not in near.stdout


@pytest.mark.parametrize(
    ("words", "where"),
    [
        (["--altitude", "2000"], "below the lowest safe height"),
        (["--altitude", "-500"], "--altitude"),
        (["--altitude", "60000"], "--altitude"),
        (["--altitude", "6.000"], "6 ft is no cruising level - give feet, without a separator for thousands"),
        (["--altitude", "499"], "--altitude"),
        (["--lowest-safe", "2.200"], "2.2 ft is no lowest safe height - give feet, without a separator"),
        (["--fuel-min", "20000"], "--fuel-min"),
    ],
)
def test_heights_and_fuel_that_cannot_be_are_refused(store: str, words: list[str], where: str) -> None:
    """A level below the safe height would shorten the way down for nothing; a slip of the pen is no figure."""
    result = run(*ASK, "--store", store, *words)
    assert isinstance(result.exception, InputError), result.output
    assert where in str(result.exception)


@pytest.mark.parametrize(
    ("option", "text", "says"),
    [
        ("--oat", "5,5", "'5,5' is no number: write 5.5"),
        ("--altitude", "6,000", "'6,000' is no number: write 6000, or 6.000 for tenths"),
        ("--fuel-min", "much", "'much' is no number: write digits only, such as 5.5"),
    ],
)
def test_what_is_no_number_is_asked_back(store: str, option: str, text: str, says: str) -> None:
    """A comma parts thousands in one country and tenths in another: it is never guessed which."""
    result = run(*ASK, "--store", store, option, text)
    assert result.exit_code == 2
    assert says in " ".join(result.stderr.split())


def test_where_pitot_heat_alone_closes_the_plan_the_rest_is_shown_as_if_dry(store: str) -> None:
    """method.md 2. At +4 C airspeed ends with pitot heat; +6 C is warm enough, in the same weather."""
    cold, warm = body(store, "--oat", "4", code=1), body(store, "--oat", "6")
    assert "meets" not in verdicts(cold).values()
    assert verdicts(cold["as_if_dry"]) == verdicts(warm)
    assert cold["as_if_dry"]["budget_min"] > cold["budget_min"]
    assert cold["endurance"]["as_if_dry_min"] == cold["as_if_dry"]["endurance"]["information_min"]
    assert warm["as_if_dry"] is None
    text = run(*ASK, "--store", store, "--oat", "4").stdout
    assert "Pitot heat alone closes the plan" in text
    assert "to look at, not to plan on" in text
    marked = [line for line in text.splitlines() if "[v]" in line]
    assert len(marked) >= 2
    assert all(line.startswith("if dry: [v]") for line in marked)


@pytest.mark.parametrize(
    "words",
    [
        ("find", "--at=44.0,-38.0"),
        ("route", "XTES", "XLUM", "--departs", "2026-03-10T15:00Z"),
    ],
    ids=lambda words: words[0],
)
def test_an_aircraft_file_that_nobody_filled_in_is_named_first(store: str, words: tuple[str, ...]) -> None:
    """The template's figures are nobody's aircraft: an answer that rests on them says so, in text and in JSON."""
    said = "WARNING: the aircraft file is a template not filled in"
    asked = [*words, *ASK[4:], "--store", store, "--aircraft"]
    text = run(*asked, "fixtures/aircraft/template.toml").output
    assert said in text.split("Assumed:")[0]
    answer = json.loads(run(*asked, "fixtures/aircraft/template.toml", "--json").stdout)
    assert any(each.startswith(said) for each in answer["assumptions"])
    assert "template" not in run(*asked, "XA-GLASS").output
