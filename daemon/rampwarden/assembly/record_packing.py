"""Has finished records packed while the watch already runs: in a thread of its own, and nobody waits for it.

A record that a broker has not got all of stays as it is, for the outbox reads it where it left off.
"""

import threading
import time
from collections.abc import Callable
from pathlib import Path

from rampwarden.assembly.errand import Errand
from rampwarden.core.quantities import counted
from rampwarden.outputs.outbox import files_owed
from rampwarden.plain_logs import structlog
from rampwarden.records import pack_finished

# A disk that hangs may not hold up the end of a watch; what is left then is a part that the next one writes anew.
_PATIENCE_S = 2.0


class RecordPacker(Errand):
    """Packs what in `folder` was finished longer than `after_s` ago, by the wall clock."""

    def __init__(self, folder: Path, after_s: float, now_s: Callable[[], float] = time.time) -> None:
        self._folder, self._after_s, self._now_s = folder, after_s, now_s
        super().__init__("record packing", self._run, _PATIENCE_S)

    def _run(self, stop: threading.Event) -> None:
        log = structlog.get_logger()
        owed = files_owed(self._folder)
        if owed is None:
            log.info("records are not packed: what a broker has not got of them cannot be told")
            return
        packed = pack_finished(self._folder, self._now_s() - self._after_s, owed, stop.is_set)
        if packed.records:
            before, after = (f"{size / 1e6:.1f} MB" for size in (packed.before, packed.after))
            log.info(
                f"packed {counted(packed.records, 'a finished record', 'finished records')}: {before} are {after} now"
            )
        if packed.trouble:
            log.warning(packed.trouble)
