"""Column types that keep the project's rules where a database would not."""

from collections.abc import Callable
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import DateTime
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

from refuge.errors import StoreError


class UtcInstant(TypeDecorator[datetime]):
    """An aware UTC instant. Naive ones are refused: SQLite drops offsets, and hours would be lost."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the instant in UTC, as the database is to keep it."""
        if value is None:
            return None
        if value.tzinfo is None or value.utcoffset() is None:
            raise StoreError(
                f"time {value.isoformat()} has no zone and was not stored", remedy="give an aware UTC time"
            )
        return value.astimezone(UTC)

    def bind_processor(self, dialect: Dialect) -> Callable[[Any], Any] | None:
        """Return the conversion on the way in; the rows of a cycle share few instants, which are converted once."""
        process = super().bind_processor(dialect)
        return process and lru_cache(maxsize=1024)(process)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the instant as aware UTC, whatever the database made of it."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
