"""Finding a file that a person names: by its path, or by an id in one of some folders."""

from collections.abc import Sequence
from pathlib import Path

from refuge.errors import InputError, similar


def find_file(name: str, *, kind: str, folders: Sequence[Path], where: str | None = None) -> Path:
    """Return the TOML file that `name` means: a path, or the id of a file in the first folder that has it.

    Parameters
    ----------
    name : str
        ``some/where/XA-GYRO.toml`` or ``XA-GYRO``.
    kind : str
        ``aircraft`` or ``minimums``, for the message.
    folders : sequence of Path
        Where ids are looked up, in order.
    where : str, optional
        What names the file, for the message; the option of that kind if not given.

    Raises
    ------
    InputError
        If there is no such file.
    """
    path = Path(name)
    if path.is_file():
        return path
    if path.name == name and not name.startswith("."):  # an id never leads out of the folders
        for folder in folders:
            if (folder / f"{name}.toml").is_file():
                return folder / f"{name}.toml"
    known = [path.stem for folder in folders for path in folder.glob("*.toml")]
    looked = ", ".join(map(str, folders))
    raise InputError(
        f"no {kind} file or id {name!r}{similar(name, known)}",
        where=where or f"--{kind}",
        remedy=f"name a TOML file, or put one into {looked}",
    )
