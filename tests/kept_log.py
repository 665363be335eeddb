"""What is logged, kept for a test to look at."""

from collections.abc import Iterator
from contextlib import contextmanager

from rampwarden.log import Entry, send_to


@contextmanager
def kept_log() -> Iterator[list[Entry]]:
    """Keep every entry that is logged meanwhile."""
    entries: list[Entry] = []
    before = send_to(entries.append)
    try:
        yield entries
    finally:
        send_to(before)
