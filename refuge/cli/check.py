"""``refuge check``: whether the files that people write can be used, and what they lack."""

import json

import click

from refuge.cli.options import instant_or_now


@click.group(epilog="Example: refuge check aircraft fixtures/demo/aircraft/XA-GLASS.toml")
def check() -> None:
    """Check the files that people write."""


@check.command(epilog="Example: refuge check aircraft fixtures/demo/aircraft/XA-GLASS.toml")
@click.argument("file")
@click.option(
    "--now", metavar="TIME", help="Ask as of this time (for the age of batteries), such as 2026-03-01T12:00Z."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def aircraft(ctx: click.Context, *, file: str, now: str | None, as_json: bool) -> None:
    """Whether an aircraft file can be used, and what is missing before its numbers can be relied upon.

    FILE is a file or an id. Exit 0 if no rule fails, 1 if one does, 2 if the file cannot be used.
    """
    from refuge.aircraft.fitness import findings
    from refuge.config import user_folder
    from refuge.files.aircraft import load_aircraft
    from refuge.files.lookup import find_file
    from refuge.render.findings import findings_json, findings_text

    path = find_file(file, kind="aircraft", folders=[user_folder() / "aircraft"])
    checked = load_aircraft(path)
    found = findings(checked, instant_or_now(now).date())
    if as_json:
        click.echo(json.dumps(findings_json(checked, found), indent=2))
    else:
        click.echo(findings_text(checked, found, str(path)), nl=False)
    ctx.exit(1 if any(each.mark == "fails" for each in found) else 0)
