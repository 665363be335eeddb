"""What is done beside a running watch: in a thread of its own, and nobody waits for it."""

import threading
from collections.abc import Callable


class Errand:
    """Runs `work` at once in a thread called `name`; it is handed the event by which it is told to end.

    A disk or a server that hangs may not hold up the end of a watch: `close` waits `patience_s` at most, and what is
    left then is a thread that the process takes with it.
    """

    def __init__(self, name: str, work: Callable[[threading.Event], None], patience_s: float) -> None:
        self._stop = threading.Event()
        self._patience_s = patience_s
        self._thread = threading.Thread(target=work, args=(self._stop,), name=name, daemon=True)
        self._thread.start()

    @property
    def is_done(self) -> bool:
        """Whether the work has come to its end."""
        return not self._thread.is_alive()

    def close(self) -> None:
        """Let it end."""
        self._stop.set()
        self._thread.join(self._patience_s)
