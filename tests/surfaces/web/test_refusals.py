"""What is refused, as problem details (RFC 9457): the field at fault, the words of the command line."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner

from refuge.cli import app
from refuge.errors import RefugeError, StoreError
from refuge.store.opening import opened_store
from refuge.web.app import create_app
from refuge.web.service import MOST_IN_WORK, Service
from tests.surfaces.web.conftest import at, on_loopback

FIND = {"at": "44.0,-38.0", "aircraft": "XA-GLASS", "minimums": "XS-SCHOOL"}
OPTION = {"lowest_safe": "--lowest-safe"}


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("at", "XNOWHERE"),
        ("at", "95.0,0.0"),
        ("wind", "abc"),
        ("wind", "400/20"),
        ("failure", "engine"),
        ("fails", "2026-03-10T15:00"),
        ("fails", "tomorrow"),
        ("fails", "2026-03-09T15:00Z"),
        ("now", "2026-03-10 25:00Z"),
        ("now", "9999-12-31T23:59Z"),
    ],
)
def test_in_the_words_of_the_command_line(client: httpx.Client, demo_store: str, field: str, value: str) -> None:
    answer = client.get("/v1/find", params=FIND | {"now": "2026-03-10T15:00Z"} | {field: value})
    words = {"at": "44.0,-38.0", "now": "2026-03-10T15:00Z"} | {field: value}
    typed = [f"--{name}={text}" for name, text in words.items()]
    result = CliRunner().invoke(
        app, ["find", "--aircraft=XA-GLASS", "--minimums=XS-SCHOOL", *typed, "--store", demo_store]
    )
    assert isinstance(result.exception, RefugeError)
    assert answer.status_code == 422
    assert answer.json()["detail"] == str(result.exception)
    assert [error["field"] for error in answer.json()["errors"]] == [field]


@pytest.mark.parametrize(
    ("path", "status", "field"),
    [
        ("/v1/find?at=XCOR&aircraft=XA-GLASS", 422, "minimums"),
        ("/v1/find?at=XCOR&aircraft=XA-NONE&minimums=XS-SCHOOL", 422, "aircraft"),
        ("/v1/find?at=XCOR&aircraft=../aircraft/XA-GLASS&minimums=XS-SCHOOL", 422, "aircraft"),
        ("/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&lowest_saf=2200", 422, "lowest_saf"),
        ("/v1/find?at=XCOR&at=XORR&aircraft=XA-GLASS&minimums=XS-SCHOOL", 422, "at"),
        ("/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&altitude=nan", 422, "altitude"),
        ("/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&altitude=90000", 422, "altitude"),
        ("/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&altitude=6.000", 422, "altitude"),
        ("/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&lowest_safe=-5", 422, "lowest_safe"),
        ("/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&oat=-95", 422, "oat"),
        ("/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&fuel_min=1441", 422, "fuel_min"),
        ("/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&limit=0", 422, "limit"),
        ("/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&limit=100000", 422, "limit"),
        ("/v1/expect/XORR?from=2026-03-10T16:00Z&to=2026-03-10T15:00Z", 422, "to"),
        ("/v1/expect/XORR?from=2026-03-10T16:00Z", 422, "to"),
        ("/v1/expect/XNIL?from=2026-03-10T15:00Z&to=2026-03-10T16:00Z", 404, "station"),
        ("/v1/stations/XNIL", 404, "station"),
        ("/v1/airfields/XNIL", 404, "airfield"),
        ("/v1/airfields", 422, "bbox"),
        ("/v1/airfields?near=XCOR&bbox=1,2,3,4", 422, "near"),
        ("/v1/airfields?near=XNOWHERE", 422, "near"),
        ("/v1/airfields?near=XCOR&within_nm=5000", 422, "within_nm"),
        ("/v1/airfields?bbox=-180,-90,180,90", 422, "bbox"),
        ("/v1/airfields?bbox=1,2,3", 422, "bbox"),
        ("/v1/aircraft?x=1", 422, "x"),
    ],
)
def test_the_field_at_fault(client: httpx.Client, path: str, status: int, field: str) -> None:
    answer = client.get(path)
    body = answer.json()
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.headers["cache-control"] == "no-store"
    assert (answer.status_code, body["status"], body["type"]) == (status, status, "about:blank")
    assert [error["field"] for error in body["errors"]] == [field]
    assert all(error["detail"] for error in body["errors"])


@pytest.mark.parametrize(
    ("more", "detail"),
    [
        ("altitude=abc", "must be a number, not 'abc'"),
        ("altitude=-1", "must be at least 500, not '-1'"),
        ("altitude=30001", "must be at most 30000, not '30001'"),
        ("limit=1.5", "must be a whole number, not '1.5'"),
        ("torch=maybe", "must be true or false, not 'maybe'"),
    ],
)
def test_what_is_wrong_is_said_in_words(client: httpx.Client, more: str, detail: str) -> None:
    body = client.get(f"/v1/find?at=XCOR&aircraft=XA-GLASS&minimums=XS-SCHOOL&{more}").json()
    assert body["errors"] == [{"field": more.partition("=")[0], "detail": detail}]


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [("GET", "/nowhere", 404), ("POST", "/v1/find", 405), ("GET", "/v1/find?at=" + "x" * 3000, 414)],
)
def test_other_refusals_are_problems_too(client: httpx.Client, method: str, path: str, status: int) -> None:
    answer = client.request(method, path)
    assert (answer.status_code, answer.headers["content-type"]) == (status, "application/problem+json")


def test_a_file_of_the_server_cannot_be_named(client: httpx.Client, root: Path) -> None:
    """On the command line a path names a file; over HTTP only ids do."""
    path = root / "fixtures" / "aircraft" / "D40.toml"
    assert path.is_file()
    answer = client.get("/v1/find", params=FIND | {"aircraft": str(path)[-60:]})
    assert answer.status_code == 422
    exact = client.get("/v1/find", params=FIND | {"aircraft": "fixtures/aircraft/D40.toml"})
    assert exact.json()["errors"][0]["field"] == "aircraft"


def test_old_data_are_not_ready_and_say_so(
    demo_store: str, serve: Callable[[str, datetime], tuple[httpx.Client, Service]]
) -> None:
    """The last bulletin came at 14:55; 75 minutes later no report can be fresh (method.md 4)."""
    assert serve(demo_store, at("16:10"))[0].get("/readyz").status_code == 200
    late = serve(demo_store, at("16:11"))[0].get("/readyz")
    assert late.status_code == 503
    assert "2026-03-10T14:55:00Z" in late.json()["detail"]


def test_a_store_that_cannot_be_read_for_long_ends_the_answers(
    demo_store: str, serve: Callable[[str, datetime], tuple[httpx.Client, Service]]
) -> None:
    client, service = serve(demo_store, at("15:00"))
    assert client.get("/v1/find", params=FIND).status_code == 200
    assert service.state is not None
    service.state.good_until_s = 0.0
    answer = client.get("/v1/find", params=FIND)
    assert (answer.status_code, answer.headers["retry-after"]) == (503, "5")
    assert "2026-03-10T15:00:00Z" in answer.json()["detail"]
    assert client.get("/readyz").status_code == 503
    assert client.get("/livez").status_code == 200


def test_before_the_first_look_nothing_is_answered_but_livez(demo_store: str) -> None:
    with opened_store(demo_store) as engine:
        front, service = create_app(engine, demo_store)
        with on_loopback(front) as client:
            assert [client.get(path).status_code for path in ("/livez", "/readyz", "/v1/status")] == [200, 503, 503]
        service.close()


def test_a_store_that_fails_shows_no_path(
    demo_store: str, serve: Callable[[str, datetime], tuple[httpx.Client, Service]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: object, **kwargs: object) -> None:
        raise StoreError("the store failed", where="/secret/place.sqlite")

    client, _ = serve(demo_store, at("15:00"))
    monkeypatch.setattr("refuge.web.answers.reading", fail)
    answer = client.get("/v1/find", params=FIND | {"now": "2026-03-10T14:00Z"})
    assert answer.status_code == 503
    assert "secret" not in answer.text


def test_too_many_questions_at_once_are_refused(
    demo_store: str, serve: Callable[[str, datetime], tuple[httpx.Client, Service]]
) -> None:
    client, service = serve(demo_store, at("15:00"))
    service._in_work = MOST_IN_WORK
    assert client.get("/v1/find", params=FIND).status_code == 503
    service._in_work = 0
    assert client.get("/v1/find", params=FIND).status_code == 200


def test_a_fault_of_the_server_says_no_more_than_that(
    demo_store: str, serve: Callable[[str, datetime], tuple[httpx.Client, Service]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: object, **kwargs: object) -> None:
        raise RuntimeError("inner words")

    client, _ = serve(demo_store, at("15:00"))
    monkeypatch.setattr("refuge.web.answers.reading", fail)
    answer = client.get("/v1/find", params=FIND | {"now": "2026-03-10T14:00Z"})
    assert (answer.status_code, answer.headers["content-type"]) == (500, "application/problem+json")
    assert "inner words" not in answer.text


@pytest.mark.parametrize("bound", ["MOST_KEPT", "MOST_KEPT_BYTES"])
def test_no_more_is_kept_than_fits(
    demo_store: str,
    serve: Callable[[str, datetime], tuple[httpx.Client, Service]],
    monkeypatch: pytest.MonkeyPatch,
    bound: str,
) -> None:
    """What was not asked for longest goes first; the newest answer always stays."""
    client, service = serve(demo_store, at("15:00"))
    paths = ["/v1/stations/XCOR", "/v1/stations/XORR", "/v1/stations/XASH"]
    sizes = [len(client.get(path).content) for path in paths]
    assert service.state is not None
    service.state.answers.clear()
    service.state.size_bytes = 0
    monkeypatch.setattr(f"refuge.web.service.{bound}", 2 if bound == "MOST_KEPT" else sum(sizes) + 1)
    for path in (paths[0], paths[1], paths[0], paths[2]):
        client.get(path)
    kept = [path.decode() for path, _, _ in service.state.answers]
    assert paths[1] not in kept
    assert paths[2] in kept
    assert service.state.size_bytes == sum(one.ready.size_bytes for one in service.state.answers.values())
