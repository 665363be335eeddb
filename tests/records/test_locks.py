"""One port, one watch: the second is refused by name of the first."""

import os
from pathlib import Path

import pytest

from rampwarden.errors import PortError
from rampwarden.records.locks import PortLock


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
