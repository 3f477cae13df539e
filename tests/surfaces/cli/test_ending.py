"""How a call ends that gives no answer: never with 1, which says that none meets, and never with a traceback."""

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

INTERRUPTED, CLOSED, USAGE = 128 + signal.SIGINT, 128 + signal.SIGPIPE, 2
"""As shells count a death by a signal (bash's manual, from memory); 2 is bad input (interface.md)."""


def refuge(*words: str | bytes, before: str = "", **more: Any) -> subprocess.CompletedProcess[str]:
    program = f"import sys\n{before}\nfrom refuge.__main__ import main\nmain()"
    call = [sys.executable, "-c", program, *words]
    return subprocess.run(call, check=False, stderr=subprocess.PIPE, text=True, errors="replace", **more)


def complaints(done: subprocess.CompletedProcess[str]) -> list[str]:
    """Return what stands on stderr but for the line with which a demo begins."""
    return [line for line in done.stderr.splitlines() if line and not line.startswith("loading the invented")]


@pytest.mark.parametrize("words", [["--help"], ["find", "--help"], ["demo"]])
def test_a_reader_that_is_gone_ends_it_quietly(words: list[str]) -> None:
    reads, writes = os.pipe()
    os.close(reads)
    try:
        done = refuge(*words, stdout=writes)
    finally:
        os.close(writes)
    assert (done.returncode, complaints(done)) == (CLOSED, [])


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize("words", [["--help"], ["demo"]])
def test_a_full_disk_is_said(words: list[str]) -> None:
    with Path("/dev/full").open("w") as full:
        done = refuge(*words, stdout=full)
    assert done.returncode == USAGE
    assert done.stderr.splitlines()[-1] == (
        "refuge: output cannot be written: No space left on device - make room, or write elsewhere"
    )
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "words",
    [[b"airfield", b"Z\xfc"], [b"find", b"--at", b"Z\xfcrich"], [b"find", b"--aircraft=Z\xfc"]],
)
def test_bytes_that_are_no_text_are_refused(words: list[bytes]) -> None:
    done = refuge(*words, stdout=subprocess.PIPE, env={**os.environ, "PYTHONUTF8": "1"})
    assert done.returncode == USAGE
    assert done.stdout == ""
    assert "is no text in UTF-8" in done.stderr
    assert "Traceback" not in done.stderr


STOPS = """
import builtins, signal
load = builtins.__import__
def stop(name, *more):
    if name == {module!r}:
        signal.raise_signal(signal.SIGINT)
    return load(name, *more)
builtins.__import__ = stop
"""


@pytest.mark.parametrize("module", ["click", "refuge.feeds.folder", "numpy"])
def test_an_interruption_has_a_code_of_its_own(module: str) -> None:
    """While the command line is loaded, a command, and what it needs."""
    done = refuge("demo", before=STOPS.format(module=module), stdout=subprocess.PIPE)
    assert done.returncode == INTERRUPTED
    assert complaints(done) == []
