"""Learns how earlier heats went while the watch already runs: in a thread of its own, and nobody waits for it.

What it finds goes to the watch like any other input, and so into the record: a replay knows what the watch knew.
"""

import threading
from collections.abc import Callable, Collection
from pathlib import Path

from rampwarden.assembly.errand import Errand
from rampwarden.core.model import EarlierHeat
from rampwarden.core.quantities import counted
from rampwarden.plain_logs import structlog
from rampwarden.records import Header, learn_earlier_heats

# A folder on a disk that hangs may not hold up the end of a watch; what is left then is a thread that only reads.
_PATIENCE_S = 2.0


class EarlierHeatsLearner(Errand):
    """Looks through `folder` for heats of the same furnace and pot as `header`'s and tells them by `hear`."""

    def __init__(
        self, folder: Path, header: Header, known: Collection[str], hear: Callable[[EarlierHeat], None]
    ) -> None:
        self._folder, self._header, self._known, self._hear = folder, header, known, hear
        super().__init__("earlier heats", self._run, _PATIENCE_S)

    def _run(self, stop: threading.Event) -> None:
        log = structlog.get_logger()
        try:
            heats, unreadable = learn_earlier_heats(self._folder, self._header, self._known, stop.is_set)
        except OSError as error:
            log.info(f"time to go: earlier heats cannot be read: {error.strerror}")
            return
        for heat in heats:
            if stop.is_set():
                return
            self._hear(heat)
        if not heats and not unreadable:
            return
        of = counted(len(heats), "an earlier heat", "earlier heats") if heats else "no earlier heat"
        records = counted(unreadable, "a record", "records")
        beside = f"; {records} could not be read" if unreadable else ""
        log.info(f"time to go: learnt from {of} of this furnace and pot{beside}")
