"""Many rows at once, by the quickest way that each database has."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import (
    Column,
    ColumnElement,
    Connection,
    Dialect,
    MetaData,
    Table,
    any_,
    cast,
    func,
    literal,
    select,
    text,
    tuple_,
)
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.dialects.postgresql import Insert

from refuge.store.engine import is_postgres

AT_ONCE = 5_000
"""Values in one ``IN (...)``: SQLite takes 32,766 parameters in a statement, PostgreSQL 65,535."""
_FEW = 100
"""Below this many rows a plain INSERT is as quick as making a table to copy to."""

T = TypeVar("T")
Rows = Sequence[Mapping[str, Any]]


def in_parts(values: Iterable[T], size: int = AT_ONCE) -> Iterator[list[T]]:
    """Give the values in lists of at most `size`."""
    remaining = iter(values)
    while part := list(islice(remaining, size)):
        yield part


def among(conn: Connection, column: Column[Any], values: Sequence[Any]) -> ColumnElement[bool]:
    """Return the condition that a column is one of many values: as one array, or as one list of texts."""
    if is_postgres(conn.dialect.name):
        return column == any_(literal(list(values), postgresql.ARRAY(column.type)))
    if all(type(value) is str for value in values):
        # One parameter: thousands of them take longer to put into a statement than to look up.
        each = func.json_each(json.dumps(list(values))).table_valued("value")
        return column.in_(select(cast(each.c.value, column.type)))
    return column.in_(values)


def insert_rows(conn: Connection, table: Table, rows: Rows) -> None:
    """Insert rows, which all have the same columns; one that is there already is an error."""
    if rows:
        _put(conn, table, rows, lambda statement: statement)


def insert_if_absent(conn: Connection, table: Table, rows: Rows) -> None:
    """Insert rows, which all have the same columns, leaving alone those that are there already."""
    if rows:
        _put(conn, table, rows, lambda statement: statement.on_conflict_do_nothing())


def insert_or_replace(conn: Connection, table: Table, rows: Rows, *, newer_by: Sequence[str] = ()) -> None:
    """Insert whole rows, each in place of the one with its key; with `newer_by` only where these columns grow."""

    def replacing(statement: Insert) -> Insert:
        fresh = statement.excluded
        grows = tuple_(*(fresh[name] for name in newer_by)) > tuple_(*(table.c[name] for name in newer_by))
        return statement.on_conflict_do_update(
            index_elements=list(table.primary_key),
            set_={column.name: fresh[column.name] for column in table.c if not column.primary_key},
            where=grows if newer_by else None,
        )

    if rows:
        _put(conn, table, rows, replacing)


def _put(conn: Connection, table: Table, rows: Rows, on_conflict: Callable[[Any], Any]) -> None:
    if not is_postgres(conn.dialect.name):
        conn.execute(on_conflict(sqlite.insert(table)), rows)
    elif len(rows) < _FEW:
        conn.execute(on_conflict(postgresql.insert(table)), rows)
    else:
        incoming = _copied(conn, table, rows)
        # In the order of arrival, or numbers that the database gives would differ from SQLite's.
        source = select(incoming).order_by(text("ctid"))
        conn.execute(on_conflict(postgresql.insert(table).from_select(list(rows[0]), source)))
        incoming.drop(conn)


def _copied(conn: Connection, table: Table, rows: Rows) -> Table:
    """Make a temporary table with the columns of these rows, and COPY them into it."""
    columns = [table.c[name] for name in rows[0]]
    incoming = Table(
        f"incoming_{table.name}",
        MetaData(),
        *(Column(column.name, column.type, autoincrement=False) for column in columns),
        prefixes=["TEMPORARY"],
        postgresql_on_commit="DROP",
    )
    incoming.create(conn)
    makers = [_maker(column, conn.dialect) for column in columns]
    names = ", ".join(f'"{column.name}"' for column in columns)
    cursor: Any = conn.connection.cursor()
    with closing(cursor), cursor.copy(f"COPY {incoming.name} ({names}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row([make(row[column.name]) for column, make in zip(columns, makers, strict=True)])
    return incoming


def _maker(column: Column[Any], dialect: Dialect) -> Callable[[Any], Any]:
    """Return what turns a value into the driver's, with the rules of the column's type (no naive times)."""
    process = column.type.dialect_impl(dialect).bind_processor(dialect)
    return process or (lambda value: value)
