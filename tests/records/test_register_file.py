"""The register's file: made, migrated, locked, damaged, foreign, too new; each time a clear line, and nothing lost."""

import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import msgspec
import pytest
from tests.records.registered import A3, figures

from rampwarden.core.pot import reason_sentences
from rampwarden.database import sqlite_file
from rampwarden.errors import RegisterError
from rampwarden.records import register
from rampwarden.records.register import Register
from rampwarden.records.register_rows import crucible_row, heat_row
from rampwarden.records.register_schema import MIGRATIONS, REGISTER


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the place of a register with A3 and one heat in it."""
    place = tmp_path / "crucibles.sqlite"
    with Register.open(place, create=True) as books:
        books.add(A3)
        books.enter("A3", figures())
    return place


def refusal(path: Path, use: Callable[[Register], object] = Register.crucibles, *, create: bool = False) -> str:
    """Give the one line that answers whoever opens and uses a register."""
    with pytest.raises(RegisterError) as caught, Register.open(path, create=create, patience_s=0.05) as books:
        use(books)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def pragma(path: Path, name: str) -> object:
    connection = sqlite3.connect(path)
    (value,) = connection.execute(f"PRAGMA {name}").fetchone()
    connection.close()
    return value


def test_a_register_is_made_with_its_folder_and_says_what_it_is(tmp_path: Path) -> None:
    """Write-ahead log, version and a sign of its own, so that no other program's file is taken for it."""
    path = tmp_path / "var" / "lib" / "crucibles.sqlite"
    Register.open(path, create=True).close()
    assert pragma(path, "user_version") == len(MIGRATIONS)
    assert pragma(path, "application_id") == 0x72776372
    assert pragma(path, "journal_mode") == "wal"


def test_each_change_is_on_the_disk_when_the_call_returns(path: Path) -> None:
    """Synchronous is FULL for every connection: SQLite does not keep it in the file."""
    with Register.open(path) as books:
        (level,) = books.database.connection.execute("PRAGMA synchronous").fetchone()
    assert level == 2


def test_a_missing_register_is_told_with_how_one_begins(tmp_path: Path) -> None:
    """And not made by looking for it."""
    path = tmp_path / "none.sqlite"
    assert refusal(path) == f"{path}: there is no register yet; it begins with: rampwarden crucible add MARK"
    assert not path.exists()


def test_a_register_below_a_file_cannot_be_opened(tmp_path: Path) -> None:
    """With the system's reason."""
    (tmp_path / "file").touch()
    path = tmp_path / "file" / "r.sqlite"
    assert refusal(path, create=True) == f"{path}: the register cannot be opened: File exists"
    folder = tmp_path / "folder.sqlite"
    folder.mkdir()
    assert refusal(folder) == f"{folder}: the register cannot be opened: no such file or folder, or no permission"


def test_a_name_with_signs_of_its_own_is_only_a_name(tmp_path: Path) -> None:
    """SQLite would read ? and % as part of an address."""
    path = tmp_path / "a?mode=memory%20#b.sqlite"
    with Register.open(path, create=True) as books:
        books.add(A3)
    assert path.exists()
    with Register.open(path) as books:
        assert books.crucible("A3") == A3


# Versions


def test_an_older_register_is_migrated_and_keeps_what_it_holds(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A later version adds a column; what was entered before is all there, and opening again changes nothing more."""
    later = (*MIGRATIONS, ("ALTER TABLE heat ADD COLUMN humidity REAL", "UPDATE heat SET humidity = 0.5"))
    monkeypatch.setattr(register, "REGISTER", replace(REGISTER, migrations=later))
    for _ in range(2):
        with Register.open(path) as books:
            [heat] = books.heats("A3")
            assert heat.figures == figures()
            assert books.database.connection.execute("SELECT humidity FROM heat").fetchall() == [(0.5,)]
    assert pragma(path, "user_version") == len(MIGRATIONS) + 1


def test_a_migration_that_fails_leaves_the_register_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All of it or nothing: neither the column nor the version."""
    broken = (*MIGRATIONS, ("ALTER TABLE heat ADD COLUMN humidity REAL", "UPDATE no_such_table SET x = 1"))
    with monkeypatch.context() as patched:
        patched.setattr(register, "REGISTER", replace(REGISTER, migrations=broken))
        assert "no such table: no_such_table" in refusal(path)
    assert pragma(path, "user_version") == len(MIGRATIONS)
    with Register.open(path) as books:
        assert [heat.figures for heat in books.heats("A3")] == [figures()]
        columns = books.database.connection.execute("SELECT name FROM pragma_table_info('heat')").fetchall()
    assert ("humidity",) not in columns


@pytest.mark.parametrize("attempt", range(10))
def test_those_that_open_a_new_register_at_once_make_it_once(tmp_path: Path, attempt: int) -> None:
    """The others find under the lock that it has been done; none takes it for another program's, half made as it is."""
    path = tmp_path / f"r{attempt}.sqlite"
    together = threading.Barrier(4)
    failed: list[BaseException] = []

    def open_it() -> None:
        together.wait()
        try:
            Register.open(path, create=True).close()
        except BaseException as error:
            failed.append(error)

    workers = [threading.Thread(target=open_it) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert failed == []


def test_a_register_from_a_newer_version_is_refused_and_not_touched(path: Path) -> None:
    """Whoever went back to an older program has lost nothing."""
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    before = path.read_bytes()
    told = f"is of version 99, this program reads up to {len(MIGRATIONS)}; nothing was changed, use the newer program"
    assert refusal(path) == f"{path}: {told}"
    assert path.read_bytes() == before


# Damage


def test_another_programs_file_is_refused_and_not_touched(tmp_path: Path) -> None:
    """Whether it has tables only, or a sign of its own."""
    for name, statement in (("tables", "CREATE TABLE t (x)"), ("sign", "PRAGMA application_id = 7")):
        path = tmp_path / f"{name}.sqlite"
        connection = sqlite3.connect(path)
        connection.execute(statement)
        connection.commit()
        connection.close()
        before = path.read_bytes()
        assert refusal(path, create=True) == (
            f"{path}: is an SQLite file of another program; set watch.crucible_register"
        )
        assert path.read_bytes() == before


def test_a_file_that_is_no_database_is_told_with_what_to_do(tmp_path: Path) -> None:
    """Heats can be entered again from their records."""
    path = tmp_path / "r.sqlite"
    path.write_bytes(b"not a database, but long enough to be looked at as one\n" * 100)
    assert refusal(path, create=True) == (
        f"{path}: is no register; move it aside, and enter the heats again from their records"
    )


def test_a_damaged_register_is_told_with_what_to_do(path: Path) -> None:
    """A page in the middle overwritten."""
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    data = bytearray(path.read_bytes())
    data[4096:] = os.urandom(len(data) - 4096)
    path.write_bytes(data)
    told = refusal(path)
    assert told.startswith(f"{path}: is damaged; move it aside, add the crucibles, and enter the heats again")


def test_a_row_that_this_program_did_not_write_is_told(path: Path) -> None:
    """Somebody with another tool put text where a list belongs."""
    connection = sqlite3.connect(path)
    connection.execute("UPDATE crucible SET sheet = 'slowly'")
    connection.commit()
    connection.close()
    assert refusal(path).startswith(f"{path}: holds what this program did not write: ")


def test_a_locked_register_is_told_after_its_patience(path: Path) -> None:
    """Reading goes on meanwhile; writing works again as soon as the other is done."""
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    told = refusal(path, lambda books: books.enter("A3", figures("r2")))
    assert told == f"{path}: the register is locked by another process; try again when it is done"
    with Register.open(path, patience_s=0.05) as books:
        assert len(books.heats("A3")) == 1
    other.execute("ROLLBACK")
    other.close()
    with Register.open(path) as books:
        assert books.enter("A3", figures("r2"))


def test_a_full_disk_is_told_and_changes_nothing(path: Path) -> None:
    """The heat that found no room is not there by half; SQLite's own bound stands in for the disk's."""

    def enter_many(books: Register) -> None:
        (pages,) = books.database.connection.execute("PRAGMA page_count").fetchone()
        books.database.connection.execute(f"PRAGMA max_page_count = {pages}")
        for number in range(1000):
            books.enter("A3", figures(f"more {number}"))

    assert refusal(path, enter_many) == f"{path}: the disk is full; nothing was changed"
    with Register.open(path) as books:
        assert {len(heat.figures.segments) for heat in books.heats("A3")} == {3}


def test_a_watch_killed_in_the_middle_of_a_change_leaves_the_register_whole(path: Path) -> None:
    """The process is gone before the commit: what was begun is not there, what was there is."""
    killed = (
        "import os, sqlite3, sys; books = sqlite3.connect(sys.argv[1], isolation_level=None); "
        "books.execute('BEGIN IMMEDIATE'); books.execute('DELETE FROM segment'); "
        "books.execute('UPDATE heat SET peak_c = 0'); os.kill(os.getpid(), 9)"
    )
    assert subprocess.run([sys.executable, "-c", killed, str(path)], check=False).returncode == -9
    with Register.open(path) as books:
        assert [heat.figures for heat in books.heats("A3")] == [figures()]


class Turning:
    """A connection whose turn to the write-ahead log fails with one error so many times."""

    def __init__(self, code: int, times: int, patience_ms: int) -> None:
        self.tried = 0
        self._code, self._times, self._patience_ms = code, times, patience_ms

    def execute(self, statement: str) -> "Turning":
        if "busy_timeout" not in statement:
            self.tried += 1
            if self.tried <= self._times:
                error = sqlite3.OperationalError("as SQLite would say it")
                error.sqlite_errorcode = self._code
                raise error
        return self

    def fetchone(self) -> tuple[int]:
        return (self._patience_ms,)


def test_two_that_turn_a_new_file_at_once_wait_for_each_other() -> None:
    """SQLite says "busy" without waiting there; it is tried again for as long as any other lock is waited for."""
    turning = Turning(sqlite3.SQLITE_BUSY, 3, 600_000)
    sqlite_file.turn_to_write_ahead(turning)  # type: ignore[arg-type]
    assert turning.tried == 4
    hopeless = Turning(sqlite3.SQLITE_BUSY, 1000, 0)
    with pytest.raises(sqlite3.OperationalError):
        sqlite_file.turn_to_write_ahead(hopeless)  # type: ignore[arg-type]
    assert hopeless.tried == 1


def test_a_file_that_cannot_be_turned_for_another_reason_is_not_tried_again() -> None:
    """A disk that fails does not get better by waiting."""
    failing = Turning(sqlite3.SQLITE_IOERR, 3, 600_000)
    with pytest.raises(sqlite3.OperationalError):
        sqlite_file.turn_to_write_ahead(failing)  # type: ignore[arg-type]
    assert failing.tried == 1


# Accounts


def test_a_register_of_the_first_version_reads_on_and_its_heats_show_nothing(tmp_path: Path) -> None:
    """A hot heat counts by its owner's word, a false start for nothing, and what was kept damp stays damp."""
    path = tmp_path / "old.sqlite"
    connection = sqlite3.connect(path, isolation_level=None)
    sqlite_file.migrate(connection, replace(REGISTER, migrations=MIGRATIONS[:1]))
    pots = {"A3": {}, "cold": {"peak_c": 22.0, "hot_h": 0.0}, "spark": {"peak_c": 703.0, "hot_h": 0.001}, "damp": {}}
    for number, (mark, changes) in enumerate(pots.items(), 1):
        stored = {"stored": "damp", "stored_on": "2026-01-10"} if mark == "damp" else {}
        pot = crucible_row(msgspec.structs.replace(A3, mark=mark, first_used="2026-01-10", **stored))
        heat = heat_row(figures(mark, **changes))
        del heat["physics"], pot["retire_at"]
        heat |= {"crucible_id": number, "look": "", "prone_dose_min": 9.5}
        for table, row in (("crucible", {**pot, "id": number}), ("heat", heat)):
            names, values = ", ".join(row), ", ".join(f":{name}" for name in row)
            connection.execute(f"INSERT INTO {table} ({names}) VALUES ({values})", row)
    connection.close()
    with Register.open(path) as books:
        lives = {mark: books.life(mark, date(2026, 1, 11)) for mark in pots}
        [heat_of_a3] = books.heats("A3")
    assert pragma(path, "user_version") == len(MIGRATIONS)
    assert heat_of_a3.account is None
    assert {mark: str(life.readiness.ready) for mark, life in lives.items()} == {
        "A3": "ready-for-a-later-heat",
        "cold": "dry-it-first",
        "spark": "dry-it-first",
        "damp": "dry-it-first",
    }
    assert {life.without_account for life in lives.values()} == {1}
    assert reason_sentences(lives["A3"].readiness) == (
        "It is in use by its owner's word; its first heat was not watched.",
    )
