"""refuge work with a brief, as typed: fetched, then briefed, what the files hold, and what is refused."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest
from pytest_httpserver import HTTPServer

from refuge.cli import main
from refuge.cli.demo import load
from refuge.cli.options import instant_or_now
from refuge.feeds.awc import METARS
from refuge.zulu import parse_instant
from tests.adapters.worker.replay import Service

Run = Callable[..., tuple[int, str, str]]
NOW = "2026-03-10T15:00Z"
ROSTER = """flight,from,to,departs,aircraft,minimums,altitude_ft,lowest_safe_ft
A1,XTES,XLUM,2026-03-10T15:15Z,XA-GLASS,XS-SCHOOL,6000,2200
"""
# Sillavar, from where the demo's flight lives, in fog (invented)
FOG = "METAR XSIL 101458Z 00000KT 0200 FG VV001 08/08 Q1015"


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


@dataclass(frozen=True, slots=True, kw_only=True)
class There:
    """The demo's store, a service on this machine, a roster, and a folder for the briefs."""

    service: Service
    base_url: str
    store: str
    roster: str
    out: Path

    @property
    def options(self) -> dict[str, str | None]:
        """Return the four options of a brief."""
        return {
            "--brief": self.roster, "--brief-at": "16:00", "--brief-zone": "Europe/Berlin",
            "--brief-to": str(self.out),
        }  # fmt: skip

    def words(self, **change: str | None) -> list[str]:
        """Return what is typed, options changed or left out."""
        options = {"--base-url": self.base_url, "--store": self.store} | self.options
        options |= {f"--{name.replace('_', '-')}": value for name, value in change.items()}
        return ["work", *(word for name, value in options.items() if value is not None for word in (name, value))]


@pytest.fixture
def there(tmp_path: Path, httpserver: HTTPServer) -> There:
    service, roster, out, store = (
        Service(),
        tmp_path / "roster.csv",
        tmp_path / "out",
        tmp_path / "refuge-demo.sqlite",
    )
    load(str(store))
    roster.write_text(ROSTER, encoding="utf-8")
    out.mkdir()
    url = service.serve(httpserver)
    return There(service=service, base_url=url, store=str(store), roster=str(roster), out=out)


def test_once_fetches_and_then_briefs(run: Run, there: There) -> None:
    there.service.metars = [FOG]
    at = ("--store", there.store, "--now", NOW)
    code, out, err = run(*there.words(feeds="metar", now=NOW), "--once")
    assert (code, out) == (0, ""), err
    body = json.loads((there.out / "brief.json").read_text(encoding="utf-8"))
    alone = json.loads(run("brief", there.roster, "--json", *at)[1])
    # what refuge brief says of the same store at the same time, and what the file says of itself
    assert {name: body[name] for name in alone} == alone
    own = {"state": "made", "error": None, "day": "2026-03-10", "due": None, "next_due": "2026-03-11T15:00:00Z"}
    assert own.items() <= body.items()
    # the report that came with this run is in it: what was a refuge for most of the way is in fog
    assert body["data_as_of"] == "2026-03-10T15:00:00Z"
    (line,) = body["lines"]
    assert line["best_refuge"] is None or line["best_refuge"]["id"] != "XSIL"
    text = (there.out / "brief-2026-03-10.txt").read_text(encoding="utf-8")
    assert text.endswith(run("brief", there.roster, *at)[1])
    feeds = json.loads(run("status", "--json", *at)[1])["feeds"]
    assert [(each["feed"], each["last"]["outcome"]) for each in feeds] == [("metar", "ok"), ("brief", "ok")]
    # overdue 28 hours after
    assert feeds[1]["overdue_at"] == "2026-03-11T19:00:00Z"


def test_a_feed_that_fails_leaves_the_brief_of_what_is_there(run: Run, there: There) -> None:
    there.service.failing = {METARS}
    code, _, err = run(*there.words(feeds="metar", now="2026-03-10T18:00Z"), "--once")
    assert code == 4
    # at 18:00 the demo's reports, of 14:50, are stale: said
    assert "metar, brief failed, wholly or in part" in err
    body = json.loads((there.out / "brief.json").read_text(encoding="utf-8"))
    assert len(body["warnings"]) == 2
    assert [(row["line"], row["past"]) for row in body["bad_rows"]] == [(2, True)]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"brief": "nowhere.csv"}, "nowhere.csv: cannot be read"),
        ({"brief": None}, "--brief: a brief needs all four"),
        ({"brief_at": "7 am"}, "'7 am' is no time of day"),
        ({"brief_zone": "Berlin"}, "no time zone 'Berlin'"),
        ({"brief_to": "nowhere"}, "no folder nowhere"),
    ],
)
def test_what_cannot_be_used_ends_with_2_before_anything_is_fetched(
    run: Run, there: There, change: dict[str, str | None], said: str
) -> None:
    code, out, err = run(*there.words(**change))
    assert (code, out) == (2, "")
    assert said in err
    assert there.service.asked == []


def test_a_worker_by_its_environment_plans_the_brief_and_stops_when_told(there: There) -> None:
    """Due an hour ago, and not made: caught up on two minutes after the start, once the reports are there."""
    now = instant_or_now(None)
    settings = {
        "REFUGE_STORE": there.store, "REFUGE_BASE_URL": there.base_url, "REFUGE_BRIEF": there.roster,
        "REFUGE_BRIEF_AT": f"{now - timedelta(hours=1):%H:%M} {now + timedelta(hours=9):%H:%M}",
        "REFUGE_BRIEF_ZONE": "UTC", "REFUGE_BRIEF_TO": str(there.out),
    }  # fmt: skip
    words = [sys.executable, "-m", "refuge", "work", "--feeds", "metar"]
    with subprocess.Popen(words, env=os.environ | settings, stderr=subprocess.PIPE, text=True) as worker:
        assert worker.stderr is not None
        planned = next(line for line in worker.stderr if "event=planned" in line and "feed=brief" in line)
        worker.send_signal(signal.SIGTERM)
        worker.communicate(timeout=60)
    assert worker.returncode == 0
    first = parse_instant(planned.split('first="')[1].split('"')[0])
    assert timedelta(minutes=2) <= first - now <= timedelta(minutes=2, seconds=30)
    assert list(there.out.iterdir()) == []
