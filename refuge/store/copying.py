"""A whole store into another, of either sort: resumable, and not to be read before it is whole.

Tables that only grow, by a number, go over in parts, each kept at once; they are the large ones.
All others go over in one last transaction, which also says that the copy is whole: until then its
revision carries a mark, by which every program refuses to open it.
"""

from collections.abc import Callable, Generator, Iterable
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Column, Connection, Engine, Integer, Table, delete, func, select, text, update

from refuge.errors import InputError
from refuge.store.bulk import AT_ONCE, in_parts, insert_rows
from refuge.store.engine import is_postgres, reading, writing
from refuge.store.near import refill_tree
from refuge.store.revision import UNFINISHED, VERSION, store_revision
from refuge.store.schema import HEAD, airfields, metadata, stations, versions
from refuge.store.upgrade import upgrade

_MARK = f"{UNFINISHED}{HEAD}"[:32]
"""As much as Alembic's column takes."""

Progress = Callable[[int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableCounts:
    """How many rows of one table each of the two stores has."""

    table: str
    source: int
    target: int


def row_counts(conn: Connection) -> dict[str, int]:
    """Return how many rows each table of a store has."""
    return {table.name: _count(conn, table) for table in metadata.sorted_tables}


def copy_store(source: Engine, target: Engine, *, progress: Progress) -> list[TableCounts]:
    """Copy all of a store into an empty one, or go on with a copy that broke off; return the counts of both.

    What is copied is the source of one instant. `progress` is told of rows, those of an earlier try too.
    Where the counts differ the copy stays marked as unfinished.

    Raises
    ------
    InputError
        If the target holds something else, or the source has changed under an unfinished copy.
    """
    with reading(source) as conn:
        _prepare(target)
        growing = [table for table in metadata.sorted_tables if _grows(table)]
        for table in growing:
            _copy_growing(conn, target, table, progress)
        others = [table for table in metadata.sorted_tables if table not in growing]
        with writing(target) as into:
            for table in reversed(others):
                into.execute(delete(table))
            for table in others:
                _copy_whole(conn, into, table, progress)
            _let_numbers_go_on(into, growing)
            there = row_counts(into)
            counts = [
                TableCounts(table=name, source=count, target=there[name])
                for name, count in row_counts(conn).items()
            ]
            if all(count.source == count.target for count in counts):
                into.execute(update(VERSION).values(version_num=HEAD))
            return counts


def _prepare(target: Engine) -> None:
    """Make the target's tables if it has none, and mark it as unfinished."""
    with reading(target) as conn:
        revision = store_revision(conn, unfinished=True)
    if revision is not None and revision.startswith(UNFINISHED):
        if revision != _MARK:
            raise _unfit(target, "holds an unfinished copy by another version of refuge")
        return
    upgrade(target)
    with writing(target) as conn:
        filled = [name for name, count in row_counts(conn).items() if count and name != versions.name]
        if filled:
            raise _unfit(target, f"is not empty: {', '.join(sorted(filled))}")
        conn.execute(update(VERSION).values(version_num=_MARK))


def _unfit(target: Engine, why: str) -> InputError:
    where = target.url.render_as_string(hide_password=True)
    return InputError(f"the store to copy to {why}", where=where, remedy="name an empty one")


def _grows(table: Table) -> bool:
    """Return whether rows are numbered, so that what is missing can be told by the last number."""
    keys = list(table.primary_key)
    numbered = len(keys) == 1 and isinstance(keys[0].type, Integer)
    return numbered and all(_grows(key.column.table) for key in table.foreign_keys)


def _number(table: Table) -> Column[Any]:
    return next(iter(table.primary_key))


def _copy_growing(conn: Connection, target: Engine, table: Table, progress: Progress) -> None:
    number = _number(table)
    with reading(target) as there:
        last = there.execute(select(table).order_by(number.desc()).limit(1)).first()
        done = _count(there, table)
    reached = 0
    if last is not None:
        reached = last._mapping[number]  # noqa: SLF001 - SQLAlchemy's public name for it
        if conn.execute(select(table).where(number == reached)).first() != last:
            raise _unfit(
                target, f"holds part of another store, or of this one before it was changed ({table.name})"
            )
        progress(done)
    with closing(_rows(conn, select(table).where(number > reached).order_by(number))) as rows:
        for some in in_parts(rows, AT_ONCE):
            with writing(target) as into:
                insert_rows(into, table, some)
            progress(len(some))


def _copy_whole(conn: Connection, into: Connection, table: Table, progress: Progress) -> None:
    with closing(_rows(conn, select(table))) as rows:
        for some in in_parts(rows, AT_ONCE):
            insert_rows(into, table, some)
            progress(len(some))
    if table in (airfields, stations):
        columns = select(table.c.id, table.c.lat_deg, table.c.lon_deg)
        refill_tree(into, table, [(row[0], row[1], row[2]) for row in into.execute(columns)])


def _rows(conn: Connection, statement: Any) -> Generator[dict[str, Any], None, None]:  # noqa: ANN401 - any SELECT
    with conn.execute(statement, execution_options={"yield_per": AT_ONCE}) as result:
        for row in result.mappings():
            yield dict(row)


def _let_numbers_go_on(into: Connection, growing: Iterable[Table]) -> None:
    """Let the database give numbers after the highest that was copied; SQLite does so by itself."""
    for table in growing:
        number = _number(table)
        if is_postgres(into.dialect.name) and number.autoincrement is True:
            highest = into.scalar(select(func.max(number)))
            if highest:
                into.execute(
                    text("SELECT setval(pg_get_serial_sequence(:name, :number), :highest)"),
                    {"name": table.name, "number": number.name, "highest": highest},
                )


def _count(conn: Connection, table: Table) -> int:
    return conn.scalar(select(func.count()).select_from(table)) or 0
