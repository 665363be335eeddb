"""A rehearsal as a source: the serial reader on the one end of a pseudo-terminal, the model furnace on the other."""

from rampwarden.core.model import Notice, NoticeName
from rampwarden.errors import PortError
from rampwarden.sources.board import Board
from rampwarden.sources.input_queue import BoardInput
from rampwarden.sources.rehearsal_board import RehearsalBoard

# The pseudo-terminal is this process's own: it opens at once or never.
_OPENING_TRIES = 50
_OPENING_WAIT_S = 0.2


class Rehearsal:
    """Starts reader and furnace in the order that loses nothing, and is otherwise the reader."""

    def __init__(self, board: Board, furnace: RehearsalBoard) -> None:
        self._board = board
        self._furnace = furnace

    def start(self) -> None:
        """Open the port, and light the furnace only then: what it sends to a closed port is lost."""
        self._board.start()
        for _ in range(_OPENING_TRIES):
            item = self._board.next(_OPENING_WAIT_S)
            if isinstance(item, Notice) and item.notice is NoticeName.PORT_OPENED:
                self._furnace.start()
                return
        raise PortError("the rehearsal's pseudo-terminal did not open")

    def next(self, timeout_s: float) -> BoardInput | None:
        """Give the reader's next input."""
        return self._board.next(timeout_s)

    def stop(self) -> None:
        """End the reader, then the furnace."""
        self._board.stop()
        self._furnace.stop()
