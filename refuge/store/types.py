"""Column types that keep the project's rules where a database would not."""

from datetime import UTC, datetime

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

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the instant as aware UTC, whatever the database made of it."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
