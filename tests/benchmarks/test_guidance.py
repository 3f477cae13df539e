"""How fast a cycle of station guidance gets in, against the least that anybody could do.

pytest tests/benchmarks/test_guidance.py --benchmark-enable -s
"""

import sqlite3
import time
from collections.abc import Iterable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from http.client import HTTPConnection
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from pytest_httpserver import HTTPServer
from sqlalchemy import Engine

from refuge.feeds.guidance import SETTINGS, GuidanceFeed
from refuge.ingest import collect
from refuge.store.engine import reading
from refuge.store.guidance import guidance_as_of
from refuge.store.opening import opened_store
from refuge.weather.bulletin import Kind

NOW = datetime(2026, 4, 7, 16, 30, tzinfo=UTC)
STATIONS = 9000
HOURS = 23
SPARSE = ("P12", "Q06", "Q12", "DUR", "T06", "T12", "S06", "I06", "HID", "TXN", "XND", "P06")
DENSE = (
    "TMP TSD DPT DSD WBG SKY SSD WDR WSP WSD SWH GST GSD T03 PZR PSN PPL PRA SLV CIG IFC LCB VIS IFV MHT TWD TWS"
)


def cycle() -> bytes:
    """Return a made-up NBS file of 9,000 stations with as many lines as a real one of V5.0."""
    ahead = range(6, 6 + 3 * HOURS, 3)
    frame = [
        " DT     " + "".join(f"/APR{day:4d}".ljust(24) for day in (8, 9, 10)).rstrip(),
        " UTC " + "".join(f"{(15 + n) % 24:3d}" for n in ahead).replace("  0", " 00"),
        " FHR " + "".join(f"{n:3d}" for n in ahead),
    ]
    blocks = []
    for number in range(STATIONS):
        rows = [
            f" {name} " + "".join(f"{(number + i * 7) % 36:3d}" for i in range(HOURS)) for name in DENSE.split()
        ]
        rows += [f" {name} " + "  5   " * (HOURS // 2) for name in SPARSE]
        head = f" X{number:04d}   NBM V5.0 NBS GUIDANCE    4/07/2026  1500 UTC"
        blocks.append("\n".join([head, *frame, *rows, " " * 74, ""]))
    return "".join(blocks).encode()


def plainly(lines_of: Iterable[bytes], path: Path) -> tuple[float, float]:
    """Gather lines into blocks with a plain loop, insert the raw texts: return the seconds, processor and clock."""
    begun = time.thread_time(), time.perf_counter()
    conn = sqlite3.connect(path)
    conn.execute("CREATE TABLE bulletins (id INTEGER PRIMARY KEY, raw TEXT NOT NULL, received_at TEXT)")
    raws, lines = [], []
    for one in lines_of:
        line = one.decode("ascii")
        if line.strip():
            lines.append(line.rstrip())
        elif lines:
            raws.append(("\n".join(lines), NOW.isoformat()))
            lines = []
    conn.executemany("INSERT INTO bulletins (raw, received_at) VALUES (?, ?)", raws)
    conn.commit()
    conn.close()
    assert len(raws) == STATIONS
    return time.thread_time() - begun[0], time.perf_counter() - begun[1]


@pytest.mark.benchmark(group="guidance")
def test_a_cycle_of_9000_stations(benchmark: BenchmarkFixture, httpserver: HTTPServer, tmp_path: Path) -> None:
    """At most so many times a plain loop that fetches and inserts the same, by processor time of this thread."""
    content = cycle()
    httpserver.no_handler_status_code = 404
    path = "/pub/data/nccf/com/blend/prod/blend.20260407/15/text/blend_nbstx.t15z"
    httpserver.expect_request(path).respond_with_data(content)
    feed = GuidanceFeed(
        product="NBS",
        received_at=NOW,
        wanted={f"X{n:04d}" for n in range(STATIONS)},
        base_url=httpserver.url_for("").rstrip("/"),
        settings=replace(SETTINGS, attempts=1),
    )
    took: list[tuple[float, float]] = []

    def collected(engine: Engine) -> None:
        begun = time.thread_time(), time.perf_counter()
        done = collect(engine, feed, Kind.GUIDANCE, now=NOW)
        took.append((time.thread_time() - begun[0], time.perf_counter() - begun[1]))
        assert (done.counts.new, done.counts.refused) == (STATIONS, 0)

    held = [plainly(content.splitlines(keepends=True), tmp_path / f"held{n}.sqlite") for n in range(3)]
    plain = []
    for n in range(3):
        with closing(HTTPConnection(httpserver.host, httpserver.port, timeout=30)) as connection:
            connection.request("GET", path)
            plain.append(plainly(connection.getresponse(), tmp_path / f"plain{n}.sqlite"))
    for n in range(2):
        with opened_store(str(tmp_path / f"store{n}.sqlite")) as engine:
            collected(engine)
    with opened_store(str(tmp_path / "store.sqlite")) as engine:
        benchmark.pedantic(lambda: collected(engine))  # type: ignore[no-untyped-call]
        begun = time.thread_time()
        with reading(engine) as conn:
            found = guidance_as_of(conn, NOW)
        read_s = time.thread_time() - begun
    assert len(found) == STATIONS
    assert all(one.blocks and not one.unreadable for one in found.values())
    (took_s, wall_s), (plain_s, plain_wall_s) = min(took), min(plain)
    print(  # noqa: T201 - the figures are what one runs it for
        f"\n{len(content) / 1e6:.1f} MB, {STATIONS} stations: {took_s:.2f} s, plain {plain_s:.2f} s,"
        f" ratio {took_s / plain_s:.2f} (by the clock {wall_s:.2f} s, {plain_wall_s:.2f} s);"
        f" held {min(held)[0]:.2f} s; all read back in {read_s:.2f} s"
    )
    assert took_s <= 3 * plain_s
