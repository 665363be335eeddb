"""The signals that end a watch or a replay."""

import signal
import threading
from types import FrameType


def stop_on_signals() -> threading.Event:
    """Give what is set once somebody wants the watch to end."""
    stop = threading.Event()

    def end(number: int, _frame: FrameType | None) -> None:
        stop.set()
        # Whoever asks a second time means at once.
        signal.signal(number, signal.SIG_DFL)

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, end)
    if signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        # Started without nohup: whoever closes the terminal ends the watch, and its record is closed as well.
        signal.signal(signal.SIGHUP, end)
    # A watch put in the background must not be halted for listening to the keyboard.
    signal.signal(signal.SIGTTIN, signal.SIG_IGN)
    return stop
