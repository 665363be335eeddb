"""What a run has told and what its disk has not taken yet: a note in the machine's memory, for the run after it.

A watch killed while its disk hangs takes lines with it that nobody can bring back; but it can leave word of how many
there were and from when to when. And what it has told of late is known again when the next run makes it again, even if
somebody has damaged the record meanwhile. The note is kept where a kill does not reach and no disk can hold it up: in a
folder of a memory file system, or not at all. A power cut takes it too.
"""

import contextlib
import os
from pathlib import Path

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from rampwarden.core.quantities import format_duration
from rampwarden.errors import UNREADABLE_JSON
from rampwarden.records.writing.told_before import ToldEvent

_MOUNTS = Path("/proc/self/mounts")
_IN_MEMORY = ("tmpfs", "ramfs")
_LONGEST = 4096
# Of so many events it is known that they were told; a hang with more of them has other worries.
_MOST_EVENTS = 250
# Of so many, the newest, it is known what they said: those are the ones that may be made again.
MOST_TOLD = 30


class Lag(Struct, frozen=True):
    """The newest line that a run had put, of which second of the heat, and which events the disk had not got.

    All of that is 0 or empty where the disk has everything. `told` is what was told of late in any case.
    """

    last: int = 0
    last_s: float = 0.0
    events: list[int] = []
    told: list[ToldEvent] = []

    def words(self, recorded: int, recorded_s: float) -> str:
        """Say what of it is not in a record whose last line is number `recorded`, of second `recorded_s`."""
        lost = self.last - recorded
        if lost <= 0:
            return ""
        events = sum(number > recorded for number in self.events)
        told = f", {events} of them events that had been told" if events else ""
        times = f"from {format_duration(recorded_s)} to {format_duration(self.last_s)} of the heat"
        return f"its disk had not taken the last {lost} lines, {times}{told}: they are lost"


class RunNote:
    """The note of one heat's runs. Nothing here raises for the state of the system."""

    def __init__(self, folder: Path, record_id: str) -> None:
        """Open it; `left` is what the run before has left."""
        self.left: Lag | None = None
        self._path = folder / f"{record_id}.lag"
        self._descriptor = -1
        if not record_id.isalnum() or not _is_in_memory(folder):
            return
        with contextlib.suppress(OSError):
            self._descriptor = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600)
            with contextlib.suppress(*UNREADABLE_JSON):
                self.left = msgspec.json.decode(os.pread(self._descriptor, _LONGEST, 0), type=Lag)

    def write(self, lag: Lag) -> None:
        """Note how far a run is ahead of its disk, and what it has told."""
        if self._descriptor >= 0:
            bounded = replace(lag, events=lag.events[:_MOST_EVENTS], told=lag.told[-MOST_TOLD:])
            with contextlib.suppress(OSError):
                os.pwrite(self._descriptor, msgspec.json.encode(bounded).ljust(_LONGEST), 0)

    def close(self, *, keep: bool) -> None:
        """Let go of it; `keep` it where the next run has something to learn from it."""
        if self._descriptor >= 0:
            with contextlib.suppress(OSError):
                os.close(self._descriptor)
                if not keep:
                    self._path.unlink(missing_ok=True)
            self._descriptor = -1


def _is_in_memory(folder: Path) -> bool:
    """Tell whether a folder is in memory: what is not may hang just as the record's disk does."""
    try:
        mounts = [line.split(" ") for line in _MOUNTS.read_text(encoding="utf-8", errors="replace").splitlines()]
        place = folder.resolve()
    except OSError:
        return False
    # The last line that holds the folder lies uppermost among those as deep.
    holding = [(len(Path(at).parts), kind) for _, at, kind, *_ in mounts if place.is_relative_to(at)]
    deepest = max((depth for depth, _ in holding), default=0)
    kinds = [kind for depth, kind in holding if depth == deepest]
    return bool(kinds) and kinds[-1] in _IN_MEMORY
