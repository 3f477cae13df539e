"""The table of the newest reports answers as a plain look at all rows does, at any instant, in any order."""
# ruff: noqa: S311 - replays from seeds, no secrets

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import groupby
from typing import Any

import pytest
from sqlalchemy import Engine, delete, func, select

from refuge.ingest import ingest, redecode
from refuge.store.engine import reading, writing
from refuge.store.raws import bulletins_after
from refuge.store.reads import AHEAD_ISSUED, AHEAD_OBSERVED, forecasts_as_of, latest_observations
from refuge.store.rows import Refusal
from refuge.store.schema import forecasts, latest, observations
from refuge.store.version import data_version
from refuge.store.write import replace_decoded
from refuge.weather.bulletin import Bulletin, Kind

# Every text here is invented (prefix X).
NOW = datetime(2022, 10, 22, 12, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
STATIONS = ("XAAA", "XBBB", "XCCC")


def plain_observations(engine: Engine, now: datetime) -> dict[str, str]:
    """Return by the definition: made and received by now, the newest, then its last correction, then receipt."""
    with reading(engine) as conn:
        rows = conn.execute(select(observations)).all()
    known = [row for row in rows if row.received_at <= now and row.observed_at <= now + AHEAD_OBSERVED]
    known.sort(key=lambda row: (row.observed_at, row.correction, row.received_at, row.bulletin_id))
    return {row.station: row.record for row in known}


def plain_forecasts(engine: Engine, now: datetime) -> dict[str, list[str]]:
    """Return by the definition: the newest, and its predecessors up to the first that has begun."""
    with reading(engine) as conn:
        rows = conn.execute(select(forecasts)).all()
    # TAF: valid 30 hours at most (WMO-No. 306, FM 51); 60 is twice that
    oldest = now - timedelta(hours=60)
    known = [row for row in rows if row.received_at <= now and oldest <= row.issued_at <= now + AHEAD_ISSUED]
    order = ("issued_at", "correction", "received_at", "bulletin_id")
    known.sort(key=lambda row: (row.station, *(getattr(row, name) for name in order)))
    found = {}
    for station, same in groupby(known, key=lambda row: row.station):
        bearing: dict[tuple[Any, ...], Any] = {}
        for row in reversed(list(same)):
            bearing.setdefault((row.issued_at, row.valid_from, row.valid_to), row)
            if row.valid_from is not None and row.valid_from <= now:
                break
        found[station] = [row.record for row in bearing.values()]
    return found


def texts(rng: random.Random) -> Iterator[Bulletin]:
    """Give reports and forecasts with slips of the clock, corrections and late receipts, in any order."""
    while True:
        made = NOW + rng.choice((-1, 1)) * rng.choice((0, 1, 7, 10, 20, 40, 90, 300)) * MINUTE
        received = NOW + rng.randint(-400, 400) * MINUTE
        station, correction = rng.choice(STATIONS), rng.choice(("", "", "COR ", "CCB "))
        if rng.random() < 0.6:
            raw = f"METAR {station} {made:%d%H%M}Z {correction}2401{rng.randint(0, 9)}KT 9999 OVC010 10/05 Q1012"
            yield Bulletin(kind=Kind.METAR, raw=raw, source="test", received_at=received)
        else:
            start = (made + rng.choice((0, 1, 2)) * 60 * MINUTE).replace(minute=0)
            end = start + timedelta(hours=rng.choice((6, 24)))
            head = rng.choice(("TAF", "TAF AMD", "TAF COR"))
            body = rng.choice((f"2401{rng.randint(0, 9)}KT 9999 OVC010", "CNL"))
            raw = f"{head} {station} {made:%d%H%M}Z {start:%d%H}/{end:%d%H} {body}"
            yield Bulletin(kind=Kind.TAF, raw=raw, source="test", received_at=received)


def agree(engine: Engine, now: datetime) -> None:
    from refuge.store.records import forecast_from_text, observation_from_text

    with reading(engine) as conn:
        reports, in_force = latest_observations(conn, now), forecasts_as_of(conn, now)
        some = latest_observations(conn, now, station_ids=STATIONS[:1])
    plain = {key: observation_from_text(record) for key, record in plain_observations(engine, now).items()}
    assert reports == plain
    assert some == {key: value for key, value in plain.items() if key == STATIONS[0]}
    assert {key: list(found) for key, found in in_force.items()} == {
        key: [forecast_from_text(record) for record in records]
        for key, records in plain_forecasts(engine, now).items()
    }


@pytest.mark.parametrize("seed", range(4))
def test_it_answers_as_all_rows_do_at_any_instant(engine: Engine, seed: int) -> None:
    rng = random.Random(seed)
    source = texts(rng)
    for _ in range(25):
        batch = [next(source) for _ in range(rng.choice((1, 1, 2, 5)))]
        ingest(engine, batch, now=NOW + 500 * MINUTE)
        agree(engine, NOW + rng.randint(-420, 420) * MINUTE)
    for hours in (-8, -2, 0, 2, 8, 50, 80):
        agree(engine, NOW + timedelta(hours=hours))
    with reading(engine) as conn:
        assert conn.scalar(select(func.count()).select_from(latest)) == len(STATIONS) * 2


def test_a_newest_report_that_is_decoded_anew_to_nothing_gives_way(engine: Engine) -> None:
    rng = random.Random(7)
    source = texts(rng)
    ingest(engine, [next(source) for _ in range(60)], now=NOW + 500 * MINUTE)
    with reading(engine) as conn:
        stored = {item.id: item for item in bulletins_after(conn, 0, limit=100)}
        newest = conn.scalars(select(latest.c.bulletin_id)).all()
    with writing(engine) as conn:
        spoiled = [(number, stored[number].bulletin, Refusal(error="no more")) for number in newest]
        replace_decoded(conn, spoiled, decoder="test")
    with reading(engine) as conn:
        assert not set(conn.scalars(select(latest.c.bulletin_id))) & set(newest)
    agree(engine, NOW)
    redecode(engine)
    with reading(engine) as conn:
        assert set(conn.scalars(select(latest.c.bulletin_id))) == set(newest)
    agree(engine, NOW)


def test_a_migration_finds_the_newest_of_a_store_that_has_no_such_table(engine: Engine) -> None:
    from alembic import command

    from refuge.store.upgrade import alembic_config, upgrade

    source = texts(random.Random(8))
    ingest(engine, [next(source) for _ in range(60)], now=NOW + 500 * MINUTE)
    with reading(engine) as conn:
        kept = {row.bulletin_id: row for row in conn.execute(select(latest))}
    with writing(engine) as conn:
        command.downgrade(alembic_config(conn), "0001_pre_first_tables")
    upgrade(engine)
    with reading(engine) as conn:
        assert {row.bulletin_id: row for row in conn.execute(select(latest))} == kept


def test_a_change_of_what_answers_rest_on_moves_the_version_and_nothing_else_does(engine: Engine) -> None:
    report = next(text for text in texts(random.Random(9)) if text.kind is Kind.METAR)
    seen = []

    def look() -> None:
        with reading(engine) as conn:
            seen.append(data_version(conn))

    look()
    ingest(engine, [report], now=NOW + 500 * MINUTE)
    look()
    ingest(engine, [report], now=NOW + 500 * MINUTE)
    look()
    redecode(engine)
    look()
    with writing(engine) as conn:
        conn.execute(delete(observations).where(observations.c.bulletin_id < 0))
    look()
    assert seen[0] < seen[1] == seen[2] < seen[3] == seen[4]
