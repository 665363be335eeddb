"""PostgreSQL through SQLAlchemy Core: connecting within a patience, transactions, and what went wrong in words.

A connection is used by one thread and closed after one piece of work; there is no pool. Bounded are the wait for a
connection, for a lock and for an answer by the server's own clock; a server that is frozen altogether is left to
whoever must not wait (`assembly`).
"""

import contextlib
from collections.abc import Iterator
from typing import Self

import psycopg
from psycopg.conninfo import conninfo_to_dict
from sqlalchemy import Connection, Engine, create_engine, text
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from rampwarden.database.database import Value
from rampwarden.database.places import server_name
from rampwarden.database.postgresql_schema import OUR_SCHEMA, prepare
from rampwarden.database.schema import Schema
from rampwarden.errors import StoreError

_WORDS = {
    "08": "the connection is broken; what was being written is there whole or not at all",
    "22": "holds what the server will not take",
    "25006": "is read-only just now",
    "42501": "we are not allowed to",
    "53100": "the server's disk is full; nothing was changed",
    "55P03": "is locked by somebody else; nothing was changed",
    "57014": "the server is too slow; nothing was changed",
    "57P": "the server is shutting down or starting up",
}
# libpq takes less than two seconds for two.
_SHORTEST_CONNECT_S = 2
_HERE = ("", "localhost", "127.0.0.1", "::1")


class PostgresTables:
    """An open connection; `open` is the way in."""

    def __init__(self, url: str, schema: Schema, engine: Engine, connection: Connection) -> None:
        """Take over an open connection."""
        self._url = url
        self._schema = schema
        self._engine = engine
        self.connection = connection

    @classmethod
    def open(cls, url: str, schema: Schema, *, create: bool, patience_s: float) -> Self:
        """Connect, and bring the tables to the present version; raises the schema's error."""
        engine = create_engine(
            "postgresql+psycopg://",
            creator=lambda: _connection(url, patience_s),
            poolclass=NullPool,
            isolation_level="AUTOCOMMIT",
        )
        connection = None
        try:
            with translating(url, schema):
                connection = engine.connect()
                connection.exec_driver_sql(f"SET search_path TO {OUR_SCHEMA}")
                for limit in ("statement_timeout", "lock_timeout"):
                    connection.exec_driver_sql(f"SET {limit} = {round(patience_s * 1000)}")
                prepare(server_name(url), schema, engine, connection, create=create)
        except BaseException:
            if connection is not None:
                connection.close()
            engine.dispose()
            raise
        return cls(url, schema, engine, connection)

    @property
    def name(self) -> str:
        """Its server and database."""
        return server_name(self._url)

    def close(self) -> None:
        """Let go of the connection."""
        with contextlib.suppress(SQLAlchemyError, psycopg.Error):
            self.connection.close()
        self._engine.dispose()

    def rows(self, query: str, /, **values: Value) -> list[tuple[object, ...]]:
        """Give all rows that answer a query."""
        with translating(self._url, self._schema):
            return [tuple(row) for row in self.connection.execute(text(query), values)]

    def row(self, query: str, /, **values: Value) -> tuple[object, ...] | None:
        """Give the first row that answers a query, None without any."""
        with translating(self._url, self._schema):
            row = self.connection.execute(text(query), values).first()
        return None if row is None else tuple(row)

    def change(self, statement: str, /, **values: Value) -> None:
        """Change rows; only within `changing`."""
        self.connection.execute(text(statement), values)

    def insert(self, table: str, row: dict[str, Value]) -> None:
        """Add a row; only within `changing`."""
        self.connection.execute(text(_insertion(table, row)), row)

    def insert_numbered(self, table: str, row: dict[str, Value]) -> int:
        """Add a row and give its number; only within `changing`."""
        number = self.connection.execute(text(f"{_insertion(table, row)} RETURNING id"), row).scalar_one()
        return int(number)

    @contextlib.contextmanager
    def changing(self) -> Iterator[None]:
        """One transaction: all of it lasting, or nothing. Whoever changes anything waits for whoever does already."""
        with translating(self._url, self._schema):
            self.connection.exec_driver_sql("BEGIN")
            try:
                self.connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({self._schema.application_id})")
                yield
                self.connection.exec_driver_sql("COMMIT")
            except BaseException:
                # A server that is gone has rolled back by itself.
                with contextlib.suppress(SQLAlchemyError):
                    self.connection.exec_driver_sql("ROLLBACK")
                raise


def _connection(url: str, patience_s: float) -> psycopg.Connection[tuple[object, ...]]:
    known = conninfo_to_dict(url)
    host = str(known.get("host") or "")
    more: dict[str, str] = {}
    if "sslmode" not in known and host not in _HERE and not host.startswith("/"):
        # Names of pots are no secret; who may write them is.
        more["sslmode"] = "require"
    return psycopg.connect(
        url,
        connect_timeout=max(_SHORTEST_CONNECT_S, round(patience_s)),
        client_encoding="UTF8",
        application_name="rampwarden",
        tcp_user_timeout=round(patience_s * 1000),
        **more,  # type: ignore[arg-type]  # settings of libpq, by name
    )


def _insertion(table: str, row: dict[str, Value]) -> str:
    return f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join(f':{name}' for name in row)})"


@contextlib.contextmanager
def translating(url: str, schema: Schema) -> Iterator[None]:
    """Turn whatever the server or the way to it says into one line."""
    try:
        yield
    except StoreError:
        raise
    except (SQLAlchemyError, psycopg.Error, UnicodeEncodeError) as error:
        raise schema.error(f"{server_name(url)}: {_reason(error, schema)}") from error


def _reason(error: Exception, schema: Schema) -> str:
    said = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
    state = getattr(said, "sqlstate", None) or ""
    line = " ".join(str(said).split())
    for start, words in _WORDS.items():
        if state.startswith(start):
            return f"{words} ({line})"
    if isinstance(said, psycopg.OperationalError):
        return f"the {schema.noun} cannot be reached: {line}"
    return f"the {schema.noun} cannot be used: {line}"
