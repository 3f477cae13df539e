"""Every error that refuge raises, one tree.

    RefugeError
    +-- InputError          what a person wrote: file, option, value (exit 2)
    +-- MissingDataError    nothing, or nothing recent enough, to answer from (exit 3)
    +-- FeedError           a source of bulletins or airfields failed (exit 4)
    |   +-- AbsentError     it has nothing at this address, or not yet
    |   +-- UnreachedError  no connection to it came about
    +-- StoreError          the database refused or is not what it should be (exit 3)

A message says what is wrong, where, and what to do. Foreign exceptions are mapped once, with
``raise ... from exc``. Missing weather is never an error: it is a value.
"""

from collections.abc import Iterable
from difflib import get_close_matches


class RefugeError(Exception):
    """Base of all errors of this project.

    Parameters
    ----------
    what : str
        What is wrong, one sentence.
    where : str, optional
        File, key, option or address.
    remedy : str, optional
        What to do about it.
    """

    exit_code = 1

    def __init__(self, what: str, *, where: str | None = None, remedy: str | None = None) -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        parts = [f"{where}: {what}" if where else what]
        if remedy:
            parts.append(remedy)
        super().__init__(" - ".join(parts))


class InputError(RefugeError):
    """What a person wrote cannot be used: a file, an option, a value."""

    exit_code = 2


class MissingDataError(RefugeError):
    """There is nothing, or nothing recent enough, to answer from."""

    exit_code = 3


class StoreError(RefugeError):
    """The database refused, or is not what it should be."""

    exit_code = 3


class FeedError(RefugeError):
    """A source of bulletins or airfields failed or answered with something else."""

    exit_code = 4


class AbsentError(FeedError):
    """A source has nothing at this address, or not yet."""


class UnreachedError(FeedError):
    """No connection to a source came about: its other addresses need not be asked."""


def similar(name: str, known: Iterable[str]) -> str:
    """Return a question after names that `name` may be a slip of, to end a sentence with; "" where none is near."""
    letters = set(name.upper())
    near = [
        each for each in known if abs(len(each) - len(name)) <= 1 and len(letters.difference(each.upper())) <= 1
    ]
    found = get_close_matches(name.upper(), {each.upper(): each for each in near}, n=3, cutoff=0.7)
    return f"; did you mean {' or '.join(sorted(found))}?" if found else ""
