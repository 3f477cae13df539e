"""What every source of bulletins is to the rest: one Protocol, and what it hands over."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from refuge.errors import FeedError
from refuge.weather.bulletin import Bulletin, Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Validators:
    """What an address said of its content, to ask later for what is newer (RFC 9110, 13.1)."""

    url: str
    etag: str | None = None
    last_modified: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Unusable:
    """A piece of a feed that is no bulletin: kept with its reason, it costs its neighbours nothing."""

    bulletin: Bulletin
    error: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetched:
    """What one fetch brought.

    ``unchanged`` means that the source has nothing newer than before. ``validators`` are to be
    kept once the bulletins are stored, never before: or a crash in between would lose them.
    ``errors`` are parts of the source that failed while others came.
    """

    bulletins: tuple[Bulletin, ...] = ()
    unusable: tuple[Unusable, ...] = ()
    unchanged: bool = False
    validators: tuple[Validators, ...] = ()
    errors: tuple[FeedError, ...] = ()


class Feed(Protocol):
    """A source of bulletins."""

    @property
    def name(self) -> str:
        """What the source is called in counts and messages: a path or an address."""
        ...

    def fetch(self, kind: Kind, since: Mapping[str, Validators]) -> Fetched:
        """Return the bulletins of this kind that are newer than `since`, the validators by address.

        Raises
        ------
        FeedError
            If the source failed or answered with something else.
        """
        ...
