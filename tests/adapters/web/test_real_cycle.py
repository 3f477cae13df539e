"""One real cycle of the world in three parts: over HTTP the bytes of the command line, on either store."""

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner

from refuge.cli import app
from refuge.packaged import packaged
from refuge.store.documents import DocumentKind, put_document
from refuge.store.engine import writing
from refuge.store.opening import opened_store
from refuge.web.app import create_app
from refuge.web.service import Service
from refuge.zulu import parse_instant
from tests.adapters.worker.test_real_cycle import airfields, parts  # noqa: F401 - a fixture
from tests.surfaces.web.conftest import on_loopback

KEPT: dict[DocumentKind, str] = {"aircraft": "XA-GYRO", "minimums": "XS-SCHOOL"}
FAILS = "2022-10-22T03:10Z"
QUESTION = {
    "at": "35.7,139.9", "aircraft": "XA-GYRO", "minimums": "XS-SCHOOL", "altitude": "6000", "lowest_safe": "1500",
    "oat": "5", "wind": "280/25", "fuel_min": "120", "fails": FAILS,
}  # fmt: skip


def run(*words: str) -> bytes:
    result = CliRunner().invoke(app, list(words))
    assert result.exit_code in (0, 1), result.output  # 1: answered, and none meets
    return result.stdout_bytes


@pytest.fixture
def store(store_url: str, airfields: list[str], shared_data: Path, tmp_path: Path) -> str:  # noqa: F811 - a fixture
    from refuge.gazetteer.stations import read_stations
    from refuge.store.places import replace_stations

    first = parse_instant("2022-10-22T02:00Z")
    run("import", "airfields", *airfields, "--now", "2022-10-22T02:00Z", "--store", store_url)
    with opened_store(store_url) as engine:
        content = (shared_data / "stations" / "stations.cache.json").read_bytes()
        replace_stations(engine, read_stations(content, where="test")[0], source="test", imported_at=first)
        with writing(engine) as conn:
            for kind, name in KEPT.items():
                text = (packaged("demo") / kind / f"{name}.toml").read_text(encoding="utf-8")
                put_document(conn, kind, name, text, stored_at=first)
    return store_url


@pytest.fixture
def served(store: str) -> Iterator[tuple[httpx.Client, Service]]:
    with opened_store(store) as engine:
        front, service = create_app(engine, store)
        with on_loopback(front) as client:
            yield client, service
        service.close()


@pytest.mark.shared_data
def test_each_part_is_answered_alike(
    served: tuple[httpx.Client, Service], store: str, shared_data: Path, tmp_path: Path
) -> None:
    client, service = served
    words = [word for name, text in QUESTION.items() for word in (f"--{name.replace('_', '-')}={text}",)]
    etags = []
    for at, table in parts(shared_data).items():
        file = tmp_path / "metars.cache.csv"
        file.write_text(table, encoding="utf-8")
        run("collect", str(file), "--now", at, "--store", store)
        assert service.look(parse_instant(at)) or service.look(parse_instant(at))
        answer = client.get("/v1/find", params=QUESTION)
        assert answer.content == run("find", *words, "--now", at, "--store", store, "--json")
        etags.append(answer.headers["etag"])
        again = client.get("/v1/find", params=QUESTION, headers={"if-none-match": etags[-1]})
        assert again.status_code == 304
        earlier = client.get("/v1/find", params=QUESTION, headers={"if-none-match": ", ".join(etags[:-1])})
        assert earlier.status_code == 200
    assert len(set(etags)) == len(etags)
