"""The board, listened to while a record is replayed, which takes seconds after ten hours of a heat.

What comes meanwhile waits in the board's queue, dated when it came, and is recorded and judged like any other reading.
"""

import contextlib
from typing import Self

from rampwarden.assembly.probes import watched_board
from rampwarden.clock import HostClock
from rampwarden.errors import SettingsError
from rampwarden.settings import Settings
from rampwarden.sources import Board


class EarlyListening:
    """Listens to nothing yet; ends what it began when it is left."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._begun: tuple[float, Board, HostClock] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._begun is not None:
            self._begun[1].stop()

    def begin(self, now_s: float) -> None:
        """Listen from now on, which is so many seconds into the heat.

        Not to a board whose settings make no sense: that is said when the heat has been found, and costs no heat.
        """
        clock = HostClock(now_s)
        with contextlib.suppress(SettingsError):
            board = watched_board(self._settings, clock)
            self._begun = (now_s, board, clock)
            board.start()

    def from_time_s(self, already_s: float) -> tuple[Board, HostClock]:
        """Give board and clock of a heat that has been going on for so long: those listened to, if that is so."""
        if self._begun is not None:
            now_s, board, clock = self._begun
            if now_s == already_s:
                return board, clock
            board.stop()
        clock = HostClock(already_s)
        return watched_board(self._settings, clock), clock
