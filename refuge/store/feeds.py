"""What each address answered last, to ask it later for what is newer."""

from collections.abc import Iterable

from sqlalchemy import Connection, delete, insert, select

from refuge.store.schema import feed_state

Validator = tuple[str, str | None, str | None]
"""Address, ETag, Last-Modified."""


def keep_validators(conn: Connection, validators: Iterable[Validator]) -> None:
    """Keep what these addresses answered, in place of what they answered before."""
    rows = [{"url": url, "etag": etag, "last_modified": modified} for url, etag, modified in validators]
    if rows:
        conn.execute(delete(feed_state).where(feed_state.c.url.in_([row["url"] for row in rows])))
        conn.execute(insert(feed_state), rows)


def kept_validators(conn: Connection) -> list[Validator]:
    """Return what every address answered last."""
    rows = conn.execute(select(feed_state))
    return [(row.url, row.etag, row.last_modified) for row in rows]
