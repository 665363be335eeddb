"""Tables on a PostgreSQL server, which several computers share: one entry point, `connect`.

Everything of ours stands in a schema named `rampwarden`, so nothing of another program's can be in its way. Changes
wait for each other (an advisory lock a transaction), as they do in a file. How far the migrations have come is
Alembic's own note. The libraries are of the extra `shop` and loaded here alone, when a server is named.
"""

import contextlib
from importlib import import_module

from rampwarden.database.database import Database
from rampwarden.database.places import server_name
from rampwarden.database.schema import Schema


def load_libraries() -> None:
    """Load what a server needs, so that whoever bounds a wait for it does not count the loading."""
    with contextlib.suppress(ImportError):
        import_module("rampwarden.database.postgresql")


def connect(url: str, schema: Schema, *, create: bool, patience_s: float) -> Database:
    """Open the tables on a server, brought to the present version; raises the schema's error in one line.

    `create` makes them when missing. `patience_s` bounds each wait: for the connection, for a lock, for an answer.
    """
    try:
        from rampwarden.database.postgresql import PostgresTables  # noqa: PLC0415  (of the extra `shop`)
    except ImportError as error:
        raise schema.error(
            f"{server_name(url)}: a server needs the extra: pip install 'rampwarden[shop]' ({error})"
        ) from error
    return PostgresTables.open(url, schema, create=create, patience_s=patience_s)
