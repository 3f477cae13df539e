"""`refuge airfield`: what the store knows of one airfield, and from where."""

import click

from refuge.cli.options import store_option
from refuge.errors import InputError, similar


@click.command(no_args_is_help=True, epilog="Example: refuge airfield XORR --store refuge-demo.sqlite")
@click.argument("identifier", metavar="ID")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@store_option
def airfield(*, identifier: str, as_json: bool, store: str | None) -> None:
    """Show what is known of the airfield ID: place, lights, tower, runways, each with its source.

    ID is the identifier that answers use, or another code that the field goes or went by.
    """
    from refuge.render.airfield import airfield_lines, airfield_text
    from refuge.store.engine import reading
    from refuge.store.opening import existing_store
    from refuge.store.places import airfield as stored
    from refuge.store.places import airfield_codes_of, airfields_by_code, place_ids, station

    name = identifier.strip().upper()
    with existing_store(store) as engine, reading(engine) as conn:
        found = stored(conn, name)
        if found is None:
            found = next((stored(conn, other) for other in airfields_by_code(conn, name)), None)
        if found is None:
            raise InputError(
                f"{identifier} is no airfield of the store{similar(name, place_ids(conn))}",
                where="ID",
                remedy="write its identifier or code, not its name; or load more: refuge import airfields",
            )
        codes = airfield_codes_of(conn).get(found.id, ())
        at_field = None if found.station_id is None else station(conn, found.station_id)
    if as_json:
        click.echo(airfield_lines(found, codes, at_field), nl=False)
    else:
        click.echo(airfield_text(found, codes, at_field), nl=False)
