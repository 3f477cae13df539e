"""``refuge import areas``: prohibited and restricted areas, identification zones, class B."""

import json
from pathlib import Path

import click

from refuge.cli.options import instant_or_now, store_option
from refuge.errors import InputError
from refuge.zulu import iso


@click.command(epilog="Example: refuge import areas special-use.geojson")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--kind", type=click.Choice(["prohibited", "restricted", "adiz", "class_b"]),
    help="What all areas of the file are, where no column says it.",
)  # fmt: skip
@store_option
@click.option("--now", metavar="T", help="Time of the import, UTC, for replays; else the clock's.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def areas(*, file: Path, kind: str | None, store: str | None, now: str | None, as_json: bool) -> None:
    """Load areas from FILE, GeoJSON or GeoPackage, in place of what a file of that name brought before.

    A column kind (or type, TYPE_CODE, CLASS) says what each is: prohibited (P), restricted (R), danger (D), warning
    (W), adiz, class_b. Prohibited areas put an airfield out, on the way as at the field; so does a track that
    enters an identification zone; fields in the others rank last. Heights and hours are not looked at.
    """
    from refuge.gazetteer.area_files import read_areas
    from refuge.store.areas import replace_areas
    from refuge.store.opening import opened_store

    imported_at = instant_or_now(now)
    found, report = read_areas(file, kind=kind)  # type: ignore[arg-type]  # click has checked the word
    if not found:
        raise InputError(
            "no area was left to import",
            where=str(file),
            remedy="look at the kinds, or give --kind: " + "; ".join(report.lines()),
        )
    with opened_store(store) as engine:
        replace_areas(engine, found, source=file.name, imported_at=imported_at)
    if as_json:
        body = {"imported_at": iso(imported_at), "reports": [report.as_json()]}
        click.echo(json.dumps(body, ensure_ascii=False, indent=2))
    else:
        click.echo("\n".join(report.lines()) + "\n")
