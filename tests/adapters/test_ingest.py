"""Fetch, decode, store: the same twice is once, one bad text costs no other, decoding anew."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Connection, Engine, func, select

from refuge import ingest as module
from refuge.errors import InputError
from refuge.ingest import IngestCounts, RedecodeCounts, ingest, redecode
from refuge.store.engine import reading
from refuge.store.opening import opened_store
from refuge.store.reads import latest_observations
from refuge.store.schema import bulletins, observations, refused
from refuge.store.write import add_bulletins
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.metar import decode_observation
from refuge.weather.record import DECODER_VERSION
from refuge.weather.reports import Observation, Unreadable

# Every text here is invented (prefix X).
NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)
GOOD = "METAR XABC 220250Z 24010KT 10SM OVC040 10/05 A2992"


def metar(raw: str = GOOD, *, received_at: datetime = NOW, source: str = "one") -> Bulletin:
    return Bulletin(kind=Kind.METAR, raw=raw, source=source, received_at=received_at)


def test_the_same_bulletin_twice_is_one_row_with_the_first_receipt(engine: Engine) -> None:
    assert ingest(engine, [metar()], now=NOW) == IngestCounts(new=1)
    later = NOW + timedelta(minutes=5)
    again = metar(GOOD + " =", received_at=later, source="other")
    assert ingest(engine, [again], now=later) == IngestCounts(known=1)
    with reading(engine) as conn:
        (row,) = conn.execute(select(bulletins)).all()
        assert len(conn.execute(select(observations)).all()) == 1
    assert (row.raw, row.source, row.received_at) == (GOOD, "one", NOW)


def test_twice_in_one_go_is_one_row(engine: Engine) -> None:
    assert ingest(engine, [metar(), metar(source="other")], now=NOW) == IngestCounts(new=1, known=1)
    with reading(engine) as conn:
        assert conn.execute(select(bulletins.c.source)).scalars().all() == ["one"]


def test_the_same_words_a_month_later_are_another_row(engine: Engine) -> None:
    later = NOW + timedelta(days=31)
    assert ingest(engine, [metar()], now=NOW).new == 1
    assert ingest(engine, [metar(received_at=later)], now=later).new == 1
    with reading(engine) as conn:
        times = (
            conn.execute(select(observations.c.observed_at).order_by(observations.c.observed_at)).scalars().all()
        )
    # DDHHMM is resolved against the receipt (decoding.md)
    assert times == [datetime(2022, 10, 22, 2, 50, tzinfo=UTC), datetime(2022, 11, 22, 2, 50, tzinfo=UTC)]


@pytest.mark.parametrize("bad", ["", "METAR XABC", "\ufffd\ufffd", "hello, world", "METAR XABC 322599Z 10SM"])
def test_a_bad_text_costs_its_neighbours_nothing(engine: Engine, bad: str) -> None:
    texts = [metar(), metar(bad), metar(GOOD.replace("XABC", "XDEF"))]
    assert ingest(engine, texts, now=NOW) == IngestCounts(new=2, refused=1)
    assert ingest(engine, texts, now=NOW) == IngestCounts(known=3)
    with reading(engine) as conn:
        assert set(latest_observations(conn, NOW)) == {"XABC", "XDEF"}
        (kept,) = conn.execute(select(refused)).all()
    assert (kept.raw, kept.received_at) == (bad, NOW)
    assert kept.error


def test_a_fault_of_the_decoder_costs_only_its_report(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:

    def faulty(raw: str, *, received_at: datetime) -> Observation | Unreadable:
        if "XDEF" in raw:
            raise ZeroDivisionError("oops")
        return decode_observation(raw, received_at=received_at)

    monkeypatch.setattr(module, "decode_observation", faulty)
    counts = ingest(engine, [metar(), metar(GOOD.replace("XABC", "XDEF"))], now=NOW)
    assert counts == IngestCounts(new=1, refused=1)
    with reading(engine) as conn:
        assert conn.execute(select(refused.c.station, refused.c.error)).all() == [
            ("XDEF", "the decoder failed: ZeroDivisionError: oops")  # its station is kept: it hides what is older
        ]


def test_a_receipt_after_now_is_refused(engine: Engine) -> None:
    with pytest.raises(InputError, match="after now"):
        ingest(engine, [metar(received_at=NOW + timedelta(seconds=1))], now=NOW)


def test_more_than_one_chunk_with_progress(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CHUNK", 3)
    told: list[int] = []
    texts = [metar(GOOD.replace("XABC", f"XA{n:02d}")) for n in range(7)]
    assert ingest(engine, texts, now=NOW, progress=told.append) == IngestCounts(new=7)
    assert told == [3, 3, 1]


def test_decoding_anew_with_the_same_decoder_changes_nothing(engine: Engine) -> None:
    ingest(engine, [metar(), metar("METAR XABC")], now=NOW)
    with reading(engine) as conn:
        before = conn.execute(select(observations)).all()
    assert redecode(engine) == RedecodeCounts(decoded=2, changed=0, refused=1)
    with reading(engine) as conn:
        assert conn.execute(select(observations)).all() == before


def test_decoding_anew_with_a_better_decoder(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    def poor(raw: str, *, received_at: datetime) -> Unreadable:
        return Unreadable(raw=raw, kind="METAR", station="XABC", error="not yet")

    texts = [metar(GOOD.replace("XABC", f"XA{n:02d}")) for n in range(7)]
    with monkeypatch.context() as patch:
        patch.setattr(module, "decode_observation", poor)
        patch.setattr(module, "DECODER_VERSION", 0)
        assert ingest(engine, texts, now=NOW) == IngestCounts(refused=7)
    monkeypatch.setattr(module, "CHUNK", 3)
    told: list[int] = []
    later = NOW + timedelta(hours=9)
    assert redecode(engine, progress=told.append) == RedecodeCounts(decoded=7, changed=7, refused=0)
    assert told == [3, 3, 1]
    with reading(engine) as conn:
        assert conn.execute(select(refused)).all() == []
        assert set(conn.execute(select(bulletins.c.received_at)).scalars()) == {NOW}
        found = latest_observations(conn, later)
        assert set(conn.execute(select(observations.c.decoder)).scalars()) == {str(DECODER_VERSION)}
    assert {report.observed_at for report in found.values()} == {datetime(2022, 10, 22, 2, 50, tzinfo=UTC)}
    assert ingest(engine, texts, now=later) == IngestCounts(known=7)


def test_a_cycle_is_read_as_a_whole_or_not_at_all(store_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CHUNK", 3)
    texts = [metar(GOOD.replace("XABC", f"XA{n:02d}")) for n in range(40)]
    seen: list[tuple[int, int]] = []

    def look(conn: Connection) -> tuple[int, int]:
        return conn.scalar(select(func.count()).select_from(bulletins)) or 0, len(latest_observations(conn, NOW))

    def watched(conn: Connection) -> None:
        """Look from inside the transaction, and from outside, where nothing of it may show yet."""
        with reading(other) as outside:
            seen.extend([look(conn), look(outside)])

    with opened_store(store_url) as engine, opened_store(store_url) as other:
        assert ingest(engine, texts, now=NOW, also=watched) == IngestCounts(new=40)
        assert seen == [(40, 40), (0, 0)]
        with reading(other) as conn:
            assert look(conn) == (40, 40)


def test_a_cycle_that_ends_badly_leaves_nothing(engine: Engine) -> None:
    texts = [metar(GOOD.replace("XABC", f"XA{n:02d}")) for n in range(40)]

    def break_off(conn: Connection) -> None:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        ingest(engine, texts, now=NOW, also=break_off)
    with reading(engine) as conn:
        assert conn.scalar(select(func.count()).select_from(bulletins)) == 0
        assert latest_observations(conn, NOW) == {}
    assert ingest(engine, texts, now=NOW) == IngestCounts(new=40)


def test_cycles_are_never_divided_and_small_ones_put_together(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "CHUNK", 4)
    sizes: list[int] = []
    real = add_bulletins

    def counted(conn: Connection, items: dict[str, object], *, decoder: str) -> set[str]:
        sizes.append(len(items))
        return real(conn, items, decoder=decoder)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "add_bulletins", counted)
    receipts = [0] * 3 + [1] * 9 + [2] + [3] + [4] + [5] * 5 + [6]
    texts = [
        metar(GOOD.replace("XABC", f"XA{n:02d}"), received_at=NOW + timedelta(minutes=minute))
        for n, minute in enumerate(receipts)
    ]
    assert ingest(engine, texts, now=NOW + timedelta(hours=1)).new == len(texts)
    assert sizes == [12, 8, 1]


def test_what_is_stored_first_is_what_came_first(engine: Engine) -> None:
    texts = [metar(GOOD.replace("XABC", f"XA{n:02d}")) for n in range(150)]
    ingest(engine, texts, now=NOW)
    with reading(engine) as conn:
        stored = conn.scalars(select(bulletins.c.raw).order_by(bulletins.c.id)).all()
    assert stored == [text.raw for text in texts]


def test_nul_costs_nothing(engine: Engine) -> None:
    assert ingest(engine, [metar(GOOD + " RMK A\x00B"), metar("\x00")], now=NOW) == IngestCounts(new=1, refused=1)
    with reading(engine) as conn:
        assert sorted(conn.scalars(select(bulletins.c.raw))) == [" ", GOOD + " RMK A B"]


def test_two_writers_at_once_store_each_bulletin_once(store_url: str) -> None:
    texts = [metar(GOOD.replace("XABC", f"X{n:03d}")) for n in range(400)]
    with opened_store(store_url) as one, opened_store(store_url) as other, ThreadPoolExecutor(2) as pool:
        counts = list(pool.map(lambda engine: ingest(engine, texts, now=NOW), (one, other)))
        assert sum(count.new for count in counts) == 400
        with reading(one) as conn:
            assert conn.scalar(select(func.count()).select_from(observations)) == 400
            assert len(latest_observations(conn, NOW)) == 400
