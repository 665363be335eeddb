"""Ports: opening for oneself alone, and saying in plain words why not."""

import errno
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial
from tests.sources.pty_board import PtyBoard

from rampwarden.errors import PortError
from rampwarden.sources.serial_port import close_port, holder_of, open_failure, open_port, opening_cause, read_port


@pytest.fixture
def board(tmp_path: Path) -> Iterator[PtyBoard]:
    """A plugged-in board behind a lasting name."""
    plugged = PtyBoard(tmp_path / "board")
    yield plugged
    plugged.unplug()


def test_what_the_board_sends_is_read(board: PtyBoard) -> None:
    """Whatever has come, at once."""
    line = open_port(str(board.path), 115200)
    board.send(b"$TC\r\n\x00\xff")
    got = b""
    while len(got) < 7:
        got += read_port(line, str(board.path))
    close_port(line)
    assert got == b"$TC\r\n\x00\xff"


def test_a_quiet_port_gives_nothing_and_does_not_raise(board: PtyBoard) -> None:
    """Silence is not a failure of the port."""
    line = open_port(str(board.path), 115200)
    assert read_port(line, str(board.path)) == b""
    close_port(line)


def test_a_second_reader_is_refused_and_told_who_has_the_port(board: PtyBoard) -> None:
    """Two readers would each get half the bytes."""
    line = open_port(str(board.path), 115200)
    with pytest.raises(PortError, match=rf"^busy: .* is held by .* \(process {os.getpid()}\)$"):
        open_port(str(board.path), 115200)
    close_port(line)
    close_port(open_port(str(board.path), 115200))


@pytest.mark.skipif(os.getuid() != 0, reason="only root can become another user")
def test_a_reader_that_does_not_ask_for_the_lock_is_kept_out_too(board: PtyBoard) -> None:
    """The terminal's exclusive mode stops every user but root, and ends with our closing."""
    Path(board.node).chmod(0o666)
    opens = f"import os; os.setgid(65534); os.setuid(65534); os.open({board.node!r}, os.O_RDWR | os.O_NOCTTY)"
    line = open_port(str(board.path), 115200)
    held = subprocess.run([sys.executable, "-c", opens], capture_output=True, text=True, check=False)
    close_port(line)
    free = subprocess.run([sys.executable, "-c", opens], capture_output=True, text=True, check=False)
    assert os.strerror(errno.EBUSY) in held.stderr
    assert free.returncode == 0, free.stderr


def test_an_unplugged_port_says_that_it_is_gone(board: PtyBoard) -> None:
    """Whichever call meets it first."""
    line = open_port(str(board.path), 115200)
    board.unplug()
    with pytest.raises(PortError, match=r"^gone: "):
        read_port(line, str(board.path))
    close_port(line)
    close_port(line)


def test_a_port_that_is_not_there_is_absent(tmp_path: Path) -> None:
    """Also where its directory is not."""
    for missing in (tmp_path / "none", tmp_path / "no" / "none"):
        with pytest.raises(PortError, match=rf"^absent: no port {missing}$"):
            open_port(str(missing), 115200)


def test_what_is_no_port_says_so(tmp_path: Path) -> None:
    """A directory, a plain file, a device that is no terminal, a baud rate nobody has, an unknown form of URL."""
    plain = tmp_path / "file"
    plain.write_text("no port")
    for wrong in (str(tmp_path), str(plain), "/dev/null", "nonsense://x"):
        with pytest.raises(PortError, match=r"^not a serial port: "):
            open_port(wrong, 115200)
    with pytest.raises(PortError, match=r"^not a serial port: .* at -5 baud"):
        open_port(str(plain), -5)


def test_a_forbidden_port_names_the_group_that_may(board: PtyBoard, monkeypatch: pytest.MonkeyPatch) -> None:
    """Joining a group is what helps."""
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    said = opening_cause(str(board.path), serial.SerialException(errno.EACCES, "Permission denied"))
    assert said.startswith("no permission: ")
    assert "group" in said


def test_a_network_port_is_read_like_a_local_one() -> None:
    """Any URL that pyserial takes."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"socket://127.0.0.1:{server.getsockname()[1]}"
        line = open_port(url, 115200)
        peer, _ = server.accept()
        with peer:
            peer.sendall(b"$")
            assert read_port(line, url) == b"$"
        with pytest.raises(PortError, match=r"^gone: "):
            read_port(line, url)
        close_port(line)
    with pytest.raises(PortError, match=r"^unreachable: "):
        open_port(url, 115200)
    assert open_failure(url) == ""


def test_a_person_is_told_which_ports_are_there(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """By-id names first, since they stay the same."""
    by_id = tmp_path / "by-id"
    by_id.mkdir()
    (by_id / "usb-converter-if00").symlink_to("/dev/null")
    monkeypatch.setattr("rampwarden.sources.serial_port._BY_ID", by_id)
    monkeypatch.setattr("rampwarden.sources.serial_port.list_ports.comports", list)
    said = open_failure("/dev/ttyNONE")
    assert said.startswith(f"absent: no port /dev/ttyNONE; plugged in: {by_id}/usb-converter-if00 (")
    assert "\n" not in said


def test_a_person_without_any_port_is_told_to_look_at_the_cable(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """There is nothing to choose from."""
    monkeypatch.setattr("rampwarden.sources.serial_port._BY_ID", tmp_path / "by-id")
    monkeypatch.setattr("rampwarden.sources.serial_port.list_ports.comports", list)
    assert "check the cable" in open_failure("/dev/ttyNONE")


def test_a_port_that_looks_fine_has_no_failure(board: PtyBoard, monkeypatch: pytest.MonkeyPatch) -> None:
    """A holder would be named; here it is the test itself, which has the board's end."""
    assert open_failure(str(board.path)).endswith(f"(process {os.getpid()})")
    monkeypatch.setattr("rampwarden.sources.serial_port.holder_of", lambda port: "")
    assert open_failure(str(board.path)) == ""


def test_a_port_that_nobody_holds_has_no_holder() -> None:
    """Nor has one that is not there."""
    assert holder_of("/dev/ttyNONE") == ""


def test_a_descriptor_closed_while_it_is_looked_at_hides_no_holder(monkeypatch: pytest.MonkeyPatch) -> None:
    """A busy program opens and closes files all the time; the port it holds is found all the same."""
    look, seen = Path.readlink, []

    def closing(path: Path) -> Path:
        if path.parent == Path(f"/proc/{os.getpid()}/fd") and not seen:
            seen.append(path)
            raise FileNotFoundError(path)
        return look(path)

    master, slave = os.openpty()
    try:
        monkeypatch.setattr(Path, "readlink", closing)
        assert holder_of(os.ttyname(slave)).endswith(f"(process {os.getpid()})")
    finally:
        os.close(master)
        os.close(slave)
    assert seen
