"""refuge work and refuge status, as typed: three cycles like collect's, what the log says, how they end."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from pytest_httpserver import HTTPServer

from refuge.cli import main
from refuge.feeds.awc import METARS
from refuge.files.places import load_places
from refuge.packaged import packaged
from refuge.store.opening import opened_store
from refuge.store.places import replace_airfields, replace_stations
from refuge.weather.split import split_reports
from refuge.zulu import parse_instant
from tests.adapters.worker.replay import Service

Run = Callable[..., tuple[int, str, str]]
DEMO = packaged("demo") / "bulletins"
QUESTION = (
    "--at=44.0,-38.0 --aircraft XA-GLASS --minimums XS-SCHOOL --altitude 6000 --lowest-safe 2200 --limit 0 --json"
)
# A report that was good, corrected and then worse (invented, like all of the demo's country)
LATER = "METAR XORR 101350Z 25007KT 9999 SCT038 12/10 Q1014"
CORRECTED = "METAR XORR 101350Z COR 25007KT 3000 BR BKN008 12/10 Q1014"


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Give a function that runs one command: exit code, stdout, stderr."""

    def run_main(*words: str) -> tuple[int, str, str]:
        capsys.readouterr()
        with pytest.raises(SystemExit) as done:
            main(list(words))
        printed = capsys.readouterr()
        return int(done.value.code or 0), printed.out, printed.err

    return run_main


@pytest.fixture
def service() -> Service:
    return Service()


@pytest.fixture
def base_url(service: Service, httpserver: HTTPServer) -> str:
    return service.serve(httpserver)


def reports(name: str) -> tuple[list[str], list[str]]:
    """Return the observations and the forecasts of one of the demo's files, each on one line."""
    texts = [" ".join(text.split()) for text in split_reports((DEMO / name).read_text())]
    return [t for t in texts if not t.startswith("TAF")], [t for t in texts if t.startswith("TAF")]


@pytest.fixture
def empty_country(tmp_path: Path) -> Callable[[str], str]:
    """Give a function that makes a store with the demo's places and no weather, and returns its path."""

    def make(name: str) -> str:
        path = str(tmp_path / f"refuge-demo-{name}.sqlite")
        airfields, stations = load_places(packaged("demo") / "places.toml")
        at = parse_instant("2026-03-10T11:00Z")
        with opened_store(path) as engine:
            replace_stations(engine, stations, source="demo", imported_at=at)
            replace_airfields(engine, airfields, source="demo", imported_at=at)
        return path

    return make


def test_three_cycles_through_the_worker_give_what_collect_gives(
    run: Run, service: Service, base_url: str, empty_country: Callable[[str], str]
) -> None:
    worked, collected = empty_country("worked"), empty_country("collected")
    noon, tafs = reports("1200Z.txt")
    latest, _ = reports("1455Z.txt")
    cycles = {
        "2026-03-10T12:00Z": (noon, tafs, ""),
        "2026-03-10T14:00Z": ([*noon, LATER], tafs, (DEMO / "winds.txt").read_text()),
        "2026-03-10T14:55Z": ([CORRECTED, *latest], tafs, (DEMO / "winds.txt").read_text()),
    }
    answers = []
    for now, (service.metars, service.tafs, service.winds) in cycles.items():
        there = ("--now", now, "--base-url", base_url)
        code, _, err = run("work", "--once", "--feeds", "metar,taf", *there, "--store", worked)
        assert code == 0, err
        if service.winds:  # without the minute between requests that a worker keeps
            assert run("collect", "winds", *there, "--store", worked)[0] == 0
            assert run("collect", "winds", *there, "--store", collected)[0] == 0
        assert run("collect", "metar", "taf", *there, "--store", collected)[0] == 0
        asked = [run("find", *QUESTION.split(), "--now", now, "--store", store) for store in (worked, collected)]
        assert asked[0] == asked[1]
        answers.append(asked[0][1])
    assert len(set(answers)) == 3
    last = json.loads(answers[-1])
    assert last["data_as_of"] == "2026-03-10T14:55:00Z"
    assert {entry["airfield"]["id"] for entry in last["entries"] if entry["verdict"] == "meets"} >= {"XSIL"}


def test_the_log_is_one_line_a_run_on_stderr_once_it_has_begun(
    run: Run, service: Service, base_url: str, tmp_path: Path
) -> None:
    service.metars = [LATER]
    words = ("--once", "--feeds", "metar", "--store", str(tmp_path / "s.sqlite"), "--base-url", base_url)
    code, out, err = run("work", *words, "--now", "2026-03-10T14:00Z")
    assert (code, out) == (0, "")
    begins, line = [
        line for line in err.splitlines() if "from=werkzeug" not in line
    ]  # the service is in this process
    values = dict(part.partition("=")[::2] for part in line.split(" ") if "=" in part)
    # observed at 13:50, received at 14:00
    expected = {
        "feed": "metar",
        "outcome": "ok",
        "fetched": "1",
        "new": "1",
        "changed": "0",
        "late_median_s": "600",
    }
    assert expected.items() <= values.items()
    assert begins.endswith('level=info event="run begins" feed=metar')
    assert 'event="run ended"' in line


def test_a_feed_that_fails_ends_once_with_4(run: Run, service: Service, base_url: str, tmp_path: Path) -> None:
    service.metars, service.failing = [LATER], {METARS}
    store = ("--store", str(tmp_path / "s.sqlite"))
    at = ("--now", "2026-03-10T14:00Z")
    code, _, err = run("work", "--once", "--feeds", "metar", *store, "--base-url", base_url, *at)
    assert code == 4
    assert "metar failed" in err
    code, out, _ = run("status", *store, *at)
    assert code == 3
    assert "warning: metar: no good run ever: overdue" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--feeds", "metars"], "no feed of that name"),
        (["--now", "2026-03-10T14:00Z"], "give --once too"),
        (["--once", "--now", "yesterday"], "is not a time"),
        (["--once", "--store", ":memory:"], "in memory"),
    ],
)
def test_bad_input_ends_with_2(run: Run, tmp_path: Path, words: list[str], said: str) -> None:
    code, out, err = run("work", "--store", str(tmp_path / "s.sqlite"), *words)
    assert (code, out) == (2, "")
    assert said in err


@pytest.fixture
def worked(run: Run, service: Service, base_url: str, tmp_path: Path) -> str:
    """Give a store with one run at 14:00, of two reports of 13:50 and 13:30 and one that nobody can read."""
    service.metars = [LATER, LATER.replace("XORR 101350Z", "XTES 101330Z"), "METAR XBAD"]
    store = str(tmp_path / "s.sqlite")
    words = ("--once", "--feeds", "metar", "--store", store, "--base-url", base_url)
    assert run("work", *words, "--now", "2026-03-10T14:00Z")[0] == 0
    return store


def test_status_for_programs(run: Run, worked: str) -> None:
    code, out, err = run("status", "--json", "--store", worked, "--now", "2026-03-10T14:10Z")
    assert (code, err) == (0, "")
    answer = json.loads(out)
    assert list(answer) == ["store", "leader", "newest", "feeds", "warnings"]
    assert answer["leader"] is None
    assert answer["newest"] == [
        {
            "kind": "METAR",
            "received": "2026-03-10T14:00:00Z",
            "of": "2026-03-10T13:50:00Z",
            "stale_at": "2026-03-10T14:20:00Z",
        },
        {"kind": "TAF", "received": None, "of": None, "stale_at": None},
        {"kind": "WINDS", "received": None, "of": None, "stale_at": None},
    ]
    (feed,) = answer["feeds"]
    last = feed.pop("last")
    assert feed == {"feed": "metar", "last_good": "2026-03-10T14:00:00Z", "overdue_at": "2026-03-10T14:16:00Z"}
    counts = {"fetched": 3, "new": 2, "changed": 0, "known": 0, "refused": 1}
    # 10 and 30 minutes late
    lateness = {"late_median_s": 1200.0, "late_max_s": 1800.0}
    assert (
        {"started": "2026-03-10T14:00:00Z", "outcome": "ok", "error": None} | counts | lateness
    ).items() <= last.items()
    assert answer["warnings"] == [
        "TAF: none in the store",
        "WINDS: none in the store",
        "metar: 1 of 3 could not be read",
        "no worker leads: nothing is collected",
    ]


def test_status_says_the_same_until_something_turns_stale(run: Run, worked: str) -> None:
    def warnings(now: str) -> list[str]:
        found = json.loads(run("status", "--json", "--store", worked, "--now", now)[1])["warnings"]
        return [text for text in found if text.startswith(("METAR", "metar"))]

    assert warnings("2026-03-10T14:15:59Z") == ["metar: 1 of 3 could not be read"]
    assert warnings("2026-03-10T14:16Z") == ["metar: no good run since 2026-03-10T14:00:00Z: overdue"]
    assert warnings("2026-03-10T14:20Z") == [
        "METAR: nothing new since 2026-03-10T14:00:00Z: stale",
        "metar: no good run since 2026-03-10T14:00:00Z: overdue",
    ]


def test_in_a_replay_a_run_that_is_still_to_come_has_no_age(run: Run, worked: str) -> None:
    code, out, _ = run("status", "--store", worked, "--now", "2026-03-10T13:49Z")
    assert code == 3
    (line,) = (line for line in out.splitlines() if line.startswith("metar"))
    assert line.split()[2] == "later"
    assert " -" not in line


def test_status_for_people(run: Run, worked: str) -> None:
    code, out, err = run("status", "--store", worked, "--now", "2026-03-10T14:30Z")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[1] == "leader  nobody"
    assert lines[4].split() == ["METAR", "2026-03-10T14:00:00Z", "30", "min", "2026-03-10T13:50:00Z", "STALE"]
    assert lines[5].split() == ["TAF", "none", "-", "-"]
    run_line = next(line for line in lines if line.startswith("metar"))
    assert run_line.split()[4:] == ["ok", "3", "2", "0", "0", "1", "20", "min", "/", "30", "min"]


def test_status_of_a_store_that_no_worker_keeps(run: Run, tmp_path: Path) -> None:
    store = ("--store", str(tmp_path / "s.sqlite"))
    run("store", "upgrade", *store)
    code, out, err = run("status", *store)
    assert code == 3
    assert "no report of the last 75 minutes" in err
    assert "no run of a worker" in out
    assert "no worker leads" not in out


@pytest.mark.parametrize(("now", "code"), [("15:05", 0), ("15:06", 3)])
def test_status_tells_a_program_whether_there_is_a_fresh_report(run: Run, worked: str, now: str, code: int) -> None:
    """The newest report is of 13:50, and is stale after 75 minutes (method.md 4)."""
    found, out, err = run("status", "--json", "--store", worked, "--now", f"2026-03-10T{now}Z")
    assert found == code
    assert json.loads(out)["newest"][0]["of"] == "2026-03-10T13:50:00Z"
    assert bool(err) is (code == 3)
