"""A disk that hangs on request: a sync does not come back until it is let go. No test itself."""

import os
import threading

import pytest


class HangingDisk:
    """Stands in for the system's sync of a record. A hang begins with the next sync; nobody waits for it any more."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._answers = threading.Event()
        self._answers.set()
        self._hung = threading.Event()
        self._fdatasync = os.fdatasync
        monkeypatch.setattr(os, "fdatasync", self.fdatasync)

    def hang(self) -> None:
        """Answer no sync from now on."""
        self._hung.clear()
        self._answers.clear()

    def go_on(self) -> None:
        """Answer all of them."""
        self._answers.set()

    def wait_hung(self, within_s: float) -> bool:
        """Wait until a sync hangs; gives whether one does."""
        return self._hung.wait(within_s)

    def fdatasync(self, descriptor: int) -> None:
        """Sync as the system does, once the disk answers."""
        if not self._answers.is_set():
            self._hung.set()
            self._answers.wait()
        self._fdatasync(descriptor)
