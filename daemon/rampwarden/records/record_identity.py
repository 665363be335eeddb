"""Which heat a record is of: its first line, and what the heat is known by."""

import hashlib
from pathlib import Path

from rampwarden.errors import RecordError
from rampwarden.records.record_lines import Header
from rampwarden.records.record_reader import RecordReader


def header_of(path: Path) -> Header:
    """Give a record's header alone; raises `RecordError` when this is no heat record."""
    with RecordReader(path) as reader:
        return reader.header


def record_id(path: Path, header: Header) -> str:
    """Give what a heat is known by: the record's own id, or a digest of its file where it has none."""
    return header.id or _digest(path)


def _digest(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return f"file-{hashlib.file_digest(file, 'sha256').hexdigest()[:16]}"
    except OSError as error:
        raise RecordError(f"{path}: cannot read: {error.strerror}") from error
