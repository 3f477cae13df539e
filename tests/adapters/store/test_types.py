"""Only aware times get in, and they come out as the same instant in UTC."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import Engine, insert, select

from refuge.errors import StoreError
from refuge.store.engine import reading, writing
from refuge.store.schema import documents

ROW = {"kind": "aircraft", "id": "a", "text": ""}


def test_a_naive_time_is_refused(engine: Engine) -> None:
    naive = datetime(2022, 10, 22, 3)  # noqa: DTZ001 - the point
    with pytest.raises(StoreError, match="2022-10-22T03:00:00 has no zone"), writing(engine) as conn:
        conn.execute(insert(documents).values(**ROW, stored_at=naive))
    with reading(engine) as conn:
        assert conn.execute(select(documents)).all() == []


def test_a_naive_time_is_refused_in_a_question_too(engine: Engine) -> None:
    naive = datetime(2022, 10, 22, 3)  # noqa: DTZ001 - the point
    with pytest.raises(StoreError, match="no zone"), reading(engine) as conn:
        conn.execute(select(documents).where(documents.c.stored_at <= naive))


def test_an_offset_is_kept_as_the_same_instant(engine: Engine) -> None:
    with writing(engine) as conn:
        conn.execute(
            insert(documents).values(
                **ROW, stored_at=datetime(2022, 10, 21, 22, 0, 30, 5, tzinfo=timezone(timedelta(hours=-5)))
            )
        )
    with reading(engine) as conn:
        stored_at = conn.execute(select(documents.c.stored_at)).scalar()
    assert stored_at == datetime(2022, 10, 22, 3, 0, 30, 5, tzinfo=UTC)
    assert stored_at.utcoffset() == timedelta(0)
