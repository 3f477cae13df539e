"""Guidance from raw blocks to a situation: heard, missing, and of another instant; through a store in memory."""

from datetime import UTC, datetime, timedelta

import pytest

from refuge.weather.bulletin import Bulletin, Kind
from refuge.wiring import weather_of_bulletins

NOW = datetime(2028, 2, 28, 22, 50, tzinfo=UTC)


def metar(name: str, at: datetime) -> Bulletin:
    raw = f"METAR {name} {at:%d%H%M}Z 27005KT 10SM CLR 10/02 A3000"
    return Bulletin(kind=Kind.METAR, raw=raw, source="test", received_at=at + timedelta(minutes=2))


def block(name: str, *, ran: datetime, lost: bool = False) -> Bulletin:
    """Return a block of LAV with 25 hours, of the layout of the LAMP card."""
    times = [ran.replace(minute=0) + timedelta(hours=h) for h in range(1, 26)]
    lines = [
        f" {name}   GFS LAMP GUIDANCE   {ran.month}/{ran.day:02d}/{ran.year}  {ran:%H%M} UTC",
        " UTC " + "".join(f" {t:%H}" for t in times),
        *(f" {key} " + f"{value:>3}" * 25 for key, value in (
            ("TMP", 10), ("DPT", 2), ("WDR", 27), ("WSP", 5), ("PPO", 0), ("LP1", 0), ("POZ", 0), ("CIG", 8),
            ("CCG", 8), ("VIS", 7), ("CVS", 7), ("OBV", "N"),
        )),
    ]  # fmt: skip
    raw = "\n".join(lines[:2] if lost else lines)
    return Bulletin(kind=Kind.GUIDANCE, raw=raw, source="test", received_at=ran + timedelta(minutes=10))


def test_guidance_that_was_heard_comes_with_its_block() -> None:
    known = weather_of_bulletins(
        [metar("KXYZ", NOW - timedelta(minutes=20)), block("KXYZ", ran=NOW - timedelta(minutes=20))], NOW
    )
    assert known.hearing["KXYZ"].guidance
    assert known.hearing["KXYZ"].reports
    assert [one.product for one in known.guidance["KXYZ"].blocks] == ["LAV"]


@pytest.mark.parametrize("hours", [7, 20])
def test_guidance_of_this_morning_is_no_longer_there_and_still_bears(hours: int) -> None:
    """Older than six runs it is stale; that the station has guidance is still known: unknown, not absent."""
    known = weather_of_bulletins([metar("KXYZ", NOW), block("KXYZ", ran=NOW - timedelta(hours=hours))], NOW)
    assert known.hearing["KXYZ"].guidance
    assert "KXYZ" not in known.guidance or not known.guidance["KXYZ"].blocks


def test_what_was_never_heard_of_guidance_has_none() -> None:
    known = weather_of_bulletins([metar("KXYZ", NOW - timedelta(minutes=20))], NOW)
    assert not known.hearing["KXYZ"].guidance
    assert known.guidance == {}
