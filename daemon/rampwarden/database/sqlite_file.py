"""Tables in one SQLite file: opening, versions, locking, and what can be wrong with it in words.

Each migration takes the file from one version to the next, inside one transaction; SQLite's own `user_version` says how
many have been applied.
"""

import contextlib
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Self
from urllib.parse import quote

from rampwarden.database.database import Value
from rampwarden.database.schema import Schema, in_sqlite

_AGAIN_S = 0.01

_WORDS = {
    "SQLITE_BUSY": "the {noun} is locked by another process; try again when it is done",
    "SQLITE_LOCKED": "the {noun} is locked by another process; try again when it is done",
    "SQLITE_CANTOPEN": "the {noun} cannot be opened: no such file or folder, or no permission",
    "SQLITE_READONLY": "the {noun} cannot be written: no permission for it or its folder",
    "SQLITE_PERM": "the {noun} cannot be written: no permission for it or its folder",
    "SQLITE_FULL": "the disk is full; nothing was changed",
    "SQLITE_IOERR": "the disk failed; nothing was changed",
    "SQLITE_NOTADB": "is no {noun}; move it aside, and enter the heats again from their records",
    "SQLITE_CORRUPT": "is damaged; move it aside, add the crucibles, and enter the heats again from their records",
}


class SqliteFile:
    """An open file; `open` is the way in."""

    def __init__(self, path: Path, schema: Schema, connection: sqlite3.Connection) -> None:
        """Take over an open connection."""
        self._path = path
        self._schema = schema
        self.connection = connection

    @classmethod
    def open(cls, path: Path, schema: Schema, *, create: bool, patience_s: float) -> Self:
        """Open the file, brought to the present version; raises the schema's error if it cannot be.

        `create` makes it, and its folder, when missing. `patience_s` is how long a lock is waited for.
        """
        try:
            if create:
                path.parent.mkdir(parents=True, exist_ok=True)
            elif not path.exists():
                raise schema.error(f"{path}: there is no {schema.noun} yet; it begins with: {schema.begins_with}")
        except OSError as error:
            raise schema.error(f"{path}: the {schema.noun} cannot be opened: {error.strerror}") from error
        with translating(path, schema):
            mode = "rwc" if create else "rw"
            connection = sqlite3.connect(
                f"file:{quote(str(path))}?mode={mode}", uri=True, timeout=patience_s, isolation_level=None
            )
        try:
            with translating(path, schema):
                prepare(path, schema, connection)
        except BaseException:
            connection.close()
            raise
        return cls(path, schema, connection)

    @property
    def name(self) -> str:
        """Its path."""
        return str(self._path)

    def close(self) -> None:
        """Let go of the file."""
        self.connection.close()

    def rows(self, query: str, /, **values: Value) -> list[tuple[object, ...]]:
        """Give all rows that answer a query."""
        with translating(self._path, self._schema):
            return self.connection.execute(query, values).fetchall()

    def row(self, query: str, /, **values: Value) -> tuple[object, ...] | None:
        """Give the first row that answers a query, None without any."""
        with translating(self._path, self._schema):
            row: tuple[object, ...] | None = self.connection.execute(query, values).fetchone()
        return row

    def change(self, statement: str, /, **values: Value) -> None:
        """Change rows; only within `changing`."""
        self.connection.execute(statement, values)

    def insert(self, table: str, row: dict[str, Value]) -> None:
        """Add a row; only within `changing`."""
        self.connection.execute(_insertion(table, row), row)

    def insert_numbered(self, table: str, row: dict[str, Value]) -> int:
        """Add a row and give its number; only within `changing`."""
        return self.connection.execute(_insertion(table, row), row).lastrowid or 0

    @contextlib.contextmanager
    def changing(self) -> Iterator[None]:
        """One transaction: all of it on the disk, or nothing."""
        with translating(self._path, self._schema):
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self.connection.execute("COMMIT")
            except BaseException:
                roll_back(self.connection)
                raise


def _insertion(table: str, row: dict[str, Value]) -> str:
    return f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join(f':{name}' for name in row)})"


def prepare(path: Path, schema: Schema, connection: sqlite3.Connection) -> None:
    """Make an opened file ready for use; raises the schema's error for one that is not ours or of a newer version."""
    if is_foreign(connection, schema):
        raise schema.error(f"{path}: is an SQLite file of another program; {schema.wrong_place}")
    version, known = version_of(connection), len(schema.migrations)
    if version > known:
        raise schema.error(
            f"{path}: is of version {version}, this program reads up to {known}; nothing was changed, "
            "use the newer program"
        )
    connection.execute("PRAGMA foreign_keys = ON")
    # Readers and the one writer do not wait for each other, and a commit is on the disk when it returns.
    turn_to_write_ahead(connection)
    connection.execute("PRAGMA synchronous = FULL")
    if version < known:
        migrate(connection, schema)


def turn_to_write_ahead(connection: sqlite3.Connection) -> None:
    """Have commits go to a write-ahead log; two that turn a new file at once are told so by SQLite without waiting."""
    (patience_ms,) = connection.execute("PRAGMA busy_timeout").fetchone()
    until_s = time.monotonic() + patience_ms / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() >= until_s:
                raise
            time.sleep(_AGAIN_S)


@contextlib.contextmanager
def translating(path: Path, schema: Schema) -> Iterator[None]:
    """Turn whatever SQLite says of the file into one line."""
    try:
        yield
    except sqlite3.Error as error:
        raise schema.error(f"{path}: {_reason(error, schema)}") from error


def _reason(error: sqlite3.Error, schema: Schema) -> str:
    name = getattr(error, "sqlite_errorname", "")
    for start, words in _WORDS.items():
        if name.startswith(start):
            return words.format(noun=schema.noun)
    return f"the {schema.noun} cannot be used: {error}"


def version_of(connection: sqlite3.Connection) -> int:
    """Give the version a file is at; 0 for an empty one."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    return int(version)


def is_foreign(connection: sqlite3.Connection, schema: Schema) -> bool:
    """Tell whether this is some other program's SQLite file."""
    # Both as of one moment: another process may be making the file just now.
    connection.execute("BEGIN")
    try:
        (application_id,) = connection.execute("PRAGMA application_id").fetchone()
        (tables,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    finally:
        connection.execute("ROLLBACK")
    return application_id != schema.application_id and bool(application_id or tables)


def migrate(connection: sqlite3.Connection, schema: Schema) -> None:
    """Bring a file to the present version, all at once or not at all."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Read again under the lock: another process may have done it meanwhile.
        version, known = version_of(connection), len(schema.migrations)
        for statements in schema.migrations[version:]:
            for statement in statements:
                connection.execute(in_sqlite(statement))
        if version < known:
            connection.execute(f"PRAGMA application_id = {schema.application_id}")
            connection.execute(f"PRAGMA user_version = {known}")
        connection.execute("COMMIT")
    except BaseException:
        roll_back(connection)
        raise


def roll_back(connection: sqlite3.Connection) -> None:
    """Undo what has been begun, unless SQLite has done so itself: it does when a disk is full or fails."""
    if connection.in_transaction:
        connection.execute("ROLLBACK")
