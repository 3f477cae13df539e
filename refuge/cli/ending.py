"""How a call ends that is interrupted, whose words are no text, or whose answer does not get out.

None of these may end with 1, which is an answer: none meets.
"""

import errno
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress

import click

from refuge.errors import InputError

INTERRUPTED = 130
"""128 + SIGINT, as shells count (common practice; POSIX says more than 128)."""
_CLOSED = 141
"""128 + SIGPIPE: whoever read the answer has gone."""
_NOT_WRITTEN = 2
_FULL = frozenset({errno.EPIPE, errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO})
"""Why an answer may not get out."""


class OutputError(Exception):
    """What was to be written was not: its reader is gone, or there is no room."""


@contextmanager
def naming_output() -> Iterator[None]:
    """Turn what the system says of output that does not get out into one error of that name.

    Click would end a closed pipe with 1.
    """
    try:
        yield
    except OSError as exc:
        if exc.errno not in _FULL:
            raise
        raise OutputError(exc.strerror) from exc


def ended_without_output(error: OutputError) -> int:
    """Return the code to exit with, having said why, but for a reader that is gone: that one wants no more."""
    code = _CLOSED if isinstance(error.__cause__, BrokenPipeError) else _NOT_WRITTEN
    if code != _CLOSED:
        with suppress(OSError):
            click.echo(f"refuge: output cannot be written: {error} - make room, or write elsewhere", err=True)
    _let_go()
    return code


def _let_go() -> None:
    """Point the outputs at nothing: what is still in them would fail once more when Python ends."""
    nothing = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError, AttributeError):  # one that is no file, or closed
            os.dup2(nothing, stream.fileno())
    os.close(nothing)


def check_text(words: Sequence[str]) -> None:
    """Refuse words with bytes in them that are no text: nothing can look them up, nor show them.

    Raises
    ------
    InputError
        If there is one; it shows the word with a mark for each such byte.
    """
    for word in words:
        try:
            word.encode()
        except UnicodeEncodeError as exc:
            shown = os.fsencode(word).decode(errors="replace")
            raise InputError(
                f"{shown!r} is no text in UTF-8", where="command line", remedy="write it anew, or rename the file"
            ) from exc
