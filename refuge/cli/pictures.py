"""What commands that draw share: the kind by the file's name, and writing it."""

from collections.abc import Callable
from pathlib import Path

import click

from refuge.errors import InputError

KINDS = ("svg", "png")


def write_picture(path: Path, draw: Callable[[str], bytes]) -> None:
    """Write what `draw` makes of the kind that a file's name asks for, and say so.

    Raises
    ------
    InputError
        If the name is no picture's, or the file cannot be written.
    """
    kind = path.suffix.lower().removeprefix(".")
    if kind not in KINDS:
        raise InputError(f"{path.name} is neither .svg nor .png", where="--picture", remedy="name such a file")
    drawn = draw(kind)
    try:
        path.write_bytes(drawn)
    except OSError as exc:
        raise InputError(
            f"{path} cannot be written: {exc.strerror}", where="--picture", remedy="name another file"
        ) from exc
    click.echo(f"note: drawn into {path}", err=True)
