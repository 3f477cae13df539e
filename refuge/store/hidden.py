"""What migrations make beside the declared tables: each database's own index on the globe.

The schema stays one for both databases; a comparison of it with a store must not see these.
"""

import re
from typing import Any

from sqlalchemy.dialects.postgresql.base import ischema_names
from sqlalchemy.types import UserDefinedType

_NAMES = {"spatial_ref_sys"}
_PATTERN = re.compile(
    r"(?:airfields|stations)_near(?:_node|_parent|_rowid)?$|ix_(?:airfields|stations)_geog$|geog$"
)


class _Geography(UserDefinedType[Any]):
    """PostGIS's type, only for reflection not to warn of it."""

    cache_ok = True

    def __init__(self, *_: object) -> None:
        """Take whatever stands in the brackets."""

    def get_col_spec(self, **_: object) -> str:
        """Return its name in SQL."""
        return "geography"


ischema_names.setdefault("geography", _Geography)


def is_hidden(name: str | None) -> bool:
    """Return whether a table, column or index of this name is one of those."""
    return name is not None and (name in _NAMES or _PATTERN.match(name) is not None)


def is_ours(item: object, name: str | None, kind: str, reflected: bool, compare_to: object) -> bool:  # noqa: ARG001, FBT001 - Alembic's signature
    """Return whether Alembic is to compare it."""
    return not is_hidden(name)
