"""Where control sockets are and what they are called."""

import os
import socket
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from rampwarden.control import places
from rampwarden.control.places import make_folder, socket_path, sockets, watch_name
from rampwarden.errors import ControlError


@pytest.fixture
def folder(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder with a short name, which stands for the machine's own and for the one of temporary files."""
    with tempfile.TemporaryDirectory(prefix="rw") as name:
        monkeypatch.setattr(places, "_MACHINE_FOLDER", Path(name) / "machine")
        monkeypatch.setattr(tempfile, "tempdir", name)
        yield Path(name)


def put_socket(path: Path) -> None:
    """Leave a socket behind, as a dead watch does."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with socket.socket(socket.AF_UNIX) as line:
        line.bind(str(path))


@pytest.mark.parametrize(
    ("port", "name"),
    [
        ("/dev/ttyUSB0", "ttyUSB0"),
        ("/dev/serial/by-id/usb-board_A1-if00-port0", "usb-board_A1-if00-port0"),
        ("/dev/pts/7", "pts-7"),
        ("/tmp/board", "board-"),
        ("/srv/board", "board-"),
        ("socket://oven.local:4001", "socket-oven.local-4001-"),
        ("/dev/" + "x" * 80, "x" * 33 + "-"),
        ("", "port-e3b0c4"),
        ("///", "port-"),
    ],
)
def test_a_watch_without_a_name_is_named_after_its_port(port: str, name: str) -> None:
    """Letters that are safe in a file's name, never too long, and two ports never share one."""
    given = watch_name("", port)
    assert given.startswith(name)
    assert len(given) <= 40
    assert given.replace("-", "").replace("_", "").replace(".", "").isalnum()


def test_ports_that_end_alike_have_names_of_their_own_and_a_chosen_name_wins() -> None:
    """Two boards of one test bench, say."""
    assert watch_name("", "/tmp/a/board") != watch_name("", "/tmp/b/board")
    assert watch_name("", "x" * 50) != watch_name("", "x" * 51)
    assert watch_name("furnace-1", "/dev/ttyUSB0") == "furnace-1"


def test_a_services_own_folder_comes_first_then_the_sessions_the_machines_and_a_private_one(folder: Path) -> None:
    """Each is made where it is not there yet."""
    session = folder / "session"
    session.mkdir()
    every = {"RUNTIME_DIRECTORY": f"{folder}/service:{folder}/other", "XDG_RUNTIME_DIR": str(session)}
    assert make_folder(every) == folder / "service"
    assert make_folder({"XDG_RUNTIME_DIR": str(session)}) == session / "rampwarden"
    assert make_folder({"XDG_RUNTIME_DIR": str(folder / "absent")}) == folder / "machine"
    assert make_folder({}) == folder / "machine"
    assert stat.S_IMODE((session / "rampwarden").stat().st_mode) == 0o700


def test_without_a_place_for_all_a_private_folder_is_made(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """For this user alone."""
    monkeypatch.setattr(places, "_MACHINE_FOLDER", folder / "no" / "machine")
    private = make_folder({})
    assert private == folder / f"rampwarden-{os.getuid()}"
    assert stat.S_IMODE(private.stat().st_mode) == 0o700


def test_a_private_folder_that_is_not_ours_alone_is_not_used(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Anybody may put something into the folder for temporary files, also a link."""
    monkeypatch.setattr(places, "_MACHINE_FOLDER", folder / "no" / "machine")
    private = folder / f"rampwarden-{os.getuid()}"
    private.mkdir(mode=0o777)
    private.chmod(0o777)
    with pytest.raises(ControlError, match="belongs to somebody else or is open to others"):
        make_folder({})
    private.rmdir()
    private.symlink_to(folder)
    with pytest.raises(ControlError, match="belongs to somebody else or is open to others"):
        make_folder({})


def test_a_folder_that_cannot_be_made_is_named(folder: Path) -> None:
    """With the system's reason."""
    (folder / "file").write_text("", encoding="utf-8")
    with pytest.raises(ControlError, match=r"file/run: cannot make the folder for the control socket: "):
        make_folder({"RUNTIME_DIRECTORY": str(folder / "file" / "run")})


def test_a_path_too_long_for_a_socket_is_refused_with_what_to_shorten(folder: Path) -> None:
    """The system would only say that it is invalid."""
    with pytest.raises(ControlError, match=r"at most 100 bytes.*set a shorter control.name"):
        socket_path(folder / ("x" * 90), "furnace-1")


def test_the_sockets_of_services_sessions_and_private_folders_are_found(folder: Path) -> None:
    """Those of services are one folder deeper; what is not ready yet, or no socket, is none."""
    session = folder / "session"
    put_socket(session / "rampwarden" / "bench.sock")
    put_socket(folder / "machine" / "east" / "east.sock")
    put_socket(folder / "machine" / "west" / "west.sock")
    put_socket(folder / "machine" / ".4711")
    put_socket(folder / f"rampwarden-{os.getuid()}" / "private.sock")
    (folder / "machine" / "file.sock").write_text("", encoding="utf-8")
    found = sockets({"XDG_RUNTIME_DIR": str(session)})
    assert sorted(found) == ["bench", "east", "private", "west"]
    assert found["east"] == folder / "machine" / "east" / "east.sock"


def test_who_has_a_runtime_directory_of_its_own_looks_only_there(folder: Path) -> None:
    """And of two of one name the nearer is meant."""
    put_socket(folder / "own" / "a.sock")
    put_socket(folder / "machine" / "b.sock")
    put_socket(folder / "session" / "rampwarden" / "b.sock")
    assert list(sockets({"RUNTIME_DIRECTORY": str(folder / "own")})) == ["a"]
    near = sockets({"XDG_RUNTIME_DIR": str(folder / "session")})
    assert near["b"] == folder / "session" / "rampwarden" / "b.sock"
