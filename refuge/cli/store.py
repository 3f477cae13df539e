"""refuge store: bring the schema up to date, decode anew, say what is in it."""

import json
from datetime import datetime

import click

from refuge.zulu import iso

_STORE = click.option(
    "--store", "store_text", envvar="REFUGE_STORE", metavar="URL", help="Where the store is: a URL or a file."
)


@click.group(epilog="Example: refuge store info")
def store() -> None:
    """Look after the store: upgrade, redecode, info."""


@store.command(epilog="Example: refuge store upgrade --store ~/flying/refuge.sqlite")
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


@store.command(epilog="Example: refuge store redecode")
@_STORE
@click.option("--json", "as_json", is_flag=True, help="Print the counts as JSON.")
def redecode(store_text: str | None, as_json: bool) -> None:
    """Decode every bulletin in the store anew, with the present decoder."""
    from refuge.cli.progress import counting
    from refuge.ingest import redecode as decode_anew
    from refuge.store.engine import reading
    from refuge.store.opening import opened_store
    from refuge.store.raws import bulletin_count

    with opened_store(store_text) as engine:
        with reading(engine) as conn:
            total = bulletin_count(conn)
        with counting("decoding", total) as progress:
            counts = decode_anew(engine, progress=progress)
    answer = {"decoded": counts.decoded, "changed": counts.changed, "refused": counts.refused}
    click.echo(json.dumps(answer) if as_json else "  ".join(f"{name} {count:,}" for name, count in answer.items()))


@store.command(epilog="Example: refuge store info --json")
@_STORE
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def info(store_text: str | None, as_json: bool) -> None:
    """Say what the store holds: counts, first and last receipt, last imports."""
    from refuge.store.engine import reading
    from refuge.store.opening import opened_store
    from refuge.store.raws import kinds_info, last_imports, table_counts

    with opened_store(store_text) as engine, reading(engine) as conn:
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
