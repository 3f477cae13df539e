"""What commands that draw share: the kind by the file's name, and writing it."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from refuge.errors import InputError

KINDS = ("svg", "png")


def picture_option(text: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Return what adds ``--picture`` to a command; a name that is no picture's is refused before the work."""
    return click.option(
        "--picture", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", callback=_checked, help=text
    )


def _checked(_ctx: click.Context, _param: click.Parameter, path: Path | None) -> Path | None:
    if path is not None:
        _kind_of(path)
    return path


def _kind_of(path: Path) -> str:
    kind = path.suffix.lower().removeprefix(".")
    if kind not in KINDS:
        raise InputError(f"{path.name} is neither .svg nor .png", where="--picture", remedy="name such a file")
    return kind


def write_picture(path: Path, draw: Callable[[str], bytes]) -> None:
    """Write what `draw` makes of the kind that a file's name asks for, and say so.

    Raises
    ------
    InputError
        If the name is no picture's, or the file cannot be written.
    """
    drawn = draw(_kind_of(path))
    try:
        path.write_bytes(drawn)
    except OSError as exc:
        raise InputError(
            f"{path} cannot be written: {exc.strerror}", where="--picture", remedy="name another file"
        ) from exc
    click.echo(f"note: drawn into {path}", err=True)
