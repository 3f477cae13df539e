"""Which receipts are one bulletin, and which correction counts more."""

from datetime import UTC, datetime, timedelta

import pytest

from refuge.store.identity import correction_rank, digest_of
from refuge.weather.bulletin import Bulletin, Kind

NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)


def bulletin(raw: str, *, kind: Kind = Kind.METAR, received_at: datetime = NOW, source: str = "a") -> Bulletin:
    return Bulletin(kind=kind, raw=raw, source=source, received_at=received_at)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("METAR XABC 220250Z 00000KT CLR", "METAR XABC 220250Z  00000KT\n  CLR="),
        ("METAR XABC 220250Z 00000KT CLR", "metar xabc 220250z 00000kt clr "),
    ],
)
def test_spaces_case_and_the_closing_sign_make_no_difference(one: str, other: str) -> None:
    assert digest_of(bulletin(one)) == digest_of(bulletin(other))


def test_source_and_hour_of_receipt_make_no_difference() -> None:
    raw = "METAR XABC 220250Z 00000KT CLR"
    later = bulletin(raw, received_at=NOW + timedelta(hours=5), source="b")
    assert digest_of(bulletin(raw)) == digest_of(later)


def test_the_same_words_a_month_later_are_another_bulletin() -> None:
    raw = "METAR XABC 220250Z 00000KT CLR"
    assert digest_of(bulletin(raw)) != digest_of(bulletin(raw, received_at=NOW + timedelta(days=31)))


def test_a_text_without_a_time_is_told_apart_by_the_day_of_receipt() -> None:
    raw = "TAF XABC NIL"
    same = bulletin(raw, kind=Kind.TAF, received_at=NOW + timedelta(hours=5))
    later = bulletin(raw, kind=Kind.TAF, received_at=NOW + timedelta(days=1))
    assert digest_of(bulletin(raw, kind=Kind.TAF)) == digest_of(same) != digest_of(later)


def test_columns_of_winds_aloft_are_part_of_the_text() -> None:
    # one more blank moves a group to another height
    head = (
        "FD1US1\nDATA BASED ON 220000Z\nVALID 220600Z   FOR USE 0200-0900Z. TEMPS NEG ABV 24000\n"
        "\nFT  3000    6000\n"
    )
    one, other = (bulletin(head + line, kind=Kind.WINDS) for line in ("ABI      2544+15", "ABI 2544+15"))
    assert digest_of(one) != digest_of(other)


@pytest.mark.parametrize(
    ("raw", "corrected", "rank"),
    [
        ("METAR XABC 220250Z 00000KT CLR", False, 0),
        ("METAR COR XABC 220250Z 00000KT CLR", True, 1),
        ("METAR XABC 220250Z CCA 00000KT CLR", True, 1),
        ("METAR XABC 220250Z CCB 00000KT CLR", True, 2),
        ("METAR XABC 220250Z COR 00000KT CLR RMK CCB", True, 1),
    ],
)
def test_rank_of_a_correction(raw: str, corrected: bool, rank: int) -> None:
    # CCx: Canadian MANOBS, correction x (decoding.md, M18); COR: WMO-No. 306, FM 15
    assert correction_rank(raw, corrected=corrected) == rank
