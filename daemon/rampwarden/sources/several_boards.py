"""Several probes, on one board or on several: one source that gives the followed probe's readings and the others'.

Each board keeps its own thread, port and patience, so one that never comes or dies costs its own probes and nothing
else. They all put into one queue. Policy: the followed probe's board is the one that says how time passes, since its
thread is always there to say it; of the others only readings and notices are taken, the notices with the board's name.
"""

from collections.abc import Mapping

from msgspec.structs import replace

from rampwarden.clock import Clock
from rampwarden.core.model import ClockMark, Notice, ProbeReading, Reading
from rampwarden.sources.board import Board, BoardSettings
from rampwarden.sources.input_queue import BoardInput, InputQueue


class SeveralBoards(Board):
    """The board of the followed probe, with whatever else is read beside it.

    `probes` gives the names of other probes by their channel on the followed probe's board, `further` each further
    board by its name, with the names of its probes by channel.
    """

    def __init__(
        self,
        settings: BoardSettings,
        clock: Clock,
        probes: Mapping[int, str],
        further: Mapping[str, tuple[BoardSettings, Mapping[int, str]]],
    ) -> None:
        shared = InputQueue()
        super().__init__(settings, clock, _Naming(shared, "", settings.channel, probes))
        self._shared = shared
        self._further = [
            Board(each, clock, _Naming(shared, name, None, channels)) for name, (each, channels) in further.items()
        ]

    def start(self) -> None:
        """Start reading every board; a port that is not there yet is waited for."""
        super().start()
        for board in self._further:
            board.start()

    def next(self, timeout_s: float) -> BoardInput | None:
        """Give the next input of any board; None if none came within `timeout_s` real seconds."""
        return self._shared.take(timeout_s)

    def stop(self) -> None:
        """Close every port and end the threads. What was read before can still be taken by `next`."""
        self._shared.close()
        # All of them first: a port that hangs is waited for, and the others need not wait for that.
        for board in self._further:
            board.let_end()
        super().stop()
        for board in self._further:
            board.stop()

    def reopen(self) -> None:
        """Close every port and open it anew; returns at once, from any thread."""
        super().reopen()
        for board in self._further:
            board.reopen()

    @property
    def alive(self) -> bool:
        """Whether every board's thread runs."""
        return super().alive and all(board.alive for board in self._further)


class _Naming(InputQueue):
    """What one board puts goes into the shared queue, with names in place of its channels."""

    def __init__(self, shared: InputQueue, board: str, followed: int | None, probes: Mapping[int, str]) -> None:
        super().__init__()
        self._shared = shared
        self._board = board
        self._followed = followed
        self._probes = dict(probes)

    @property
    def has_room(self) -> bool:
        """Whether a put would neither wait nor drop."""
        return self._shared.has_room

    def put(self, item: BoardInput) -> None:
        """Name what a board has given and put it, or leave out what says nothing."""
        if isinstance(item, Reading) and item.channel != self._followed:
            probe = self._probes.get(item.channel)
            if probe is None:
                return
            item = ProbeReading(item.time_s, probe, item.emf_uv, item.junction_c, item.temp_c, item.faults)
        elif self._board and isinstance(item, ClockMark):
            return
        elif self._board and isinstance(item, Notice):
            item = replace(item, board=self._board)
        self._shared.put(item)
        self.dropped = 0 if self._board else self._shared.dropped
