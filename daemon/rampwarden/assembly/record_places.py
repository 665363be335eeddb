"""Where a heat's record goes when its folder will not have it: a provisional place, and in the last resort memory.

The watch starts all the same. It says where the record is and that it must be saved; when the heat is over, it is
brought home if that can be done by then.
"""

import contextlib
import os
import shutil
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from rampwarden.control import make_folder
from rampwarden.errors import ControlError, RecordError
from rampwarden.outputs.outbox import hand_cursor_over
from rampwarden.records import Header, Line, RecordWriter, numbered, sync_folder, unused_name

_FOLDER = "records"
# A file system in memory that every Linux has, open to all; ours in it is not.
_SHARED_MEMORY = Path("/dev/shm")


@dataclass(frozen=True, slots=True)
class Placed:
    """A record to be written. `trouble` says what is wrong with its place, empty when it is where it should be."""

    writer: RecordWriter
    trouble: str = ""


def provisional_folders(environment: Mapping[str, str]) -> Iterator[Path]:
    """Give the folders to fall back on, best first: that of the control socket, then one in memory. Raises nothing."""
    with contextlib.suppress(ControlError):
        yield make_folder(environment) / _FOLDER
    folder = _SHARED_MEMORY / f"rampwarden-{os.getuid()}"
    with contextlib.suppress(OSError):
        folder.mkdir(mode=0o700, exist_ok=True)
        status = folder.lstat()
        if status.st_uid == os.getuid() and not status.st_mode & 0o077:
            yield folder / _FOLDER


def new_record(path: Path, header: Header, environment: Mapping[str, str]) -> Placed:
    """Make a heat's record at `path`, or where that cannot be, in another place.

    Raises `RecordError` only for what a person must mend before a heat: a record that is there already, or a schedule
    too long for a header.
    """
    try:
        writer = RecordWriter.create(path, header)
        if not writer.trouble:
            return Placed(writer)
        # Not even the header went in: a disk without room. What waits in memory for some would be lost with a kill.
        why = writer.trouble
        writer.close()
        path.unlink(missing_ok=True)
    except RecordError as error:
        if not isinstance(error.__cause__, OSError):
            raise
        why = str(error)
    for folder in provisional_folders(environment):
        with contextlib.suppress(RecordError):
            writer = RecordWriter.create(unused_name(folder, path.stem), header)
            return Placed(writer, f"{why}; {provisional_words(writer.path)}")
    return in_memory(header, why)


def in_memory(header: Header, why: str, lines: Iterable[Line] = ()) -> Placed:
    """Give a record that is no file anywhere and begins with `lines`: it is lost with the process."""
    with os.fdopen(os.memfd_create("heat-record"), "wb", closefd=False) as file:
        count = 0
        for line in numbered(header, lines):
            file.write(line)
            count += 1
        descriptor = file.fileno()
    writer = RecordWriter.resume(Path(f"/proc/self/fd/{descriptor}"), count)
    return Placed(writer, f"{why}; the record is kept in memory alone and is lost when the watch ends")


def provisional_words(path: Path) -> str:
    """Say where a record is for the time being."""
    return f"the record is kept in {path} for now: save it before this computer is switched off"


def bring_home(path: Path, folder: Path, device: str = "") -> tuple[Path, str]:
    """Bring a closed record from its provisional place into `folder`; gives where it is, and in words what came of it.

    What of it the broker has not got yet goes out from there, under the same keys, where a `device` sends to one. A
    record in memory alone has no name to bring home.
    """
    home = unused_name(folder, path.stem if path.suffix else "heat")
    partial = home.with_suffix(".partial")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        # With its dates: by them the newest record is known.
        shutil.copy2(path, partial)
        with partial.open("rb") as file:
            os.fsync(file.fileno())
        partial.rename(home)
        sync_folder(folder)
    except OSError as error:
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)
        return path, f"the record is not where it belongs ({folder}: {error.strerror}); save it: cp {path} SOMEWHERE"
    with contextlib.suppress(OSError):
        path.unlink()
    told = f"the record has been brought to {home}"
    trouble = hand_cursor_over(path, home, device) if device else ""
    return home, f"{told}; {trouble}" if trouble else told
