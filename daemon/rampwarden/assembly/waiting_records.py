"""Which records of a folder still wait to be entered for their crucible: told by their headers alone."""

from collections.abc import Iterator
from pathlib import Path

from rampwarden.errors import RecordError
from rampwarden.records import header_of, writer_of
from rampwarden.settings import Settings


def waiting_to_be_entered(settings: Settings, entered: frozenset[str]) -> Iterator[Path]:
    """Give the records of the folder that carry a mark, are no rehearsal, are finished with, and are not entered."""
    folder = settings.watch.records
    for path in sorted([*folder.glob("*.jsonl"), *folder.glob("*.jsonl.gz")]):
        try:
            header = header_of(path)
        except RecordError:
            continue
        if header.crucible and not header.rehearsal and header.id not in entered and writer_of(path) is None:
            yield path
