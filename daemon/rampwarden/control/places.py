"""Where the control sockets of running watches are, and what they are called.

One folder holds the sockets of one user's watches, or of the machine's own; a socket's name is its watch's. Only looks
for files and makes the folder; what is said over a socket stands in `messages`.
"""

import hashlib
import os
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path

from rampwarden.errors import ControlError

_ENDING = ".sock"
_MACHINE_FOLDER = Path("/run/rampwarden")
# Where a port's last part says which port it is. Elsewhere two ports may share it.
_PORT_FOLDERS = (Path("/dev"), Path("/dev/serial/by-id"), Path("/dev/serial/by-path"), Path("/dev/pts"))
_LONGEST_NAME = 40
# A socket's address holds 107 bytes (unix(7)), of which a few are left for the name it has until it is ready.
_LONGEST_PATH = 100


def watch_name(chosen: str, port: str) -> str:
    """Give a watch's name: the chosen one, else one made from its port.

    >>> watch_name("", "/dev/ttyUSB0")
    'ttyUSB0'
    """
    if chosen:
        return chosen
    path = Path(port)
    known = path.parent in _PORT_FOLDERS
    name = re.sub(r"[^A-Za-z0-9._-]+", "-", path.name if known or port.startswith("/") else port).strip("-.")
    if known and 0 < len(name) <= _LONGEST_NAME:
        return f"pts-{name}" if path.parent.name == "pts" else name
    # Cut short, or the like of another port's: a few letters of the whole port tell them apart.
    mark = hashlib.sha256(port.encode(errors="surrogateescape")).hexdigest()[:6]
    return f"{name[: _LONGEST_NAME - 7] or 'port'}-{mark}"


def make_folder(environment: Mapping[str, str]) -> Path:
    """Give the folder for this process's socket, made if need be; raises `ControlError` when there is none to be had.

    A service's own runtime directory first, then the login session's, the machine's, and a private one under the
    folder for temporary files.
    """
    given = environment.get("RUNTIME_DIRECTORY", "").partition(":")[0]
    if given:
        return _made(Path(given), 0o750)
    session = environment.get("XDG_RUNTIME_DIR", "")
    if session and os.access(session, os.W_OK | os.X_OK):
        return _made(Path(session) / "rampwarden", 0o700)
    if os.access(_MACHINE_FOLDER if _MACHINE_FOLDER.is_dir() else _MACHINE_FOLDER.parent, os.W_OK | os.X_OK):
        # To be looked into by everyone: who may use a socket says the socket's own mode.
        return _made(_MACHINE_FOLDER, 0o755)
    folder = _made(_private_folder(), 0o700)
    status = folder.lstat()
    # Anybody may have put something of that name there before; of a link, the mode is open to all.
    if status.st_uid != os.getuid() or status.st_mode & 0o077:
        raise ControlError(f"{folder}: belongs to somebody else or is open to others; remove it")
    return folder


def socket_path(folder: Path, name: str) -> Path:
    """Give the socket of the watch `name`; raises `ControlError` when its path is too long for an address."""
    path = folder / f"{name}{_ENDING}"
    if len(os.fsencode(path)) > _LONGEST_PATH:
        raise ControlError(f"{path}: too long for a socket (at most {_LONGEST_PATH} bytes); set a shorter control.name")
    return path


def sockets(environment: Mapping[str, str]) -> dict[str, Path]:
    """Give every control socket that can be found, by the name of its watch; their watches may be dead.

    Who was given a runtime directory looks only there; else of two of one name the nearer folder's is meant.
    """
    found: dict[str, Path] = {}
    for folder in _folders(environment):
        # A service's runtime directory is one deeper than its kind: /run/rampwarden/furnace-1.
        for path in sorted([*folder.glob(f"*{_ENDING}"), *folder.glob(f"*/*{_ENDING}")]):
            if not path.name.startswith(".") and path.is_socket():
                found.setdefault(path.name.removesuffix(_ENDING), path)
    return found


def _folders(environment: Mapping[str, str]) -> list[Path]:
    given = environment.get("RUNTIME_DIRECTORY", "").partition(":")[0]
    if given:
        return [Path(given)]
    session = environment.get("XDG_RUNTIME_DIR", "")
    return [*([Path(session) / "rampwarden"] if session else []), _MACHINE_FOLDER, _private_folder()]


def _private_folder() -> Path:
    return Path(tempfile.gettempdir()) / f"rampwarden-{os.getuid()}"


def _made(folder: Path, mode: int) -> Path:
    try:
        folder.mkdir(mode=mode, parents=True, exist_ok=True)
    except OSError as error:
        raise ControlError(f"{folder}: cannot make the folder for the control socket: {error.strerror}") from error
    return folder
