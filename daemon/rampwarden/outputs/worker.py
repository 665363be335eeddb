"""A worker thread that is started again when what it does dies of an error of ours, and says so.

An output that is silently dead is worse than none, since people rely on it. What the worker does keeps its state
outside, so that the next life goes on where the last one ended. Knows no output in particular.
"""

import threading
from collections.abc import Callable

from rampwarden.core.model import Notice, NoticeName
from rampwarden.plain_logs import structlog

_FIRST_PAUSE_S = 0.1
_LONGEST_PAUSE_S = 10.0


def tell_nobody(_notice: Notice) -> None:
    """Stand in for a watch, where there is none."""


class Worker:
    """Does `work` in a thread of its own until it returns; after an error again, with a pause that doubles.

    `name` is what people call the output, `hear` takes the notice of a death; it must return at once.
    """

    def __init__(self, name: str, work: Callable[[], None], hear: Callable[[Notice], None] = tell_nobody) -> None:
        self._name = name
        self._work = work
        self._hear = hear
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._live, name=name, daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def end(self, within_s: float) -> None:
        """Begin no new life, and wait so long for the present one: it must know by itself that it is to end."""
        self._closing.set()
        if self._thread.is_alive():
            self._thread.join(within_s)

    def _live(self) -> None:
        pause_s = _FIRST_PAUSE_S
        while not self._closing.is_set():
            try:
                self._work()
                return
            except Exception as error:  # outermost of its thread: an error of ours in one output must not end it
                what = f"the {self._name} had died ({type(error).__name__}: {error}); it is started again"
                structlog.get_logger().error(what)
                self._hear(Notice(0.0, NoticeName.OUTPUT_FAILING, text=what))
            self._closing.wait(pause_s)
            pause_s = min(2.0 * pause_s, _LONGEST_PAUSE_S)
