"""Workers as processes of their own, and what can be asked of the database about them."""

import shlex
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sqlalchemy import Engine, text

NURSERY = """
import os, shlex, sys
import refuge.cli.work, refuge.store.opening, refuge.store.upgrade, refuge.worker.lead, refuge.worker.run
from refuge.cli import main
for line in sys.stdin:
    child = os.fork()
    if not child:
        main(shlex.split(line))
    print(child, flush=True)
    while True:
        _, status = os.waitpid(child, os.WUNTRACED)
        print("stopped" if os.WIFSTOPPED(status) else f"ended {os.waitstatus_to_exitcode(status)}", flush=True)
        if not os.WIFSTOPPED(status):
            break
"""
"""A process that has imported everything, and forks a worker for each line of words; it says what becomes of it."""


class Nursery:
    """Where the workers come from; each is a process of its own, which lives for one run."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def worker(self, *words: str) -> int:
        """Start ``refuge work`` with these words; return its process number."""
        assert self._process.stdin is not None
        print(shlex.join(["work", *words]), file=self._process.stdin, flush=True)
        return int(self.said())

    def said(self) -> str:
        """Wait for what becomes of the worker: stopped, or ended with its exit code (negative: the signal)."""
        assert self._process.stdout is not None
        return self._process.stdout.readline().strip()


@contextmanager
def nursery() -> Iterator[Nursery]:
    with subprocess.Popen(
        [sys.executable, "-c", NURSERY], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        text=True,
    ) as process:  # fmt: skip
        yield Nursery(process)


@contextmanager
def asking_for_writers(engine: Engine) -> Iterator[Callable[[], bool]]:
    """Give a function that tells whether somebody else is inside an open write transaction now."""
    if engine.dialect.name == "postgresql":
        writes = text(
            "SELECT count(*) FROM pg_stat_activity"
            " WHERE datname = current_database() AND backend_xid IS NOT NULL AND pid <> pg_backend_pid()"
        )
        with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as conn:
            yield lambda: conn.scalar(writes) > 0
        return
    other = sqlite3.connect(str(engine.url.database), timeout=0, isolation_level=None)

    def locked() -> bool:
        try:
            other.execute("begin immediate")
        except sqlite3.OperationalError as exc:
            if "locked" not in str(exc):
                raise
            return True
        other.execute("rollback")
        return False

    yield locked
    other.close()
