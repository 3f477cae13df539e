"""Where the store is: a URL, a plain path, or the default file."""

from pathlib import Path

from platformdirs import user_data_path

from refuge.errors import InputError

_POSTGRESQL = {"postgres", "postgresql", "postgresql+psycopg"}
_KNOWN = {"sqlite", *_POSTGRESQL}


def resolve_store_url(text: str | None) -> str:
    """Return the SQLAlchemy URL that `text` names; for ``None`` or "" the file in the user's data folder.

    A URL (``sqlite:///...``) stays as it is, less that every way to write PostgreSQL's
    (``postgres://``, ``postgresql://``) becomes the one that names the driver; anything else is the
    path of an SQLite file. ``:memory:`` is a store that ends with the process.

    Raises
    ------
    InputError
        If the URL names a database that refuge does not know.
    """
    if not text:
        return f"sqlite:///{user_data_path('refuge', appauthor=False) / 'refuge.sqlite'}"
    if text == ":memory:":
        return "sqlite://"
    if "://" not in text:
        return f"sqlite:///{Path(text).expanduser().absolute()}"
    scheme, _, rest = text.partition("://")
    if scheme not in _KNOWN:
        raise InputError(
            f"store {scheme}:// is not known",
            remedy="name an SQLite file, sqlite:///path or postgresql://user@host/database",
        )
    return f"postgresql+psycopg://{rest}" if scheme in _POSTGRESQL else text
