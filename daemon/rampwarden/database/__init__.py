"""A few tables that last: in one SQLite file beside a furnace, or on a PostgreSQL server that a whole shop shares.

One schema and one set of migrations serve both (`schema`): each migration is an Alembic revision whose statements name
by one word what the two engines call differently. The file is opened by Python's own sqlite3 and nothing else:
SQLAlchemy takes longer to load than a list of crucibles to print. A server is talked to through SQLAlchemy Core,
psycopg and Alembic, which the extra `shop` brings. Knows neither crucibles nor heats.
"""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.database.database import Database, Value
    from rampwarden.database.places import Where, is_server, place_of, server_name
    from rampwarden.database.schema import Schema, run_on_server, statements_of
    from rampwarden.database.server import connect, load_libraries
    from rampwarden.database.sqlite_file import SqliteFile
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "Database",
    "Schema",
    "SqliteFile",
    "Value",
    "Where",
    "connect",
    "is_server",
    "load_libraries",
    "place_of",
    "run_on_server",
    "server_name",
    "statements_of",
]
