"""PostgreSQL so that it keeps the same promises as SQLite: one writer at a time, readers of one instant."""

from sqlalchemy import URL, Connection, Engine, create_engine, event

WAIT_MS = 5000
_WRITE_LOCK = 0x7265_6675_6765
"""Any number that is the same in every refuge: the name of the lock that a writer holds in its database."""
_CONNECT_S = 10


def open_postgres(url: URL) -> Engine:
    """Return an engine on a PostgreSQL database; nothing is connected yet."""
    engine = create_engine(
        url.set(drivername="postgresql+psycopg"),
        # A server may have been restarted since the last question of a long-lived process.
        pool_pre_ping=True,
        connect_args={"connect_timeout": _CONNECT_S, "options": "-c timezone=UTC", "application_name": "refuge"},
    )
    event.listen(engine, "begin", _begin)
    return engine


def _begin(conn: Connection) -> None:
    """Take the write lock where one is to write.

    What is read before it is written (who was heard, what is known) must not change in between, and
    what one cycle brings must be seen before what the next one does. Readers never wait.
    """
    options = conn.get_execution_options()
    if not options.get("refuge_writes", False):
        return
    conn.exec_driver_sql(f"SET LOCAL lock_timeout = {options.get('refuge_wait_ms', WAIT_MS)}")
    conn.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITE_LOCK})")
