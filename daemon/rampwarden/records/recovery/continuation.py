"""A new record for a heat whose old one cannot be continued: what is legible of that, under a header of its own.

It is written elsewhere and renamed, so that nobody ever finds half of it, and the old record is never touched. Replayed
it gives the state the watch goes on with.
"""

import contextlib
import itertools
import os
import secrets
from collections.abc import Iterable
from pathlib import Path

from msgspec.structs import replace

from rampwarden.errors import RecordError
from rampwarden.records.record_lines import LONGEST_HEADER, Header, Line, encode_line, numbered
from rampwarden.records.writing import sync_folder

_SUFFIX = "-continued"


def begin_anew(old: Path, header: Header, lines: Iterable[Line], count: int, folder: Path) -> tuple[Path, Header]:
    """Write what is left of `old`, `count` `lines` below `header`, as a new record in `folder`, numbered anew.

    Gives its path and its header. Raises `RecordError` when it cannot be written.
    """
    shown = os.fsencode(old.name).decode(errors="replace")
    path = unused_name(folder, f"{old.stem.partition(_SUFFIX)[0]}{_SUFFIX}")
    partial = path.with_suffix(".partial")
    fresh = replace(header, id=secrets.token_hex(8), continues=shown, continued_id=header.id, carried=count)
    if len(encode_line(fresh, 0)) > LONGEST_HEADER:
        raise RecordError(f"{path}: the header is too long")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with partial.open("wb") as file:
            file.writelines(numbered(fresh, lines))
            file.flush()
            os.fsync(file.fileno())
        partial.chmod(0o640)
        partial.rename(path)
        sync_folder(folder)
    except OSError as error:
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)
        raise RecordError(f"{path}: cannot make the heat record: {error.strerror}") from error
    return path, fresh


def unused_name(folder: Path, stem: str) -> Path:
    """Give a record's path in `folder` that is not taken: a clock that was not set gives the same name twice."""
    for number in itertools.count(1):
        path = folder / (f"{stem}.jsonl" if number == 1 else f"{stem}-{number}.jsonl")
        if not os.path.lexists(path):
            return path
    raise AssertionError  # pragma: no cover
