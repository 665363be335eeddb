"""Who holds a locked file: the kernel's own list of locks, put into words.

Also the lock that keeps a second watch from the same port: a file held open and locked as long as the watch lives, so
that a crash leaves nothing to clean up.
"""

import fcntl
import hashlib
import os
from pathlib import Path

from rampwarden.errors import PortError

_LOCKS = Path("/proc/locks")


class PortLock:
    """Held from construction to `close`; raises `PortError` naming the process that watches the port already."""

    def __init__(self, folder: Path, port: str) -> None:
        # Two names of one device are one port: the lock is named by what they lead to.
        name = hashlib.sha256(os.path.realpath(port).encode(errors="surrogateescape")).hexdigest()[:16]
        path = folder / f".port-{name}.lock"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o660)
        except OSError as error:
            raise PortError(f"{path}: cannot make the port's lock: {error.strerror}") from error
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            holder = lock_holder(os.fstat(self._file))
            os.close(self._file)
            raise PortError(f"{port}: is being watched already by {holder}; one port, one watch") from None

    def close(self) -> None:
        """Let the port go."""
        os.close(self._file)


def writer_of(path: Path) -> str | None:
    """Name the process that is writing a heat record just now; None if nobody is, or it cannot be told.

    Looks without touching the lock: a watch that begins at this very moment must get it.
    """
    try:
        return _holder(path.stat())
    except OSError:
        return None


def lock_holder(status: os.stat_result) -> str:
    """Name the process that holds a lock on the file of `status`: number and command, as far as they can be told."""
    return _holder(status) or "another process"


def _holder(status: os.stat_result) -> str | None:
    device = f"{os.major(status.st_dev):02x}:{os.minor(status.st_dev):02x}:{status.st_ino}"
    try:
        lines = _LOCKS.read_text(encoding="ascii").splitlines()
    except OSError:
        return None
    for line in lines:
        fields = line.split()
        if len(fields) > 5 and fields[5] == device and fields[4].isdigit():
            return f"process {fields[4]}{_command(int(fields[4]))}"
    return None


def _command(process: int) -> str:
    try:
        name = Path(f"/proc/{process}/comm").read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
    return f" ({name})"
