"""Whole flights over HTTP, on the demo's store: the bytes of the command line, bounds, refusals."""

import threading
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import httpx
import pytest

from refuge.web.flights import MOST_ROSTER_BYTES, MOST_ROSTER_ROWS
from refuge.web.ready import Made
from refuge.web.service import MOST_LONG_IN_WORK, Service
from tests.surfaces.web.conftest import at

NOW = "2026-03-10T15:00Z"
ROUTE = {
    "places": "XTES;XLUM", "departs": "2026-03-10T15:45Z", "aircraft": "XA-GLASS", "minimums": "XS-SCHOOL",
    "altitude": "6000", "lowest_safe": "2200",
}  # fmt: skip
TYPED = (
    "--departs", "2026-03-10T15:45Z", "--aircraft", "XA-GLASS", "--minimums", "XS-SCHOOL", "--altitude", "6000",
    "--lowest-safe", "2200", "--now", NOW, "--json",
)  # fmt: skip
HEADING = "flight,from,to,departs,aircraft,minimums,via,altitude_ft,lowest_safe_ft"
ROSTER = f"""{HEADING}
A1,XTES,XLUM,2026-03-10T15:15Z,XA-GLASS,XS-SCHOOL,,6000,2200
A2,XTES,XLUM,2026-03-10T15:45Z,XA-GLASS,XS-SCHOOL,XCOR,6000,2200
A3,XTES,XNOWHERE,2026-03-10T15:45Z,XA-GLASS,XS-SCHOOL,,6000,2200
A4,XTES,XLUM,2026-03-10T14:45Z,XA-GLASS,XS-SCHOOL,,6000,2200
A5,XTES,XLUM,,XA-GLASS,XS-SCHOOL,,6000,2200
"""
CSV = {"content-type": "text/csv; charset=utf-8"}


@pytest.mark.parametrize(
    "case",
    [
        ({}, ["XTES", "XLUM"], []),
        ({"places": "XTES; XCOR ;44.2,-38.0;XLUM"}, ["XTES", "XCOR", "44.2,-38.0", "XLUM"], []),
        (
            {"places": "XLUM", "from_position": "44.0,-38.0", "since_failure": "7"}, ["XLUM"],
            ["--from-position=44.0,-38.0", "--since-failure", "7"],
        ),
        (
            {"failure": "all", "wind": "280/25", "oat": "-5", "soak": "-10", "fuel_min": "200", "torch": "true"},
            ["XTES", "XLUM"],
            ["--failure", "all", "--wind", "280/25", "--oat", "-5", "--soak", "-10", "--fuel-min", "200",
             "--torch"],
        ),
    ],
)  # fmt: skip
@pytest.mark.parametrize("replay", [False, True], ids=["from memory", "as of then"])
def test_a_route_is_what_the_command_prints(
    client: httpx.Client,
    typed: Callable[..., bytes],
    case: tuple[dict[str, str], list[str], list[str]],
    replay: bool,
) -> None:
    more, way, options = case
    answer = client.get("/v1/route", params=ROUTE | more | ({"now": NOW} if replay else {}))
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/json"
    assert answer.content == typed("route", *way, *TYPED, *options)


def test_a_flight_that_begins_now_and_one_asked_as_of_earlier(
    client: httpx.Client, typed: Callable[..., bytes]
) -> None:
    asked = {name: text for name, text in ROUTE.items() if name != "departs"}
    words = ["route", "XTES", "XLUM", *TYPED[2:-3]]
    assert client.get("/v1/route", params=asked).content == typed(*words, "--now", NOW, "--json")
    earlier = client.get("/v1/route", params=asked | {"now": "2026-03-10T14:00Z"})
    assert earlier.content == typed(*words, "--now", "2026-03-10T14:00Z", "--json")
    assert earlier.json()["data_as_of"] == "2026-03-10T13:40:00Z"  # the winds, as the demo's story has it


@pytest.mark.parametrize("replay", [False, True], ids=["from memory", "as of then"])
def test_ways_are_what_the_command_prints(client: httpx.Client, typed: Callable[..., bytes], replay: bool) -> None:
    asked = ROUTE | {"over": "XCOR;44.2,-38.0"} | ({"now": NOW} if replay else {})
    answer = client.get("/v1/ways", params=asked)
    assert answer.status_code == 200, answer.text
    assert answer.content == typed("route", "XTES", "XLUM", *TYPED, "--ways", "--over", "XCOR", "--over=44.2,-38.0")
    assert {"over XCOR", "over 44.2,-38.0"} <= {way["what"] for way in answer.json()["ways"]}


@pytest.mark.parametrize(("path", "options"), [("/v1/route", []), ("/v1/ways", ["--ways"])])
def test_as_geojson(client: httpx.Client, typed: Callable[..., bytes], path: str, options: list[str]) -> None:
    answer = client.get(path, params=ROUTE | {"format": "geojson"})
    assert answer.headers["content-type"] == "application/geo+json"
    assert answer.content == typed("route", "XTES", "XLUM", *TYPED[:-1], "--geojson", *options)
    shapes = {feature["geometry"]["type"] for feature in answer.json()["features"]}
    assert shapes == {"LineString", "Point"}


def test_polled_again_it_is_known_by_its_etag(client: httpx.Client) -> None:
    first = client.get("/v1/route", params=ROUTE)
    again = client.get("/v1/route", params=ROUTE, headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    other = client.get("/v1/route", params=ROUTE | {"altitude": "8000"})
    assert other.headers["etag"] != first.headers["etag"]


def test_the_etag_is_that_of_what_is_said(
    demo_store: str, serve: Callable[[str, datetime], tuple[httpx.Client, Service]]
) -> None:
    """A minute later nothing else is known, and the flight still leaves at a quarter to four."""
    client, service = serve(demo_store, at("15:00"))
    first = client.get("/v1/route", params=ROUTE)
    service.refresh(at("15:01"))
    second = client.get("/v1/route", params=ROUTE)
    assert first.json()["question"]["now"] != second.json()["question"]["now"]
    assert first.headers["etag"] == second.headers["etag"]


@pytest.mark.parametrize("replay", [False, True], ids=["from memory", "as of then"])
def test_a_brief_is_what_the_command_prints(
    client: httpx.Client, typed: Callable[..., bytes], tmp_path: Path, replay: bool
) -> None:
    path = tmp_path / "roster.csv"
    path.write_text(ROSTER, encoding="utf-8")
    answer = client.post("/v1/brief", content=ROSTER, headers=CSV, params={"now": NOW} if replay else {})
    assert answer.status_code == 200, answer.text
    assert answer.headers["cache-control"] == "no-store"
    assert "etag" not in answer.headers
    assert answer.content == typed("brief", str(path), "--now", NOW, "--json")
    body = answer.json()
    assert {line["flight"] for line in body["lines"]} == {"A1", "A2"}
    assert [row["line"] for row in body["bad_rows"]] == [4, 5, 6]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("A1,XTES,40.0N,100.0E,2026-03-10T15:45Z,XA-GLASS,XS-SCHOOL,,6000,2200", "as many cells"),
        ('A1,XTES,"10.0,100.0",2026-03-10T15:45Z,XA-GLASS,XS-SCHOOL,,6000,2200', "NM long"),
        (f"A1,XTES,XLUM,2026-03-10T15:45Z,XA-GLASS,XS-SCHOOL,{'XCOR;' * 30},6000,2200", "32 places"),
        ("A1,XTES,XLUM,2026-03-10T15:45Z,XA-GLASS,XS-SCHOOL,,1e300,2200", "altitude"),
        ("A1,XTES,XLUM,2026-03-10T15:45Z,XA-GLASS,XS-SCHOOL,,nan,2200", "altitude"),
        ("A1,XTES,XLUM,2026-03-10T15:45Z,XA-NONE,XS-SCHOOL,,6000,2200", "XA-NONE"),
        ("A1,XTES,XLUM,2026-03-10T15:45Z,/etc/passwd,XS-SCHOOL,,6000,2200", "no aircraft of id"),
    ],
)
def test_a_row_out_of_bounds_takes_nothing_from_the_others(client: httpx.Client, row: str, reason: str) -> None:
    good = "A2,XTES,XLUM,2026-03-10T15:15Z,XA-GLASS,XS-SCHOOL,,6000,2200"
    answer = client.post("/v1/brief", content=f"{HEADING}\n{row}\n{good}\n", headers=CSV)
    assert answer.status_code == 200, answer.text
    (bad,) = answer.json()["bad_rows"]
    assert bad["line"] == 2
    assert reason in bad["reason"]
    assert [line["flight"] for line in answer.json()["lines"]] == ["A2"]


@pytest.mark.parametrize(
    ("content", "headers", "status"),
    [
        (b"{}", {"content-type": "application/json"}, 415),
        (b"x" * (MOST_ROSTER_BYTES + 1), CSV, 413),
        (b"\xff\xfe", CSV, 422),
        (b"", CSV, 422),
        (b"flight,from\n", CSV, 422),
        (f"{HEADING},departs\n".encode(), CSV, 422),
        (f"{HEADING},colour\n".encode(), CSV, 422),
        (f"{HEADING}\nA1,X\rY,XLUM\n".encode(), CSV, 200),
        (f"{HEADING}\n".encode() + b"A,B,C,D,E,F,,,\n" * (MOST_ROSTER_ROWS + 1), CSV, 422),
        (f"{HEADING}\nA,B,C,D,{' '.join(f'E{n}' for n in range(101))},F,,,\n".encode(), CSV, 422),
    ],
)
def test_what_is_no_roster(client: httpx.Client, content: bytes, headers: dict[str, str], status: int) -> None:
    answer = client.post("/v1/brief", content=content, headers=headers)
    assert answer.status_code == status, answer.text
    if status != 200:
        assert answer.headers["content-type"] == "application/problem+json"
        assert [error["field"] for error in answer.json()["errors"]] == ["roster"]


@pytest.mark.parametrize(
    ("path", "more", "field"),
    [
        ("/v1/route", {"places": "XTES"}, "places"),
        ("/v1/route", {"places": ";"}, "places"),
        ("/v1/route", {"places": "XTES;XNOWHERE"}, "places"),
        ("/v1/route", {"places": ";".join(["XTES"] * 21)}, "places"),
        ("/v1/route", {"places": "XTES;10.0,100.0"}, "places"),
        ("/v1/route", {"wind": "090/200"}, "places"),
        ("/v1/route", {"from_position": "XNOWHERE"}, "from_position"),
        ("/v1/route", {"departs": "2026-03-10T14:45Z"}, "departs"),
        ("/v1/route", {"departs": "soon"}, "departs"),
        ("/v1/route", {"since_failure": "-1"}, "since_failure"),
        ("/v1/route", {"since_failure": "3"}, "since_failure"),
        ("/v1/route", {"since_failure": "nan"}, "since_failure"),
        ("/v1/route", {"wind": "x"}, "wind"),
        ("/v1/route", {"failure": "x"}, "failure"),
        ("/v1/route", {"aircraft": "XA-NONE"}, "aircraft"),
        ("/v1/route", {"fails": NOW}, "fails"),
        ("/v1/route", {"over": "XCOR"}, "over"),
        ("/v1/route", {"now": "soon"}, "now"),
        ("/v1/ways", {"over": ";".join(["XCOR"] * 6)}, "over"),
        ("/v1/ways", {"over": "XNOWHERE"}, "over"),
        ("/v1/ways", {"over": "10.0,100.0"}, "over"),
        ("/v1/ways", {"places": "44.0,-38.0;64.0,-38.0"}, "places"),
    ],
)
def test_the_field_at_fault(client: httpx.Client, path: str, more: dict[str, str], field: str) -> None:
    answer = client.get(path, params=ROUTE | more)
    assert (answer.status_code, answer.headers["content-type"]) == (422, "application/problem+json"), answer.text
    assert [error["field"] for error in answer.json()["errors"]] == [field]


def test_a_flight_keeps_no_other_question_waiting(
    demo_store: str, serve: Callable[[str, datetime], tuple[httpx.Client, Service]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """While one is worked out another kind is answered; beyond a few flights the rest are refused."""
    client, service = serve(demo_store, at("15:00"))
    begun, finish = threading.Event(), threading.Event()

    def slow(*_: Any, **__: Any) -> Made:
        begun.set()
        assert finish.wait(20)
        return Made(body="{}\n", covers="")

    monkeypatch.setattr("refuge.web.flight_routes.flight_now", slow)
    levels = [str(3000 + 100 * i) for i in range(MOST_LONG_IN_WORK)]
    answers: list[int] = []

    def ask(level: str) -> None:
        answers.append(client.get("/v1/route", params=ROUTE | {"altitude": level}).status_code)

    threads = [threading.Thread(target=ask, args=(level,)) for level in levels]
    for thread in threads:
        thread.start()
    assert begun.wait(20)
    deadline_s = time.monotonic() + 20
    while service._long_in_work < MOST_LONG_IN_WORK:
        assert time.monotonic() < deadline_s
        time.sleep(0.01)
    assert client.get("/v1/find", params={"at": "XCOR", "aircraft": "XA-GLASS", "minimums": "XS-SCHOOL"}).is_success
    assert client.get("/v1/route", params=ROUTE | {"altitude": "9000"}).status_code == 503
    finish.set()
    for thread in threads:
        thread.join(20)
    assert answers == [200] * MOST_LONG_IN_WORK


def test_a_new_world_does_not_wait_for_flights(
    demo_store: str, serve: Callable[[str, datetime], tuple[httpx.Client, Service]]
) -> None:
    """What is polled of flights is worked out when it is asked again; what is polled else, beforehand."""
    client, service = serve(demo_store, at("15:00"))
    client.get("/v1/route", params=ROUTE)
    client.get("/v1/stations/XCOR")
    service.refresh(at("15:01"))
    assert service.state is not None
    assert [path for path, _, _ in service.state.answers] == [b"/v1/stations/XCOR"]
