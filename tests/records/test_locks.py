"""One port, one watch: the second is refused by name of the first."""

import os
from pathlib import Path

import pytest

from rampwarden.errors import PortError
from rampwarden.records import locks
from rampwarden.records.locks import PortLock, lock_holder, writer_of
from rampwarden.records.record_lines import FORMAT, Header
from rampwarden.records.record_writer import RecordWriter


def test_a_second_watch_of_a_port_is_refused_by_the_name_of_the_first(tmp_path: Path) -> None:
    """And may have the port once the first has let go."""
    first = PortLock(tmp_path, "/dev/board")
    with pytest.raises(PortError, match=f"/dev/board: is being watched already by process {os.getpid()} "):
        PortLock(tmp_path, "/dev/board")
    first.close()
    PortLock(tmp_path, "/dev/board").close()


def test_two_names_of_one_port_are_one_port(tmp_path: Path) -> None:
    """A by-id link and the device it leads to cannot be watched at once; two devices can."""
    (tmp_path / "ttyUSB0").touch()
    (tmp_path / "by-id").symlink_to(tmp_path / "ttyUSB0")
    first = PortLock(tmp_path, str(tmp_path / "ttyUSB0"))
    with pytest.raises(PortError, match="one port, one watch"):
        PortLock(tmp_path, str(tmp_path / "by-id"))
    PortLock(tmp_path, str(tmp_path / "ttyUSB1")).close()
    first.close()


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """Where the lock would stand there is a file."""
    (tmp_path / "file").touch()
    with pytest.raises(PortError, match="cannot make the port's lock"):
        PortLock(tmp_path / "file", "/dev/board")


def test_who_writes_a_record_is_told_without_taking_its_lock(tmp_path: Path) -> None:
    """Nobody, this process, nobody again; a file that is not there has no writer."""
    path = tmp_path / "heat.jsonl"
    assert writer_of(path) is None
    writer = RecordWriter.create(path, Header(format=FORMAT, started="2026-01-10T09:00:00Z"))
    told = writer_of(path)
    assert told is not None
    assert told.startswith(f"process {os.getpid()} (")
    writer.close()
    assert writer_of(path) is None


def test_a_host_that_does_not_list_its_locks_names_nobody(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A lock is then held by another process, and who writes cannot be told."""
    monkeypatch.setattr(locks, "_LOCKS", tmp_path / "none")
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, Header(format=FORMAT, started="2026-01-10T09:00:00Z"))
    assert writer_of(path) is None
    assert lock_holder(path.stat()) == "another process"
    writer.close()
