"""What a watch says of itself while it runs: a sentence with its fields, handed to whoever was set up to take it.

Knows neither terminals nor journals: see `log_setup`. A logging library did this before, and had with what it brought
along an eighth of the watch's memory.
"""

import sys
import traceback
from collections.abc import Callable
from typing import Final

Entry = dict[str, object]
"""Fields as given, with `event` (the sentence), `level`, and `exception` where a fault is told with its traceback."""

Taker = Callable[[Entry], object]


class Log:
    """Tells sentences. Until `send_to` names a taker they go nowhere: who sets up no log wants none."""

    def __init__(self) -> None:
        self.taker: Taker | None = None

    def info(self, event: str, **fields: object) -> None:
        """Tell what goes its way."""
        self._tell("info", event, fields)

    def warning(self, event: str, **fields: object) -> None:
        """Tell what somebody should see."""
        self._tell("warning", event, fields)

    def error(self, event: str, *, exc_info: bool = False, **fields: object) -> None:
        """Tell a fault; `exc_info` adds the traceback of what is being handled."""
        if exc_info and sys.exc_info()[0] is not None:
            fields["exception"] = traceback.format_exc().rstrip("\n")
        self._tell("error", event, fields)

    def _tell(self, level: str, event: str, fields: Entry) -> None:
        if self.taker is not None:
            self.taker({**fields, "event": event, "level": level})


_LOG: Final = Log()


def get_log() -> Log:
    """Give the one log of this process."""
    return _LOG


def send_to(taker: Taker | None) -> Taker | None:
    """Have `taker` take every entry from now on, None nobody; gives who took them before."""
    before, _LOG.taker = _LOG.taker, taker
    return before
