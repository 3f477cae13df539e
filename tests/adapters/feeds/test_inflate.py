"""gzip within bounds."""

import gzip

import pytest

from refuge.errors import FeedError
from refuge.feeds.inflate import inflated

TEXT = b"METAR XABC 220250Z 24010KT\n" * 1000


@pytest.mark.parametrize(
    "packed",
    [
        TEXT,
        gzip.compress(TEXT),
        gzip.compress(gzip.compress(TEXT)),
        gzip.compress(TEXT[:27]) + gzip.compress(TEXT[27:]),
    ],
    ids=["plain", "once", "twice", "two members"],
)
def test_what_comes_out(packed: bytes) -> None:
    assert inflated(packed, where="x") == TEXT


def test_a_small_answer_may_not_become_a_large_one() -> None:
    bomb = gzip.compress(b"\0" * 10_000_000)
    assert len(bomb) < 20_000
    with pytest.raises(FeedError, match="more than 1,000,000 bytes unpacked"):
        inflated(bomb, where="x", max_bytes=1_000_000)


def test_the_bound_holds_over_members_together() -> None:
    members = gzip.compress(b"\0" * 600_000) * 2
    with pytest.raises(FeedError, match="more than"):
        inflated(members, where="x", max_bytes=1_000_000)


@pytest.mark.parametrize(
    ("packed", "why"), [(gzip.compress(TEXT)[:-20], "cut short"), (b"\x1f\x8bnonsense", "damaged gzip")]
)
def test_damage_is_no_shorter_answer(packed: bytes, why: str) -> None:
    with pytest.raises(FeedError, match=why):
        inflated(packed, where="x")
