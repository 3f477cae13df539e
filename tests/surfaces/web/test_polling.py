"""A program that polls sees exactly what changes: 304 until question, evidence or verdicts do.

Everything here is invented: two airfields with stations, and a third 600 NM off.
"""

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import httpx
import pytest

from refuge.airfield import Airfield, Runway, Station
from refuge.ingest import ingest
from refuge.store.engine import Store
from refuge.store.opening import opened_store
from refuge.store.places import replace_airfields, replace_stations
from refuge.weather.bulletin import Bulletin, Kind
from refuge.web.app import create_app
from refuge.web.service import Service, next_turn
from tests.surfaces.web.conftest import at, on_loopback, wait_for

QUESTION = {
    "at": "44.0,-38.0", "aircraft": "XA-GLASS", "minimums": "XS-SCHOOL", "altitude": "6000", "lowest_safe": "1500",
    "oat": "10", "wind": "270/10", "fails": "2026-03-10T13:45Z",
}  # fmt: skip
PLACES = {"XAAA": (44.1, -38.1), "XBBB": (44.2, -37.9), "XFAR": (50.0, -50.0)}
TAFS = [f"TAF {name} 101130Z 1012/1112 27010KT CAVOK" for name in PLACES]
NOON = [f"METAR {name} 101200Z 27010KT CAVOK 12/02 Q1015" for name in PLACES]
LATER_FAR = ["METAR XFAR 101230Z 27010KT 9999 OVC005 12/11 Q1015"]
FOG = [
    "SPECI XAAA 101233Z 27003KT 0200 FG VV001 08/08 Q1015",
    "TAF AMD XAAA 101233Z 1012/1112 27003KT 0200 FG VV001",
]


@dataclass(kw_only=True)
class Poller:
    """A client that keeps the last answer, and asks only for a newer one."""

    client: httpx.Client
    etag: str | None = None
    bodies: list[bytes] = field(default_factory=list)

    def poll(self) -> int:
        headers = {} if self.etag is None else {"if-none-match": self.etag}
        answer = self.client.get("/v1/find", params=QUESTION, headers=headers)
        assert answer.headers["etag"]
        if answer.status_code == 200:
            self.etag = answer.headers["etag"]
            self.bodies.append(answer.content)
        else:
            assert answer.content == b""
        return answer.status_code

    def verdict(self, airfield: str) -> str:
        answer = httpx.Response(200, content=self.bodies[-1]).json()
        verdict: str = next(e["verdict"] for e in answer["entries"] if e["airfield"]["id"] == airfield)
        return verdict


@pytest.fixture
def engine(empty_store: str) -> Iterator[Store]:
    with opened_store(empty_store) as opened:
        runway = Runway(idents="09/27", length_ft=5000, surface="hard", lighted=True)
        fields = [
            Airfield(
                id=name, name=name, lat_deg=lat, lon_deg=lon, elevation_ft=100.0, country="Velmark",
                station_id=name, runways=(runway,), lights="dusk_to_dawn",
            )
            for name, (lat, lon) in PLACES.items()
        ]  # fmt: skip
        stations = [
            Station(
                id=name, name=name, lat_deg=lat, lon_deg=lon, elevation_ft=100.0, country="Velmark", reports=True,
                forecasts=True,
            )
            for name, (lat, lon) in PLACES.items()
        ]  # fmt: skip
        replace_stations(opened, stations, source="test", imported_at=at("11:00"))
        replace_airfields(opened, fields, source="test", imported_at=at("11:00"))
        yield opened


def receive(engine: Store, texts: list[str], received: datetime) -> None:
    kinds = {"TAF": Kind.TAF, "METAR": Kind.METAR, "SPECI": Kind.METAR}
    bulletins = [
        Bulletin(kind=kinds[text.split()[0]], raw=text, source="test", received_at=received) for text in texts
    ]
    assert ingest(engine, bulletins, now=received).new == len(texts)


@pytest.fixture
def served(engine: Store, empty_store: str) -> Iterator[tuple[Poller, Service]]:
    front, service = create_app(engine, empty_store)
    with on_loopback(front) as client:
        yield Poller(client=client), service
    service.close()


def test_three_cycles_and_a_report_that_turns_stale(engine: Store, served: tuple[Poller, Service]) -> None:
    poller, service = served
    receive(engine, [*TAFS, *NOON], at("12:05"))
    assert service.look(at("12:20:00"))
    assert [poller.poll(), poller.poll()] == [200, 304]
    assert [poller.verdict("XAAA"), poller.verdict("XBBB")] == ["meets", "meets"]

    # A minute later nothing has changed, though the answer is worked out anew.
    assert service.look(at("12:21:01"))
    assert poller.poll() == 304

    # The second cycle brings what no airfield in question rests on.
    receive(engine, LATER_FAR, at("12:34"))
    assert service.refresh(at("12:35:00"))
    assert poller.poll() == 304

    # The third brings fog to one of the two.
    receive(engine, FOG, at("12:36"))
    assert service.refresh(at("12:37:00"))
    assert [poller.poll(), poller.poll()] == [200, 304]
    assert poller.verdict("XAAA") == "misses"
    assert poller.verdict("XBBB") != "meets"  # the fog stands in the area around it

    # The reports of noon are stale after their 75th minute (method.md 4), with nothing received.
    assert service.refresh(at("13:15:00"))
    assert poller.poll() == 304
    assert service.refresh(at("13:15:01"))
    assert [poller.poll(), poller.poll()] == [200, 304]
    assert len(set(poller.bodies)) == len(poller.bodies) == 3


def test_the_kept_answer_is_the_one_that_the_store_would_give(
    engine: Store, served: tuple[Poller, Service]
) -> None:
    """After each cycle the bytes from memory are those of a replay as of the same instant."""
    poller, service = served
    for texts, received in (([*TAFS, *NOON], "12:05"), (LATER_FAR, "12:34"), (FOG, "12:36")):
        receive(engine, texts, at(received))
        asked = at(received) + timedelta(seconds=30)
        service.refresh(asked)
        kept = poller.client.get("/v1/find", params=QUESTION)
        replay = poller.client.get("/v1/find", params=QUESTION | {"now": asked.isoformat()})
        assert kept.content == replay.content
        assert kept.headers["etag"] == replay.headers["etag"]


def test_a_failure_now_is_another_question_each_minute(engine: Store, served: tuple[Poller, Service]) -> None:
    poller, service = served
    receive(engine, [*TAFS, *NOON], at("12:05"))
    moving = {name: value for name, value in QUESTION.items() if name != "fails"}
    service.refresh(at("12:20:00"))
    first = poller.client.get("/v1/find", params=moving)
    service.refresh(at("12:21:01"))
    second = poller.client.get("/v1/find", params=moving)
    assert first.headers["etag"] != second.headers["etag"]
    assert second.json()["question"]["fails_at"] == "2026-03-10T12:21:01Z"


def test_the_etag_is_known_in_every_way_it_may_be_sent(engine: Store, served: tuple[Poller, Service]) -> None:
    """RFC 9110, 13.1.2: a list, any, and the weak comparison."""
    poller, service = served
    receive(engine, [*TAFS, *NOON], at("12:05"))
    service.refresh(at("12:20:00"))
    etag = poller.client.get("/v1/find", params=QUESTION).headers["etag"]
    for sent, status in (
        (etag, 304), (etag.removeprefix("W/"), 304), (f'"other", {etag}', 304), ("*", 304), ('"other"', 200),
    ):  # fmt: skip
        answer = poller.client.get("/v1/find", params=QUESTION, headers={"if-none-match": sent})
        assert answer.status_code == status, sent


@pytest.mark.parametrize(
    ("read", "turns"),
    [
        ("12:00:10", "12:01:01"), ("12:01:00", "12:01:01"), ("12:01:01", "12:02:01"), ("12:00:59.999", "12:01:01"),
    ],
)  # fmt: skip
def test_the_next_turn_is_one_second_past_a_minute(read: str, turns: str) -> None:
    assert next_turn(at(read)) == at(turns)


def test_a_cycle_that_still_lands_is_waited_for(engine: Store, served: tuple[Poller, Service]) -> None:
    """Parts that land within a second of each other are read together."""
    _, service = served
    receive(engine, [*TAFS, *NOON], at("12:05"))
    service.look(at("12:20:01"))
    receive(engine, LATER_FAR, at("12:34"))
    assert not service.look(at("12:20:10"))
    receive(engine, FOG, at("12:36"))
    assert not service.look(at("12:20:11"))
    assert service.look(at("12:20:12"))
    assert not service.look(at("12:20:13"))


def test_a_store_that_stands_still_is_read_each_minute(engine: Store, served: tuple[Poller, Service]) -> None:
    _, service = served
    assert service.look(at("12:20:01"))
    assert not service.look(at("12:21:00"))
    assert service.look(at("12:21:01"))


def test_readers_see_whole_cycles(engine: Store, served: tuple[Poller, Service]) -> None:
    """Each cycle reports both stations at one minute: no answer holds two of them."""
    poller, service = served
    receive(engine, TAFS, at("11:35"))
    stop = threading.Event()
    seen: set[frozenset[str]] = set()

    def read() -> None:
        while not stop.is_set():
            answer = poller.client.get("/v1/find", params=QUESTION)
            if answer.status_code == 200:
                evidence = [e for entry in answer.json()["entries"] for e in entry["evidence"]]
                seen.add(frozenset(e["time"] for e in evidence if e["kind"] == "METAR"))

    reader = threading.Thread(target=read)
    reader.start()
    for minute in range(20):
        texts = [f"METAR {name} 1012{minute:02d}Z 27010KT CAVOK 12/02 Q1015" for name in PLACES]
        receive(engine, texts, at(f"12:{minute:02d}:30"))
        service.refresh(at(f"12:{minute:02d}:40"))
    stop.set()
    reader.join(30)
    assert len(seen) > 1
    assert all(len(times) == 1 for times in seen)


def test_a_real_server_on_loopback_tells_of_a_cycle(engine: Store, empty_store: str) -> None:
    """The whole way: a background look finds what landed, and a poll over a socket gets it."""
    receive(engine, [*TAFS, *NOON], at("12:05"))
    front, _ = create_app(engine, empty_store, at=at("12:40"))
    with on_loopback(front, background=True) as client:
        wait_for(lambda: client.get("/readyz").status_code == 200)
        poller = Poller(client=client)
        assert [poller.poll(), poller.poll()] == [200, 304]
        receive(engine, FOG, at("12:36"))
        wait_for(lambda: poller.poll() == 200)
        assert poller.verdict("XAAA") == "misses"
        assert poller.poll() == 304


def test_one_bad_question_keeps_no_other_old(
    engine: Store, served: tuple[Poller, Service], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    poller, service = served
    receive(engine, [*TAFS, *NOON], at("12:05"))
    service.refresh(at("12:20:00"))
    poller.poll()
    assert service.state is not None
    kept = next(iter(service.state.answers.values()))

    def broken(held: object) -> None:
        raise RuntimeError("a fault")

    monkeypatch.setattr(kept, "make", broken)
    assert service.refresh(at("12:21:01"))
    assert service.state.held.world.read_at == at("12:21:01")
    assert service.state.answers == {}
