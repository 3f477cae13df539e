"""refuge store: bring the schema up to date, decode anew, copy, say what is in it."""

import json
from datetime import datetime

import click

from refuge.errors import InputError, StoreError
from refuge.zulu import iso

_STORE = click.option(
    "--store", "store_text", envvar="REFUGE_STORE", metavar="URL", help="Where the store is: a URL or a file."
)


@click.group(epilog="Example: refuge store info --store refuge-demo.sqlite")
def store() -> None:
    """Look after the store: upgrade, redecode, copy, info."""


@store.command(epilog="Example: refuge store upgrade --store refuge-demo.sqlite")
@_STORE
def upgrade(store_text: str | None) -> None:
    """Bring the store's tables up to date, or make them. Every command does so when it must."""
    from refuge.store.engine import open_engine
    from refuge.store.upgrade import upgrade as apply
    from refuge.store.url import resolve_store_url

    engine = open_engine(resolve_store_url(store_text))
    try:
        before, after = apply(engine)
    finally:
        engine.dispose()
    click.echo(f"{after}: already there" if before == after else f"{before or 'empty'} -> {after}")


@store.command(epilog="Example: refuge store redecode --store refuge-demo.sqlite")
@_STORE
@click.option("--json", "as_json", is_flag=True, help="Print the counts as JSON.")
def redecode(store_text: str | None, as_json: bool) -> None:
    """Decode every bulletin in the store anew, with the present decoder."""
    from refuge.cli.progress import counting
    from refuge.ingest import redecode as decode_anew
    from refuge.store.engine import reading
    from refuge.store.opening import existing_store
    from refuge.store.raws import bulletin_count

    with existing_store(store_text) as engine:
        with reading(engine) as conn:
            total = bulletin_count(conn)
        with counting("decoding", total) as progress:
            counts = decode_anew(engine, progress=progress)
    answer = {"decoded": counts.decoded, "changed": counts.changed, "refused": counts.refused}
    click.echo(json.dumps(answer) if as_json else "  ".join(f"{name} {count:,}" for name, count in answer.items()))


@store.command(epilog="Example: refuge store copy refuge-demo.sqlite copy.sqlite")
@click.argument("source_text", metavar="FROM")
@click.argument("target_text", metavar="TO")
@click.option("--json", "as_json", is_flag=True, help="Print the counts as JSON.")
def copy(source_text: str, target_text: str, as_json: bool) -> None:
    """Copy a whole store to another, empty one: SQLite to PostgreSQL or back.

    A copy that broke off is gone on with when the same is asked again. Until it is whole, no
    command opens TO. At the end the rows of both are counted; the exit code is 3 if they differ.
    """
    from refuge.cli.progress import counting
    from refuge.store.copying import copy_store, row_counts
    from refuge.store.engine import open_engine, reading
    from refuge.store.opening import existing_store

    source_url, target_url = _two_stores(source_text, target_text)
    with existing_store(source_url) as source:
        with reading(source) as conn:
            total = sum(row_counts(conn).values())
        target = open_engine(target_url)
        try:
            with counting("copying", total) as progress:
                counts = copy_store(source, target, progress=progress)
        finally:
            target.dispose()
    if as_json:
        tables = [{"table": c.table, "from": c.source, "to": c.target} for c in counts]
        click.echo(json.dumps({"same": all(c.source == c.target for c in counts), "tables": tables}))
    else:
        click.echo(f"{'table':<16}{'from':>12}{'to':>12}")
        for c in counts:
            click.echo(f"{c.table:<16}{c.source:>12,}{c.target:>12,}")
    if different := [c.table for c in counts if c.source != c.target]:
        raise StoreError(
            f"not the same number of rows in {', '.join(different)}",
            where=target.url.render_as_string(hide_password=True),
            remedy="empty it and copy again; until then no command opens it",
        )


def _two_stores(source: str, target: str) -> tuple[str, str]:
    """Return the URLs of two stores."""
    from refuge.store.url import resolve_store_url

    urls = resolve_store_url(source), resolve_store_url(target)
    if urls[0] == urls[1]:
        raise InputError("it is the same store", where=target, remedy="name another to copy to")
    return urls


@store.command(epilog="Example: refuge store info --store refuge-demo.sqlite --json")
@_STORE
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def info(store_text: str | None, as_json: bool) -> None:
    """Say what the store holds: counts, first and last receipt, last imports."""
    from refuge.store.engine import reading
    from refuge.store.opening import existing_store
    from refuge.store.raws import kinds_info, last_imports, table_counts

    with existing_store(store_text) as engine, reading(engine) as conn:
        kinds, rows, imports = kinds_info(conn), table_counts(conn), list(last_imports(conn))
    where = engine.url.render_as_string(hide_password=True)
    if as_json:
        answer = {
            "store": where,
            "bulletins": [
                {"kind": k.kind.value, "count": k.count, "oldest": _iso(k.oldest), "newest": _iso(k.newest)}
                for k in kinds
            ],
            "rows": rows,
            "imports": [
                {"what": i.what, "source": i.source, "time": iso(i.imported_at), "counts": json.loads(i.counts)}
                for i in imports
            ],
        }
        click.echo(json.dumps(answer, ensure_ascii=False))
        return
    click.echo(f"store {where}")
    for k in kinds:
        when = f"   received {_iso(k.oldest)} to {_iso(k.newest)}" if k.count else ""
        click.echo(f"{k.kind.value:<10}{k.count:>10,}{when}")
    for name, count in rows.items():
        click.echo(f"{name:<10}{count:>10,}")
    for i in imports:
        click.echo(f"{i.what} imported {iso(i.imported_at)} from {i.source}")


def _iso(instant: datetime | None) -> str | None:
    return iso(instant) if instant else None
