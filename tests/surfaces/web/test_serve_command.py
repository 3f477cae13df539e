"""`refuge serve` as a person starts it: this machine only unless told otherwise, and told what that means."""

from typing import Any

import pytest
import uvicorn
from click.testing import CliRunner

from refuge.cli import app
from refuge.errors import InputError, StoreError
from refuge.store.documents import put_document
from refuge.store.engine import writing
from refuge.store.opening import opened_store
from refuge.web.app import create_app
from refuge.web.service import keep
from tests.surfaces.web.conftest import at, on_loopback, wait_for


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    calls: list[dict[str, Any]] = []
    monkeypatch.setattr(uvicorn, "run", lambda _app, **options: calls.append(options))
    return calls


def test_only_this_machine(started: list[dict[str, Any]], demo_store: str) -> None:
    result = CliRunner().invoke(app, ["serve", "--store", demo_store, "--port", "8123"])
    assert result.exit_code == 0
    assert (started[0]["host"], started[0]["port"]) == ("127.0.0.1", 8123)
    assert result.stderr == ""


@pytest.mark.parametrize(
    ("host", "told"), [("192.0.2.7", True), ("a.name", True), ("::1", False), ("localhost", False)]
)
def test_others_are_served_when_told_to_and_that_is_said(
    started: list[dict[str, Any]], demo_store: str, host: str, told: bool
) -> None:
    result = CliRunner().invoke(app, ["serve", "--store", demo_store, "--host", host])
    assert started[0]["host"] == host
    assert ("no encryption" in result.stderr) is told


def test_a_bad_time_is_refused(started: list[dict[str, Any]], demo_store: str) -> None:
    result = CliRunner().invoke(app, ["serve", "--store", demo_store, "--now", "today"])
    assert isinstance(result.exception, InputError)
    assert str(result.exception).startswith("--now: ")
    assert not started


def test_documents_of_the_store_are_named_by_id(empty_store: str) -> None:
    with opened_store(empty_store) as engine:
        text = 'id = "MINE"\n[school]\nsource = "test"\nday = {ceiling_ft = 3000, visibility_sm = 6}\n'
        with writing(engine) as conn:
            put_document(conn, "minimums", "MINE", text, stored_at=at("12:00"))
        front, service = create_app(engine, empty_store, at=at("12:01"))
        service.refresh(at("12:01"))
        with on_loopback(front) as client:
            rows = {row["id"]: row for row in client.get("/v1/minimums").json()["minimums"]}
        assert rows["MINE"]["day"] == {"ceiling_ft": 3000, "visibility_sm": 6}
        service.close()


def test_a_store_that_fails_now_and_then_is_asked_again(demo_store: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """What fails is counted; the answers of the last look stand meanwhile."""
    looks = 0

    def fail(*_: object) -> None:
        nonlocal looks
        looks += 1
        raise StoreError("it failed") if looks % 2 else RuntimeError("it broke")

    with opened_store(demo_store) as engine:
        front, service = create_app(engine, demo_store, at=at("15:00"))
        service.refresh(at("15:00"))
        monkeypatch.setattr(service, "look", fail)
        monkeypatch.setattr("refuge.web.app.keep", lambda one, clock: keep(one, clock, every_s=0.01))
        with on_loopback(front, background=True) as client:
            wait_for(lambda: looks > 3)
            assert client.get("/v1/aircraft").status_code == 200
            assert "refuge_world_failures_total 0.0" not in client.get("/metrics").text
