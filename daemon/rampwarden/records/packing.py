"""Packs the records of heats long finished: as gzip a record takes a tenth of its room, and reads the same.

Only a record that was closed, that nobody writes and that no broker still waits for is packed; every reader takes both.
Policy: a heat cannot be repeated, so its record is deleted only once the packed one is on the disk and has been read
back to the same bytes. Whatever goes wrong leaves the record as it is. Made for a thread of its own: `stop` is asked
again and again.
"""

import contextlib
import gzip
import os
import zlib
from collections.abc import Callable, Collection
from pathlib import Path
from typing import BinaryIO, NamedTuple

from rampwarden.errors import UNREADABLE_JSON, RecordError
from rampwarden.records.locks import writer_of
from rampwarden.records.record_identity import header_of
from rampwarden.records.record_lines import LONGEST_LINE, End, Header, decoder
from rampwarden.records.record_reader import packed_path
from rampwarden.records.recovery import written_s
from rampwarden.records.writing import sync_folder

_PIECE = 1 << 18
_LEVEL = 6


class Packed(NamedTuple):
    """How many records were packed, the bytes they had and have, and what stood in the way, if anything did."""

    records: int = 0
    before: int = 0
    after: int = 0
    trouble: str = ""


class _Content(NamedTuple):
    size: int
    checksum: int


class _StoppedError(Exception):
    """Somebody wants the thread to end."""


def pack_finished(folder: Path, before_s: float, owed: Collection[str], stop: Callable[[], bool]) -> Packed:
    """Pack the finished records of `folder` last written to before `before_s` (wall clock, s).

    Files named in `owed` stay, and the newest record of each port: by that a watch sees that the last heat there was
    closed. Raises nothing; ends with the first trouble, which the next record would meet too.
    """
    ports: set[object] = set()
    count = before = after = 0
    for path in sorted(folder.glob("*.jsonl"), key=written_s, reverse=True):
        if stop():
            break
        try:
            header = header_of(path)
            port = header.board.get("port")
            is_newest = port not in ports
            ports.add(port)
            if is_newest or path.name in owed or path.stat().st_mtime >= before_s or not _is_finished(path, header):
                continue
            size = path.stat().st_size
            _pack(path, stop)
            after += packed_path(path).stat().st_size
        except _StoppedError:
            break
        except RecordError:
            continue
        except OSError as error:
            return Packed(count, before, after, f"{path}: cannot be packed: {error.strerror or error}")
        count, before = count + 1, before + size
    return Packed(count, before, after)


def _is_finished(path: Path, header: Header) -> bool:
    """Tell whether a record was closed, carries its own id (else it is known by its bytes), and has no writer."""
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - LONGEST_LINE))
        *_, last = file.read().splitlines(keepends=True) or [b""]
    try:
        is_closed = last.endswith(b"\n") and isinstance(decoder.decode(last), End)
        return is_closed and bool(header.id) and writer_of(path) is None
    except UNREADABLE_JSON:
        return False


def _pack(path: Path, stop: Callable[[], bool]) -> None:
    """Put the packed record in the place of the plain one; raises `OSError`, and then the plain one is as it was."""
    packed, part = packed_path(path), path.with_name(f".{path.name}.gz.part")
    status = path.stat()
    try:
        with path.open("rb") as plain:
            content = _write_packed(plain, part, stop)
        with gzip.open(part) as again:
            _see_that(_content(again, stop) == content, "reads back otherwise than it was written")
        if packed.exists():
            # Somebody was interrupted just before the plain record was deleted, or put another there.
            with gzip.open(packed) as other:
                _see_that(_content(other, stop) == content, f"{packed.name} is another's")
        part.chmod(status.st_mode & 0o7777)
        # Earlier heats are looked for by when they were written last.
        os.utime(part, ns=(status.st_atime_ns, status.st_mtime_ns))
        now = path.stat()
        _see_that((now.st_size, now.st_mtime_ns) == (status.st_size, status.st_mtime_ns), "was written to meanwhile")
        part.replace(packed)
    except (EOFError, zlib.error) as error:
        raise OSError(str(error)) from error
    finally:
        part.unlink(missing_ok=True)
    sync_folder(path.parent)
    path.unlink()
    sync_folder(path.parent)


def _write_packed(plain: BinaryIO, part: Path, stop: Callable[[], bool]) -> _Content:
    """Write the packed bytes and have them on the disk; gives what they are packed from."""
    with part.open("wb") as raw:
        # Without name and time: the same record packs to the same bytes.
        with gzip.GzipFile(filename="", mode="wb", compresslevel=_LEVEL, fileobj=raw, mtime=0) as into:
            content = _content(plain, stop, into.write)
        raw.flush()
        os.fsync(raw.fileno())
        with contextlib.suppress(OSError):
            os.fchown(raw.fileno(), os.fstat(plain.fileno()).st_uid, os.fstat(plain.fileno()).st_gid)
    return content


def _content(
    file: BinaryIO | gzip.GzipFile, stop: Callable[[], bool], write: Callable[[bytes], object] = len
) -> _Content:
    """Read a file to its end, and pass each piece on."""
    size = checksum = 0
    while piece := file.read(_PIECE):
        if stop():
            raise _StoppedError
        write(piece)
        size, checksum = size + len(piece), zlib.crc32(piece, checksum)
    return _Content(size, checksum)


def _see_that(condition: bool, otherwise: str) -> None:
    if not condition:
        raise OSError(otherwise)
