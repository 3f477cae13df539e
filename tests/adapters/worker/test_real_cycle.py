"""One real cycle of the world in three parts: a worker on either store leaves what ``collect`` leaves."""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from pytest_httpserver import HTTPServer

from refuge.cli import main
from refuge.packaged import packaged
from tests.adapters.worker.replay import Service

RECEIPTS = ("2022-10-22T02:10:00Z", "2022-10-22T02:35:00Z", "2022-10-22T03:00:00Z")
JAPAN = "JP"


def run(*words: str) -> None:
    with pytest.raises(SystemExit) as done:
        main(list(words))
    assert (done.value.code or 0) in (0, 1)  # 1: answered, and none meets


@pytest.fixture
def airfields(shared_data: Path, tmp_path: Path) -> list[str]:
    """Give OurAirports' tables cut to one country, so that loading them takes no time."""
    kept: set[str] = set()
    for name, key in (("airports.csv", "ident"), ("runways.csv", "airport_ident")):
        with (shared_data / "airfields" / name).open(newline="", encoding="utf-8") as file:
            rows = csv.DictReader(file)
            some = [row for row in rows if row.get("iso_country") == JAPAN or row[key] in kept]
            kept |= {row[key] for row in some}
            with (tmp_path / name).open("w", newline="", encoding="utf-8") as cut:
                writer = csv.DictWriter(cut, rows.fieldnames or ())
                writer.writeheader()
                writer.writerows(some)
    return [str(tmp_path / "airports.csv"), str(tmp_path / "runways.csv")]


def parts(shared_data: Path) -> dict[str, str]:
    """Return the cycle's table as it would have been at each receipt: what was observed by then."""
    text = (shared_data / "cycle" / "metars.cache.2022-10.csv").read_text(encoding="utf-8")
    lines = text.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("raw_text,"))
    rows = [(line, next(csv.reader([line]))[2]) for line in lines[start + 1 :] if line]
    return {at: "\n".join([lines[start], *(line for line, seen in rows if seen <= at)]) for at in RECEIPTS}


@pytest.fixture
def question() -> list[str]:
    """Give a question over Tokyo at midday, of an aircraft whose gyros need no electricity."""
    demo = packaged("demo")
    return [
        "find", "--at", "35.7,139.9", "--aircraft", str(demo / "aircraft" / "XA-GYRO.toml"), "--minimums",
        str(demo / "minimums" / "XS-SCHOOL.toml"), "--altitude", "6000", "--lowest-safe", "1500", "--oat", "5",
        "--wind", "280/25", "--fuel-min", "120", "--limit", "0", "--json",
    ]  # fmt: skip


@pytest.fixture
def stores(store_url: str, make_store: Callable[[str], str], airfields: list[str]) -> list[str]:
    """Give two stores with these airfields, the first for the worker, the second for collect."""
    both = [store_url, make_store("file")]
    for store in both:
        run("import", "airfields", *airfields, "--now", "2022-10-22T02:00Z", "--store", store)
    return both


@pytest.fixture
def base_url(service: Service, httpserver: HTTPServer, shared_data: Path) -> str:
    service.stations = json.loads((shared_data / "stations" / "stations.cache.json").read_text())
    return service.serve(httpserver)


@pytest.mark.shared_data
def test_the_worker_leaves_what_collect_leaves(  # noqa: PLR0917 - fixtures
    stores: list[str],
    service: Service,
    base_url: str,
    question: list[str],
    shared_data: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    feeds = ["stations", "metar"]
    answers = []
    for at, service.metars_csv in parts(shared_data).items():
        there = ("--now", at, "--base-url", base_url, "--store")
        run("work", "--once", "--feeds", ",".join(feeds), *there, stores[0])
        run("collect", *feeds, *there, stores[1])
        feeds = ["metar"]
        said = []
        for store in stores:
            capsys.readouterr()
            run(*question, "--now", at, "--store", store)
            said.append(capsys.readouterr().out)
        assert said[0] == said[1]
        answers.append(said[0])
    assert len(set(answers)) == len(RECEIPTS)
    assert len({entry["verdict"] for entry in json.loads(answers[-1])["entries"]}) > 1
