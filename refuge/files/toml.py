"""Reading TOML that people write, and turning every fault into one error they can act on."""

import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from refuge.errors import InputError

Model = TypeVar("Model", bound=BaseModel)
_Fault = Mapping[str, Any]
"""What the checking library says of one fault: type, loc, msg, input, and ctx with the bound."""


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
        raise InputError(
            "is no text file in UTF-8", where=str(path), remedy="name a TOML file, or save it as UTF-8"
        ) from exc


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
        raise InputError("; ".join(_faults(exc)), where=where, remedy=remedy) from exc


def _faults(exc: ValidationError) -> Iterator[str]:
    """Yield each fault with its key, in the order of the file's tables; of what may be of two kinds once."""
    found: dict[str, list[_Fault]] = {}
    for fault in exc.errors():
        found.setdefault(_key(fault["loc"]), []).append(fault)
    for key, faults in found.items():
        # Where a table may stand for a word, a fault inside the table is the one that is meant.
        if not any(other.startswith((f"{key}.", f"{key} ")) for other in found):
            first, *others = dict.fromkeys(_said(fault) for fault in faults)
            said = "".join(f" or {other.removeprefix('must be ')}" for other in others)
            yield f"{key}: {first}{said}{_given(faults[0])}"


def _key(loc: tuple[int | str, ...]) -> str:
    """Return where a fault lies: ``source.main.kind``, ``load.x.gives 1``; kinds of a value are no part of it."""
    text = ""
    for part in loc:
        if isinstance(part, int):
            text += f" {part + 1}"
        elif not _KIND.fullmatch(part):
            text += f".{part}" if text else part
    return text or "the file"


_KIND = re.compile(r"[A-Z]\w*Table|constrained-str|(?:literal|list)\[.*\]|\w+-\w+\[.*\]")
"""What the checking library puts into a place where a value may be of two kinds."""
_WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is not a key that this file may have",
    "bool_type": "must be true or false",
    "string_type": "must be text in quotes",
    "string_too_short": "must not be empty",
    "string_pattern_mismatch": "must be a name: letters, digits, - and _, no spaces",
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "finite_number": "must be a finite number",
    "list_type": "must be a list in square brackets",
    "dict_type": "must be a table",
    "model_type": "must be a table, such as {key = value}",
    "date_type": "must be a date without quotes, such as 2026-02-01",
    "too_short": "must not be empty",
}
_BOUNDS = {
    "greater_than": ("gt", "must be more than"),
    "greater_than_equal": ("ge", "must be at least"),
    "less_than": ("lt", "must be less than"),
    "less_than_equal": ("le", "must be at most"),
    "literal_error": ("expected", "must be"),
}


def _said(fault: _Fault) -> str:
    """Return what is wrong in words."""
    kind = fault["type"]
    if kind in _BOUNDS:
        limit, words = _BOUNDS[kind]
        bound = fault["ctx"][limit]
        return f"{words} {bound:g}" if isinstance(bound, float | int) else f"{words} {bound}"
    return _WORDS[kind] if kind in _WORDS else fault["msg"].removeprefix("Value error, ")


def _given(fault: _Fault) -> str:
    """Return what stands there instead, where it is short."""
    value = fault["input"]
    if fault["type"] in {"missing", "extra_forbidden"} or isinstance(value, dict | list) or value in ("", None):
        return ""
    text = str(value).lower() if isinstance(value, bool) else repr(value)
    return f" (there stands {text})" if len(text) <= _SHOWN else ""


_SHOWN = 40
"""A value longer than that is not repeated."""
