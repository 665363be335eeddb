"""What a shop's register last said of each pot that this furnace has heated, in a small file beside its records.

A watch that cannot reach the register begins by that: a maker's top that was known yesterday is better than none today,
and it is said from when it is. What may have changed since, whether the pot is dry above all, is not kept. Nothing here
may stop a watch; a copy that cannot be read or written is no copy.
"""

import contextlib
from datetime import date
from pathlib import Path

import msgspec
from msgspec import Struct

from rampwarden.records import Crucible, sync_folder

_NAME = "known-pots.json"


class PotCopy(Struct, frozen=True):
    """A pot as the register had it on a day (ISO 8601)."""

    day: str
    crucible: Crucible


def keep_copy(records: Path, crucible: Crucible, today: date) -> None:
    """Keep what the register has just said."""
    path = records.parent / _NAME
    copies = _copies(path)
    copy = PotCopy(today.isoformat(), crucible)
    if copies.get(crucible.mark.casefold()) == copy:
        return
    copies[crucible.mark.casefold()] = copy
    with contextlib.suppress(OSError):
        beside = path.with_suffix(".new")
        beside.write_bytes(msgspec.json.encode(copies))
        beside.replace(path)
        sync_folder(path.parent)


def copy_of(records: Path, mark: str) -> PotCopy | None:
    """Give what was kept of a pot, None if nothing was."""
    return _copies(records.parent / _NAME).get(mark.casefold())


def _copies(path: Path) -> dict[str, PotCopy]:
    with contextlib.suppress(OSError, ValueError, RecursionError, msgspec.MsgspecError):
        return msgspec.json.decode(path.read_bytes(), type=dict[str, PotCopy])
    return {}
