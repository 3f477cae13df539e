"""Reading TOML that people write, and turning every fault into one error they can act on."""

import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from refuge.errors import InputError

Model = TypeVar("Model", bound=BaseModel)


class Strict(BaseModel):
    """A table of a file: no unknown keys, no text where a number belongs, no infinities."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True)


def read_toml(path: Path) -> dict[str, Any]:
    """Return the tables of a TOML file.

    Raises
    ------
    InputError
        If there is no such file, or it is no TOML.
    """
    try:
        return parse_toml(path.read_text(encoding="utf-8"), str(path))
    except OSError as exc:
        raise InputError(
            f"cannot be read: {exc.strerror}", where=str(path), remedy="check the name of the file"
        ) from exc
    except UnicodeDecodeError as exc:
        raise InputError(f"is no TOML: {exc}", where=str(path), remedy="mend that line") from exc


def parse_toml(text: str, where: str) -> dict[str, Any]:
    """Return the tables of a TOML text, which comes from `where`.

    Raises
    ------
    InputError
        If it is no TOML.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        raise InputError(f"is no TOML: {exc}", where=where, remedy="mend that line") from exc


def checked(model: type[Model], tables: dict[str, Any], *, where: str, remedy: str) -> Model:
    """Return `tables` as `model`.

    Raises
    ------
    InputError
        Naming every fault with its key.
    """
    try:
        return model.model_validate(tables)
    except ValidationError as exc:
        faults = [f"{_key(fault['loc'])}: {_said(fault['type'], fault['msg'])}" for fault in exc.errors()]
        raise InputError("; ".join(faults), where=where, remedy=remedy) from exc


def _key(loc: tuple[int | str, ...]) -> str:
    return ".".join(str(part) for part in loc) or "the file"


def _said(kind: str, message: str) -> str:
    if kind == "missing":
        return "is missing"
    if kind == "extra_forbidden":
        return "is not a key that this file may have"
    return message.removeprefix("Value error, ")
