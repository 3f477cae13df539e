"""A poll that nothing has changed for, against bare Starlette that says so with the same headers.

Both run as processes of their own on loopback (uvicorn, uvloop, httptools), in turns. Requests are
sent in batches, so that the time is the server's and not the client's.
"""

import json
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from statistics import median

from refuge.cli.demo import load

BATCH, BATCHES, ROUNDS = 50, 60, 5
LEAST_RATIO = 0.6
QUERY = "at=44.0,-38.0&aircraft=XA-GLASS&minimums=XS-SCHOOL&altitude=6000&lowest_safe=2200"
BARE = """
import json, sys
import uvicorn
from starlette.applications import Starlette
from starlette.responses import Response
from starlette.routing import Route

HEADERS = json.loads(sys.argv[2])

async def find(request):
    return Response(status_code=304, headers=HEADERS)

app = Starlette(routes=[Route("/v1/find", find)])
uvicorn.run(app, host="127.0.0.1", port=int(sys.argv[1]), loop="uvloop", http="httptools", ws="none",
            access_log=False, server_header=False, log_level="critical")
"""


def free_port() -> int:
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def running(command: list[str], port: int) -> Iterator[None]:
    process = subprocess.Popen(command, stderr=subprocess.DEVNULL)
    try:
        deadline_s = time.monotonic() + 60
        while exchange(port, b"GET /v1/find?%b HTTP/1.1\r\nhost: x\r\n\r\n" % QUERY.encode())[:1] not in (
            b"2",
            b"3",
        ):
            assert process.poll() is None
            assert time.monotonic() < deadline_s
            time.sleep(0.2)
        yield
    finally:
        process.terminate()
        process.wait(20)


def exchange(port: int, request: bytes) -> bytes:
    """Return status line (after the version) and headers of one answer; nothing if nobody answers."""
    try:
        with closing(socket.create_connection(("127.0.0.1", port), timeout=10)) as connection:
            connection.sendall(request)
            head = b""
            while b"\r\n\r\n" not in head:
                head += connection.recv(65536)
            return head.partition(b" ")[2].partition(b"\r\n\r\n")[0]
    except OSError:
        return b""


def polls_per_s(port: int, etag: str) -> float:
    """Return how many polls a second one connection gets answered, all of them 304."""
    request = f"GET /v1/find?{QUERY} HTTP/1.1\r\nhost: x\r\nif-none-match: {etag}\r\n\r\n".encode()
    size = len(b"HTTP/1.1 " + exchange(port, request) + b"\r\n\r\n")
    with closing(socket.create_connection(("127.0.0.1", port), timeout=10)) as connection:
        start_s = time.perf_counter()
        for _ in range(BATCHES):
            connection.sendall(request * BATCH)
            got = b""
            while len(got) < size * BATCH:
                got += connection.recv(1 << 20)
            assert got.count(b"HTTP/1.1 304") == BATCH
        return BATCHES * BATCH / (time.perf_counter() - start_s)


def test_a_304_costs_little_more_than_nothing(
    tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    store = tmp_path / "refuge-demo.sqlite"
    load(str(store))
    ours, bare = free_port(), free_port()
    serve = [sys.executable, "-m", "refuge", "serve", "--store", str(store), "--now", "2026-03-10T15:00Z"]
    with running([*serve, "--port", str(ours)], ours):
        first = exchange(ours, f"GET /v1/find?{QUERY} HTTP/1.1\r\nhost: x\r\n\r\n".encode()).decode()
        sent = dict(line.split(": ", 1) for line in first.splitlines()[1:])
        headers = {name: sent[name] for name in ("etag", "cache-control", "vary")}
        with running([sys.executable, "-c", BARE, str(bare), json.dumps(headers)], bare):
            pairs = [(polls_per_s(ours, sent["etag"]), polls_per_s(bare, sent["etag"])) for _ in range(ROUNDS)]
    ratio = median(mine / theirs for mine, theirs in pairs)
    mine, theirs = (median(column) for column in zip(*pairs, strict=True))
    record_property("ratio", ratio)
    sys.stderr.write(f"\n304: {mine:,.0f}/s, bare Starlette {theirs:,.0f}/s, ratio {ratio:.2f}\n")
    assert ratio >= LEAST_RATIO
