"""The register's file: its tables, how an older one becomes a present one, and what can be wrong with it.

Each entry of `MIGRATIONS` takes the register from one version to the next, inside one transaction; SQLite's own
`user_version` says how many have been applied. An entry that has been released is never changed: a new one is added.
"""

import contextlib
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

import msgspec

from rampwarden.errors import RegisterError

# "rwcr": tells our register from any other SQLite file.
APPLICATION_ID = 0x72776372

_AGAIN_S = 0.01

_WORDS = {
    "SQLITE_BUSY": "the register is locked by another process; try again when it is done",
    "SQLITE_LOCKED": "the register is locked by another process; try again when it is done",
    "SQLITE_CANTOPEN": "the register cannot be opened: no such file or folder, or no permission",
    "SQLITE_READONLY": "the register cannot be written: no permission for it or its folder",
    "SQLITE_PERM": "the register cannot be written: no permission for it or its folder",
    "SQLITE_FULL": "the disk is full; nothing was changed",
    "SQLITE_IOERR": "the disk failed; nothing was changed",
    "SQLITE_NOTADB": "is no register; move it aside, and enter the heats again from their records",
    "SQLITE_CORRUPT": "is damaged; move it aside, add the crucibles, and enter the heats again from their records",
}

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """
        CREATE TABLE crucible (
            id INTEGER PRIMARY KEY,
            mark TEXT NOT NULL UNIQUE COLLATE NOCASE,
            crucible_class TEXT NOT NULL,
            description TEXT NOT NULL,
            wall_mm REAL,
            capacity_kg REAL,
            mass_new_kg REAL,
            metal TEXT NOT NULL,
            bought TEXT NOT NULL,
            first_used TEXT NOT NULL,
            retired TEXT NOT NULL,
            retired_why TEXT NOT NULL,
            stored TEXT NOT NULL,
            stored_on TEXT NOT NULL,
            sheet_id TEXT NOT NULL,
            sheet_top_c REAL,
            sheet TEXT NOT NULL,
            note TEXT NOT NULL
        ) STRICT
        """,
        """
        CREATE TABLE heat (
            id INTEGER PRIMARY KEY,
            record_id TEXT NOT NULL UNIQUE,
            crucible_id INTEGER NOT NULL REFERENCES crucible (id),
            file TEXT NOT NULL,
            started TEXT NOT NULL,
            title TEXT NOT NULL,
            metal TEXT NOT NULL,
            thermocouple TEXT NOT NULL,
            rehearsal INTEGER NOT NULL,
            closed INTEGER NOT NULL,
            complete INTEGER NOT NULL,
            readings INTEGER NOT NULL,
            seconds REAL NOT NULL,
            peak_c REAL NOT NULL,
            soaked_s REAL NOT NULL,
            hot_h REAL NOT NULL,
            dose_min REAL NOT NULL,
            prone_dose_min REAL NOT NULL,
            unseen_s REAL NOT NULL,
            alarms TEXT NOT NULL,
            mass_after_kg REAL,
            look TEXT NOT NULL
        ) STRICT
        """,
        "CREATE INDEX heat_of_crucible ON heat (crucible_id, started)",
        """
        CREATE TABLE segment (
            heat_id INTEGER NOT NULL REFERENCES heat (id) ON DELETE CASCADE,
            number INTEGER NOT NULL,
            name TEXT NOT NULL,
            kind TEXT NOT NULL,
            seconds REAL NOT NULL,
            climb_c REAL,
            limit_c REAL,
            window_s REAL,
            soaked_s REAL NOT NULL,
            hold_s REAL NOT NULL,
            PRIMARY KEY (heat_id, number)
        ) STRICT, WITHOUT ROWID
        """,
    ),
    (
        # JSON of the heat's account of its pot; empty where it was entered without one.
        "ALTER TABLE heat ADD COLUMN account TEXT NOT NULL DEFAULT ''",
        """
        CREATE TABLE happening (
            id INTEGER PRIMARY KEY,
            crucible_id INTEGER NOT NULL REFERENCES crucible (id) ON DELETE CASCADE,
            at TEXT NOT NULL,
            what TEXT NOT NULL,
            note TEXT NOT NULL
        ) STRICT
        """,
        "CREATE INDEX happening_of_crucible ON happening (crucible_id, at)",
        # A heat of the day on which a pot was called damp had not dried it: the day counts to its end.
        """
        INSERT INTO happening (crucible_id, at, what, note)
        SELECT id, CASE stored_on WHEN '' THEN '' ELSE stored_on || 'T23:59:59Z' END, 'stored-damp', ''
        FROM crucible WHERE stored = 'damp'
        """,
    ),
    # One heat has one dose, the account's; what of it fell between 315 and 650 °C was worked out by another law.
    ("ALTER TABLE heat DROP COLUMN prone_dose_min",),
    # JSON of what was reckoned of the pot's own physics; null where nothing was.
    ("ALTER TABLE heat ADD COLUMN physics TEXT NOT NULL DEFAULT 'null'",),
    # A person's own rule of when to retire a pot; empty where none was given.
    ("ALTER TABLE crucible ADD COLUMN retire_at TEXT NOT NULL DEFAULT ''",),
)


def prepare(path: Path, connection: sqlite3.Connection) -> None:
    """Make an opened file ready for use; raises `RegisterError` for one that is not ours or is from a newer version."""
    if is_foreign(connection):
        raise RegisterError(f"{path}: is an SQLite file of another program; set watch.crucible_register")
    version = version_of(connection)
    if version > len(MIGRATIONS):
        raise RegisterError(
            f"{path}: is of version {version}, this program reads up to {len(MIGRATIONS)}; nothing was changed, "
            "use the newer program"
        )
    connection.execute("PRAGMA foreign_keys = ON")
    # Readers and the one writer do not wait for each other, and a commit is on the disk when it returns.
    _turn_to_write_ahead(connection)
    connection.execute("PRAGMA synchronous = FULL")
    if version < len(MIGRATIONS):
        migrate(connection)


def _turn_to_write_ahead(connection: sqlite3.Connection) -> None:
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
def translating(path: Path) -> Iterator[None]:
    """Turn whatever SQLite says of the file into a `RegisterError` of one line."""
    try:
        yield
    except sqlite3.Error as error:
        raise RegisterError(f"{path}: {_reason(error)}") from error
    except msgspec.MsgspecError as error:
        raise RegisterError(f"{path}: holds what this program did not write: {error}") from error


def _reason(error: sqlite3.Error) -> str:
    name = getattr(error, "sqlite_errorname", "")
    for start, words in _WORDS.items():
        if name.startswith(start):
            return words
    return f"the register cannot be used: {error}"


def version_of(connection: sqlite3.Connection) -> int:
    """Give the version a register is at; 0 for an empty file."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    return int(version)


def is_foreign(connection: sqlite3.Connection) -> bool:
    """Tell whether this is some other program's SQLite file."""
    # Both as of one moment: another process may be making the register just now.
    connection.execute("BEGIN")
    try:
        (application_id,) = connection.execute("PRAGMA application_id").fetchone()
        (tables,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    finally:
        connection.execute("ROLLBACK")
    return application_id != APPLICATION_ID and bool(application_id or tables)


def migrate(connection: sqlite3.Connection) -> None:
    """Bring a register to the present version, all at once or not at all."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Read again under the lock: another process may have done it meanwhile.
        version = version_of(connection)
        for statements in MIGRATIONS[version:]:
            for statement in statements:
                connection.execute(statement)
        if version < len(MIGRATIONS):
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
        connection.execute("COMMIT")
    except BaseException:
        roll_back(connection)
        raise


def roll_back(connection: sqlite3.Connection) -> None:
    """Undo what has been begun, unless SQLite has done so itself: it does when a disk is full or fails."""
    if connection.in_transaction:
        connection.execute("ROLLBACK")
