"""``refuge check``: whether the files that people write can be used, and what they lack."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import click

from refuge.cli.options import instant_or_now
from refuge.errors import InputError

_Party = TypeVar("_Party")


@click.group(epilog="Example: refuge check aircraft fixtures/demo/aircraft/XA-GLASS.toml")
def check() -> None:
    """Check aircraft and minimums files."""


@check.command(
    short_help="Whether an aircraft file can be used.",
    epilog="Example: refuge check aircraft fixtures/demo/aircraft/XA-GLASS.toml",
)
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

    path = find_file(file, kind="aircraft", folders=[user_folder() / "aircraft"], where="FILE")
    checked = _one_fault_a_line(load_aircraft, path)
    found = findings(checked, instant_or_now(now).date())
    if as_json:
        click.echo(json.dumps(findings_json(checked, found), indent=2))
    else:
        click.echo(findings_text(checked, found, str(path)), nl=False)
    ctx.exit(1 if any(each.mark == "fails" for each in found) else 0)


@check.command(
    short_help="Which minimums count by a file.",
    epilog="Example: refuge check minimums fixtures/demo/minimums/XS-SCHOOL.toml",
)
@click.argument("file")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def minimums(*, file: str, as_json: bool) -> None:
    """Which minimums count by a file, by day and by night, and what is not set and therefore not checked.

    FILE is a file or an id. The strictest of floor, school and pilot counts. Exit 2 if the file cannot be used.
    """
    from refuge.config import user_folder
    from refuge.files.lookup import find_file
    from refuge.files.minimums import load_minimums
    from refuge.render.minimums import checked_minimums_json, checked_minimums_text

    path = find_file(file, kind="minimums", folders=[user_folder() / "minimums"], where="FILE")
    found = _one_fault_a_line(load_minimums, path)
    if as_json:
        click.echo(json.dumps(checked_minimums_json(found), indent=2))
    else:
        click.echo(checked_minimums_text(found, str(path)), nl=False)


def _one_fault_a_line(load: Callable[[Path], _Party], path: Path) -> _Party:
    """Return what a file holds; where it cannot be used, every mistake stands on a line of its own."""
    try:
        return load(path)
    except InputError as exc:
        faults = exc.what.split("; ")
        if len(faults) == 1:
            raise
        listed = "\n  ".join([f"{len(faults)} mistakes", *faults])
        raise InputError(f"{listed}\n{exc.remedy or ''}".rstrip(), where=exc.where) from exc
