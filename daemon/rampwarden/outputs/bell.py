"""The terminal bell: rings by priority, again until acknowledged, faster as time passes.

Policy: there is no queue that could overflow. The bell keeps which alarms are unacknowledged; its worker looks there
whenever something changes or a ring is due. Every ring is that of the most urgent alarm waiting, so that lesser ones
coming and going cannot put it off. A terminal that has stopped reading blocks the worker and nothing else.
"""

import contextlib
import os
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from rampwarden.core.model import AlarmState, Event, EventName, HeatStatus, Notice, Priority
from rampwarden.filed import Filed
from rampwarden.outputs.worker import Worker, tell_nobody

# Strokes of one ring. Three priorities must be told apart by ear, three is the most people count without trying.
STROKES = {Priority.HIGH: 3, Priority.MEDIUM: 2, Priority.LOW: 1}
_BETWEEN_STROKES_S = 0.35


@dataclass(frozen=True, slots=True)
class _Unacknowledged:
    priority: Priority
    since_s: float


def ring_again_after_s(priority: Priority, unacknowledged_s: float) -> float | None:
    """Give the pause until the next ring, seconds; None: this priority rings once.

    A high alarm comes every 30 s at first, every 15 s after two minutes, every 8 s after five: whoever has not come by
    then has not heard it.
    """
    if priority is Priority.LOW:
        return None
    if priority is Priority.MEDIUM:
        return 120.0
    if unacknowledged_s < 120:
        return 30.0
    return 15.0 if unacknowledged_s < 300 else 8.0


class Bell:
    """Rings on file descriptor `descriptor` once started; `clock` gives real seconds, for repeating."""

    def __init__(self, descriptor: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._descriptor = descriptor
        self._clock = clock
        self._unacknowledged: dict[str, _Unacknowledged] = {}
        self._to_ring: Priority | None = None
        self._lock = threading.Condition()
        self._closed = False
        self._resting = False
        self._next_ring_s: float | None = None
        self._worker: Worker | None = None

    def start(self, hear: Callable[[Notice], None] = tell_nobody) -> None:
        """Ring from now on, what it was told before too; `hear` is told should the worker die and start again."""
        self._worker = Worker("bell", self._work, hear)
        self._worker.start()

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        """Take note of an event; returns at once. A question is one stroke, once: it may wait.

        The checklist, which is asked before any segment, is read by whoever is about to light.
        """
        if event.event is EventName.ASKED and event.segment is not None:
            with self._lock:
                self._to_ring = self._to_ring or Priority.LOW
                self._lock.notify()
        if event.event is not EventName.ALARM or event.alarm is None or event.priority is None:
            return
        with self._lock:
            if event.state is AlarmState.UNACKNOWLEDGED:
                self._unacknowledged[event.alarm] = _Unacknowledged(event.priority, self._clock())
                self._to_ring = self._most_urgent()
            else:
                self._unacknowledged.pop(event.alarm, None)
            self._lock.notify()

    def show(self, status: HeatStatus) -> None:
        """A bell shows nothing."""

    def rest(self, resting: bool) -> None:
        """Rest, because somebody is reached otherwise, or take over: at once, for all that is unacknowledged."""
        with self._lock:
            if resting is not self._resting:
                self._resting = resting
                self._to_ring = None if resting else self._most_urgent()
                self._lock.notify()

    def close(self) -> None:
        """Stop ringing. A worker stuck on its terminal is left behind; it holds nothing."""
        with self._lock:
            self._closed = True
            self._lock.notify()
        if self._worker is not None:
            self._worker.end(within_s=1.0)

    def _work(self) -> None:
        with self._lock:
            # Of what a former life left unrung.
            self._to_ring = None if self._resting else self._most_urgent()
        while True:
            with self._lock:
                while (self._to_ring is None or self._resting) and not self._closed:
                    pause = None if self._next_ring_s is None or self._resting else self._next_ring_s - self._clock()
                    if pause is not None and pause <= 0:
                        self._to_ring = self._most_urgent(repeating_only=True)
                        self._next_ring_s = None
                    else:
                        self._lock.wait(pause)
                if self._closed:
                    return
                priority, self._to_ring = self._to_ring, None
            if priority is not None:
                self._ring(STROKES[priority])
            self._next_ring_s = self._next_due_s()

    def _most_urgent(self, *, repeating_only: bool = False) -> Priority | None:
        waiting = [alarm.priority for alarm in self._unacknowledged.values()]
        urgent = max(waiting, key=STROKES.__getitem__, default=None)
        return None if repeating_only and urgent is Priority.LOW else urgent

    def _next_due_s(self) -> float | None:
        now_s = self._clock()
        with self._lock:
            pauses = [
                pause
                for alarm in self._unacknowledged.values()
                if (pause := ring_again_after_s(alarm.priority, now_s - alarm.since_s)) is not None
            ]
        return now_s + min(pauses) if pauses else None

    def _ring(self, strokes: int) -> None:
        for stroke in range(strokes):
            if stroke:
                time.sleep(_BETWEEN_STROKES_S)
            # A terminal that is gone cannot ring; every other output still tells.
            with contextlib.suppress(OSError):
                os.write(self._descriptor, b"\a")
