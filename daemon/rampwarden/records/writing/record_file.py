"""The open file of one heat record: appended to, synced, and looked after, because others may do things to it.

A record is held by an open handle, which outlives its name. So a record that was deleted, moved or replaced is put back
whole: copied from the handle to its place, never over what stands there. One that was cut short cannot be: what is gone
is gone. Everything here may block for as long as the disk does, and raises `OSError`: it is the writer's thread alone
that calls it.
"""

import contextlib
import fcntl
import os
from collections.abc import Iterable, Iterator
from enum import StrEnum
from pathlib import Path
from typing import Self

from rampwarden.errors import RecordError
from rampwarden.records.locks import lock_holder

_PIECE = 1 << 20
_MOST_ASIDE = 1000


class Meddling(StrEnum):
    """What others have done to a record while it was being written, in words that follow its name."""

    DELETED = "was deleted"
    MOVED = "was moved away"
    REPLACED = "was replaced by another file"
    CUT = "was cut short"


class RecordFile:
    """An open record, locked for this process. `size` is how many bytes it must have at least."""

    def __init__(self, path: Path, descriptor: int) -> None:
        """Take over an open record; `create` and `resume` are the ways in."""
        self.path = path
        self.size = os.fstat(descriptor).st_size
        self._descriptor = descriptor

    @classmethod
    def create(cls, path: Path) -> Self:
        """Make the file and its folder; raises `RecordError` when that cannot be, or there is such a file already."""
        return cls(path, _hold(path, _create(path)))

    @classmethod
    def resume(cls, path: Path) -> Self:
        """Open an unfinished record; raises `RecordError` when it cannot be opened or another watch holds it."""
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CLOEXEC)
        except OSError as error:
            raise RecordError(f"{path}: cannot go on in the heat record: {error.strerror}") from error
        return cls(path, _hold(path, descriptor))

    @property
    def ends_whole(self) -> bool:
        """Whether the last line is whole, newline and all."""
        size = os.fstat(self._descriptor).st_size
        return size == 0 or os.pread(self._descriptor, 1, size - 1) == b"\n"

    def append(self, block: bytes) -> int:
        """Write behind the end; gives how many bytes were taken."""
        written = os.write(self._descriptor, block)
        self.size += written
        return written

    def sync(self) -> None:
        """Bring every byte onto the disk."""
        os.fdatasync(self._descriptor)

    def sync_name(self) -> None:
        """Make the file's name durable too."""
        sync_folder(self.path.parent)

    def meddled(self) -> Meddling | None:
        """Tell what has been done to the record by others since it was written last, if anything."""
        held = os.fstat(self._descriptor)
        if held.st_size < self.size:
            return Meddling.CUT
        # Somebody may have written a line of their own into it: that takes nothing away.
        self.size = held.st_size
        try:
            named = self.path.stat()
        except (FileNotFoundError, NotADirectoryError):
            return Meddling.MOVED if held.st_nlink else Meddling.DELETED
        if (named.st_dev, named.st_ino) == (held.st_dev, held.st_ino):
            return None
        return Meddling.REPLACED

    def held(self) -> Iterator[bytes]:
        """Give what the open handle holds, in pieces, whatever has become of its name."""
        offset = 0
        while piece := os.pread(self._descriptor, _PIECE, offset):
            offset += len(piece)
            yield piece

    def put_back(self, content: Iterable[bytes]) -> str:
        """Write the record anew in its place, and go on there; gives the new name of what stood in it.

        The copy is on the disk before it has the name. Raises `OSError` with everything left as it was.
        """
        self.path.parent.mkdir(parents=True, exist_ok=True)
        temporary = self.path.with_name(f".{self.path.name}.{os.getpid()}")
        descriptor = os.open(temporary, os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND | os.O_CLOEXEC, 0o640)
        try:
            size = _write_all(descriptor, content)
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            os.fdatasync(descriptor)
            aside = _put_aside(self.path)
            temporary.rename(self.path)
        except OSError:
            os.close(descriptor)
            temporary.unlink(missing_ok=True)
            raise
        self.close()
        self._descriptor, self.size = descriptor, size
        self.sync_name()
        return aside

    def close(self) -> None:
        """Let go of the file and its lock."""
        with contextlib.suppress(OSError):
            os.close(self._descriptor)


def _write_all(descriptor: int, content: Iterable[bytes]) -> int:
    size = 0
    for piece in content:
        size += len(piece)
        rest = memoryview(piece)
        while rest:
            rest = rest[os.write(descriptor, rest) :]
    return size


def _put_aside(path: Path) -> str:
    """Give what stands at `path` another name, and that name; nothing where nothing stands there."""
    for number in range(1, _MOST_ASIDE):
        aside = path.with_name(f"{path.name}.aside-{number}")
        if os.path.lexists(aside):
            continue
        try:
            path.rename(aside)
        except FileNotFoundError:
            return ""
        return aside.name
    raise FileExistsError(17, "too many files have been put aside", str(path))


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable; one that cannot be synced is no reason not to watch."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _create(path: Path) -> int:
    """Make the file and its folder; gives the open descriptor."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        # Where the folder's name belongs to a file, the system says no more than that it exists.
        reason = "is a file, not a folder" if path.parent.is_file() else error.strerror
        raise RecordError(f"{path}: cannot make the heat record: {path.parent}: {reason}") from error
    try:
        # To be read as well: from this handle it is copied, should its name be taken from it.
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND | os.O_CLOEXEC, 0o640)
    except FileExistsError:
        raise RecordError(f"{path}: is there already; a record is never overwritten, choose another name") from None
    except OSError as error:
        raise RecordError(f"{path}: cannot make the heat record: {error.strerror}") from error


def _hold(path: Path, descriptor: int) -> int:
    """Lock the record for this process; raises `RecordError` naming the one that has it."""
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        holder = lock_holder(os.fstat(descriptor))
        os.close(descriptor)
        raise RecordError(f"{path}: is being written by {holder}; stop that watch first") from None
    return descriptor
